import type { JSX } from "preact";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import type { MachineCard, MachineDrawing, SwingMode } from "../wire";
import type { View } from "./place";
import { boxOf, drawnSize, swung } from "./sway";

/** A swing on the page takes that long, whatever it takes at the machine. */
const SWING_MS = 1600;

/** How the frame swings: what moves, how often, and what it swings on. */
export function Swings({ card }: { card: MachineCard }): JSX.Element {
  const { modes, drawing } = card;
  return (
    <section aria-labelledby="swings-h">
      <h2 id="swings-h">How it swings</h2>
      <p class="lead">
        With Z down, in the middle of the bed. A cutter whose teeth strike near one of these makes the machine ring.
        Drawn to scale, the swing itself many times too large and too slow; dashed is where it rests.
      </p>
      <ol class="swings">
        {modes.map((mode, number) => (
          <li key={number}>
            <Swing drawing={drawing} mode={mode} />
          </li>
        ))}
      </ol>
      <p class="soft">{modes[0]?.engineer}</p>
    </section>
  );
}

function Swing({ drawing, mode }: { drawing: MachineDrawing; mode: SwingMode }): JSX.Element {
  const [far, setFar] = useState(100);
  const [going, setGoing] = useState(false);
  const held = useRef(true); // at once, where a state waits for the next drawing
  const still = useStill();
  const swing = (goes: boolean) => {
    held.current = !goes;
    setGoing(goes);
  };
  useEffect(() => {
    if (!going || still) return;
    let frame = 0;
    const begin = performance.now();
    const step = (now: number) => {
      if (held.current) return;
      setFar(100 * Math.cos((2 * Math.PI * (now - begin)) / SWING_MS));
      frame = requestAnimationFrame(step);
    };
    frame = requestAnimationFrame(step);
    return () => cancelAnimationFrame(frame);
  }, [going, still]);
  const size = useMemo(() => drawnSize(drawing, mode), [drawing, mode]);
  return (
    <article aria-label={`Swing at ${mode.hertz_words}`}>
      <div>
        <div class="swing-views">
          <Shape drawing={drawing} mode={mode} view="plan" size={size} far={far / 100} />
          <Shape drawing={drawing} mode={mode} view="front" size={size} far={far / 100} />
        </div>
        <div class="by-hand">
          {still ? null : (
            <button type="button" aria-pressed={going} onClick={() => swing(!going)}>
              Let it swing
            </button>
          )}
          <label>
            <span class="away">Swing it by hand, per cent of the way</span>
            <input
              type="range"
              min={-100}
              max={100}
              step={5}
              value={Math.round(far)}
              onKeyDown={() => swing(false)}
              onPointerDown={() => swing(false)}
              onInput={(event) => {
                swing(false);
                setFar(Number(event.currentTarget.value));
              }}
            />
          </label>
        </div>
      </div>
      <div>
        <h3>{mode.hertz_words}</h3>
        <p>{mode.words}</p>
        <ul class="shares" aria-label="What it swings on">
          {mode.parts.map((part) => (
            <li key={part.part}>
              <span style={{ width: `${100 * part.share}%` }} />
              {part.words}
            </li>
          ))}
        </ul>
        <p class="soft means">
          {mode.means[0]?.toUpperCase()}
          {mode.means.slice(1)}.
        </p>
      </div>
    </article>
  );
}

interface ShapeProps {
  drawing: MachineDrawing;
  mode: SwingMode;
  view: View;
  size: number;
  far: number;
}

function Shape({ drawing, mode, view, size, far }: ShapeProps): JSX.Element {
  const parts = swung(drawing, mode, view, size, far);
  const box = boxOf(parts, size);
  const points = (outline: [number, number][]) =>
    outline.map(([x, y]) => `${(x - box.left).toFixed(1)},${(box.low + box.height - y).toFixed(1)}`).join(" ");
  const name = view === "plan" ? "from above" : "from the front";
  return (
    <figure>
      <svg
        class={`machine still ${view}`}
        viewBox={`0 0 ${box.width} ${box.height}`}
        role="img"
        aria-label={`The machine ${name}, swinging: ${mode.words}`}
      >
        {parts.map((part, number) => (
          <g key={number} class={`part ${part.kind}`}>
            <polygon points={points(part.swung)} />
          </g>
        ))}
        {parts.map((part, number) => (part.moves ? <polygon key={number} class="rest" points={points(part.rest)} /> : null))}
      </svg>
      <figcaption>{name}</figcaption>
    </figure>
  );
}

/** Whether the person asked for less motion. */
function useStill(): boolean {
  const query = useMemo(() => matchMedia("(prefers-reduced-motion: reduce)"), []);
  const [still, setStill] = useState(query.matches);
  useEffect(() => {
    const heard = () => setStill(query.matches);
    query.addEventListener("change", heard);
    return () => query.removeEventListener("change", heard);
  }, [query]);
  return still;
}
