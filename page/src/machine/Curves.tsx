import type { JSX } from "preact";
import { useState } from "preact/hooks";
import type { AxisCard, MachineCard } from "../wire";

const W = 420;
const H = 230;
const EDGE = { left: 40, right: 44, top: 18, bottom: 44 };

/** What limits each axis, with its curve and what the last proved job asked of it. */
export function Curves({ card }: { card: MachineCard }): JSX.Element {
  return (
    <section aria-labelledby="limits-h">
      <h2 id="limits-h">What limits each axis</h2>
      <p class="lead">
        The torque that one motor can pull before it loses steps, over speed; on the right the push that it gives the
        carriage while the speed is held. The band holds it nineteen times in twenty. {card.demand_words ? `${card.demand_words[0]?.toUpperCase()}${card.demand_words.slice(1)}.` : "Prove a job, and what it asks is laid over it."}
        {card.swings_words ? ` ${card.swings_words}.` : ""}
      </p>
      <div class="limits">
        {card.axes.map((axis) => (
          <article key={axis.name} aria-label={`Axis ${axis.name}`}>
            <h3>
              {axis.name} <small>{axis.lead_words}</small>
            </h3>
            <Curve axis={axis} />
            <ul>
              {axis.limits.map((words) => {
                const [head, ...rest] = words.split(": ");
                return <li key={words}>{rest.length ? <><b>{head}:</b> {rest.join(": ")}</> : words}</li>;
              })}
              {axis.usual_words ? <li>{axis.usual_words}</li> : null}
            </ul>
          </article>
        ))}
      </div>
    </section>
  );
}

function Curve({ axis }: { axis: AxisCard }): JSX.Element {
  const start = axis.speed.findIndex((speed) => speed >= axis.rapid);
  const [at, setAt] = useState(Math.max(start, 0));
  const fastest = axis.speed.at(-1) ?? 1;
  const asked = axis.asked ?? { speed: [], torque: [] };
  const most = 1.08 * Math.max(...axis.torque.high, ...asked.torque, 1e-9);
  const x = (speed: number) => EDGE.left + ((W - EDGE.left - EDGE.right) * speed) / fastest;
  const y = (torque: number) => H - EDGE.bottom - ((H - EDGE.top - EDGE.bottom) * torque) / most;
  const line = (values: number[]) => values.map((value, k) => `${x(axis.speed[k] ?? 0).toFixed(1)},${y(value).toFixed(1)}`);
  const band = [...line(axis.torque.high), ...line(axis.torque.low).reverse()].join(" ");
  return (
    <>
      <svg
        class="curve"
        viewBox={`0 0 ${W} ${H}`}
        role="img"
        aria-label={`Torque of one ${axis.name} motor over speed; ${axis.rapid_words}`}
        onPointerMove={(event) => {
          const box = event.currentTarget.getBoundingClientRect();
          const speed = (((event.clientX - box.left) / box.width) * W - EDGE.left) / (W - EDGE.left - EDGE.right);
          setAt(Math.min(Math.max(Math.round(speed * (axis.speed.length - 1)), 0), axis.speed.length - 1));
        }}
      >
        {axis.torque_ticks.map((tick) => (
          <g key={tick}>
            <path class="grid" d={`M${EDGE.left} ${y(tick)}H${W - EDGE.right}`} />
            <text x={EDGE.left - 6} y={y(tick) + 4} text-anchor="end">{tick}</text>
          </g>
        ))}
        <polygon class="band" points={band} />
        <polyline class="pull" points={line(axis.torque.value).join(" ")} />
        {asked.speed.map((speed, k) => (
          <circle key={k} class="dot" cx={x(Math.min(speed, fastest))} cy={y(asked.torque[k] ?? 0)} r="3.2" />
        ))}
        <path class="rapid" d={`M${x(axis.rapid)} ${EDGE.top}V${H - EDGE.bottom}`} />
        <text class="rapid" x={x(axis.rapid) + 5} y={EDGE.top + 9}>rapid</text>
        {axis.usual ? <path class="usual" d={`M${x(axis.usual)} ${EDGE.top}V${H - EDGE.bottom}`} /> : null}
        <path class="at" d={`M${x(axis.speed[at] ?? 0)} ${EDGE.top}V${H - EDGE.bottom}`} />
        <path class="axis" d={`M${EDGE.left} ${EDGE.top}V${H - EDGE.bottom}H${W - EDGE.right}V${EDGE.top}`} />
        {axis.ticks.map((tick) => (
          <g key={tick.at}>
            <text x={x(tick.at)} y={H - EDGE.bottom + 16} text-anchor="middle">{tick.mm}</text>
            <text class="inch" x={x(tick.at)} y={H - EDGE.bottom + 31} text-anchor="middle">{tick.inch}</text>
          </g>
        ))}
        <text x={W - EDGE.right} y={H - 1} text-anchor="end" class="inch">mm/min, in/min</text>
        {axis.thrust_ticks.map((tick) =>
          tick.torque <= most ? (
            <g key={tick.thrust}>
              <path class="axis" d={`M${W - EDGE.right} ${y(tick.torque)}h4`} />
              <text class="push" x={W - EDGE.right + 7} y={y(tick.torque) + 4}>{tick.thrust}</text>
            </g>
          ) : null,
        )}
        <text x="4" y="10">N m a motor</text>
        <text class="push" x={W - 2} y="10" text-anchor="end">push, N</text>
      </svg>
      <label class="at-speed">
        <span class="away">Speed to read the curve of {axis.name} at</span>
        <input
          type="range"
          min={0}
          max={axis.speed.length - 1}
          value={at}
          onInput={(event) => setAt(Number(event.currentTarget.value))}
          aria-valuetext={axis.words[at] ?? ""}
        />
      </label>
      <p class="read">{axis.words[at]}</p>
    </>
  );
}
