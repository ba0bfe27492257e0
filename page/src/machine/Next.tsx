import type { JSX } from "preact";
import type { MachineCard } from "../wire";

/** The next thing worth doing, and what it would buy. */
export function Next({ card, toQuestion }: { card: MachineCard; toQuestion: (id: string) => void }): JSX.Element | null {
  const [first, ...others] = card.narrows_most;
  if (!first) return null;
  const minutes = (value: number | null) => (value === null ? "" : `, about ${value} minutes`);
  return (
    <aside class="next" aria-labelledby="next-h">
      <h2 id="next-h">Worth doing next</h2>
      <p class="test">
        <b>{first.words}</b>
        {minutes(first.minutes)}
      </p>
      <p>It buys: {first.buys}.</p>
      <p class="acts">
        {first.question ? (
          <button type="button" class="main" onClick={() => toQuestion(first.question)}>
            Show me how
          </button>
        ) : null}
        <button type="button" onClick={() => toQuestion("")}>
          Go through what is not known
        </button>
      </p>
      <p class="caution">{card.caution}</p>
      {others.length ? (
        <details>
          <summary>Then these</summary>
          <ul>
            {others.map((test) => (
              <li key={test.words}>
                <b>{test.words}</b>
                {minutes(test.minutes)}. {test.buys}.{" "}
                {test.question ? (
                  <button type="button" class="link" onClick={() => toQuestion(test.question)}>
                    how
                  </button>
                ) : null}
              </li>
            ))}
          </ul>
        </details>
      ) : null}
    </aside>
  );
}
