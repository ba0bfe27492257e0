import type { JSX } from "preact";
import type { Lever, MachineCard, Refusal } from "../wire";
import type { Set } from "./levers";
import { Question } from "./Pencil";

interface Props {
  levers: Lever[];
  set: Set;
  tried: MachineCard | null;
  refused: Refusal | null;
  busy: boolean;
  move: (lever: Lever, stop: number) => void;
  keep: () => void;
  leave: () => void;
  readOnly: boolean;
}

/** Things to turn, beside what they would change. Nothing is kept until it is said. */
export function WhatIf(props: Props): JSX.Element {
  const { levers, set, tried, refused, busy, move, keep, leave, readOnly } = props;
  const moving = Object.keys(set).length > 0;
  const rows = tried?.against ?? [];
  const changed = rows.filter((row) => row.verdict !== "same");
  return (
    <section class="what-if" aria-labelledby="what-if-h">
      <h2 id="what-if-h">What if</h2>
      <p class="lead">Turn something. What it would change stands beside it, and nothing is kept until you say so.</p>
      <div class="sides">
        <div class="levers">
          {levers.map((lever) => {
            const at = set[lever.id] ?? lever.now;
            const words = lever.stops[at]?.words ?? "";
            return (
              <label key={lever.id} class={at === lever.now ? "" : "turned"}>
                <span class="name">
                  {lever.label}
                  {lever.known ? null : <Question />}
                  <small>{lever.help}</small>
                </span>
                <span class="stop">
                  {at === lever.now ? <em>as it is</em> : null} {words}
                </span>
                <input
                  type="range"
                  min={0}
                  max={lever.stops.length - 1}
                  value={at}
                  aria-valuetext={at === lever.now ? `as it is: ${words}` : words}
                  onInput={(event) => move(lever, Number(event.currentTarget.value))}
                  style={{ "--as-is": `${(100 * lever.now) / Math.max(lever.stops.length - 1, 1)}%` }}
                />
              </label>
            );
          })}
        </div>
        <div class={`would${moving ? " moving" : ""}${busy ? " busy" : ""}`}>
          <h3>It would change</h3>
          <div role="status">
            {refused ? (
              <p class="wrong">
                {refused.problem}. {refused.remedy}.
              </p>
            ) : !moving ? (
              <p class="soft">Nothing is turned yet.</p>
            ) : !tried ? (
              <p class="soft">…</p>
            ) : changed.length === 0 ? (
              <p>Nothing that this card tells.</p>
            ) : (
              <table>
                <thead>
                  <tr><th scope="col">what</th><th scope="col">now</th><th scope="col">then</th></tr>
                </thead>
                <tbody>
                  {changed.map((row) => (
                    <tr key={row.label} class={row.verdict}>
                      <th scope="row">{row.label}</th>
                      <td>{row.before}</td>
                      <td><b>{row.after}</b> <em>{row.by ? `${row.by}, ` : ""}{row.verdict}</em></td>
                    </tr>
                  ))}
                </tbody>
              </table>
            )}
            {moving && tried && changed.length > 0 ? <p class="soft">All else on this card stays as it is.</p> : null}
          </div>
          <p class="acts">
            <button type="button" class="main" disabled={!moving || busy || refused !== null || readOnly} onClick={keep}>
              Keep it
            </button>
            <button type="button" disabled={!moving} onClick={leave}>
              Leave it
            </button>
          </p>
          <p class="soft">To keep it writes it into machine.toml; Undo takes it back. Every proof then wants to be made again.</p>
        </div>
      </div>
    </section>
  );
}
