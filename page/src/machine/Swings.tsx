import type { JSX } from "preact";
import type { SwingMode } from "../wire";

/** How the frame swings: what moves, how often, and what it swings on. */
export function Swings({ modes }: { modes: SwingMode[] }): JSX.Element {
  return (
    <section aria-labelledby="swings-h">
      <h2 id="swings-h">How it swings</h2>
      <p class="lead">
        With Z down, in the middle of the bed. A cutter whose teeth strike near one of these makes the machine ring.
      </p>
      <ol class="swings">
        {modes.map((mode) => (
          <li key={mode.hertz_words}>
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
          </li>
        ))}
      </ol>
      <p class="soft">{modes[0]?.engineer}</p>
    </section>
  );
}
