import type { JSX } from "preact";
import type { Openings } from "../wire";

/** At which force wheels and nuts let go, on one scale; what damp does to them. */
export function LetsGo({ opens }: { opens: Openings }): JSX.Element | null {
  if (!opens.rows.length && !opens.damp) return null;
  const share = (force: number) => `${((100 * Math.min(force, opens.most)) / opens.most).toFixed(1)}%`;
  return (
    <section aria-labelledby="opens-h">
      <h2 id="opens-h">When it lets go</h2>
      <p class="lead">
        Wheels and nuts are pressed together. Beyond these forces one side comes free, and from there on the machine is
        softer than this card says. The bar holds it nineteen times in twenty.
      </p>
      <ol class="opens">
        {opens.rows.map((row) => (
          <li key={row.label}>
            <p>
              <b>{row.label[0]?.toUpperCase() + row.label.slice(1)}</b>: {row.words}
            </p>
            <div class="forces" aria-hidden="true">
              <span class="bar" style={{ left: share(row.low), right: `calc(100% - ${share(row.high)})` }} />
              {row.value <= opens.most ? <span class="dot" style={{ left: share(row.value) }} /> : null}
              <span class="push" style={{ left: share(opens.push) }} />
            </div>
            <p class="soft">Then {row.then}.</p>
          </li>
        ))}
      </ol>
      {opens.rows.length ? <p class="soft push-key">{opens.push_words}</p> : null}
      {opens.damp ? <p>{opens.damp}.</p> : null}
    </section>
  );
}
