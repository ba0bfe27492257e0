import type { JSX } from "preact";
import type { MachineCard } from "../wire";

/** Every figure of the card, and what was taken because nobody said it: folded away. */
export function Facts({ card }: { card: MachineCard }): JSX.Element {
  const groups = [...new Set(card.facts.map((fact) => fact.group))];
  return (
    <section aria-labelledby="facts-h">
      <h2 id="facts-h">All its figures</h2>
      {groups.map((group) => (
        <details key={group}>
          <summary>{group[0]?.toUpperCase() + group.slice(1)}</summary>
          <dl class="facts">
            {card.facts
              .filter((fact) => fact.group === group)
              .map((fact, number) => (
                <div key={number}>
                  <dt>{fact.label || "of that"}</dt>
                  <dd>
                    {fact.words}
                    {fact.source ? <i>{fact.source}</i> : null}
                    {fact.engineer ? <small class="term">{fact.engineer}</small> : null}
                  </dd>
                </div>
              ))}
          </dl>
        </details>
      ))}
      <details>
        <summary>Taken, because not given ({card.taken.length})</summary>
        <ul class="taken">
          {card.taken.map((words) => (
            <li key={words}>{words}</li>
          ))}
        </ul>
      </details>
    </section>
  );
}
