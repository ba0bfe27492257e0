import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import type { Hand } from "../Frame";
import { EntryRow } from "../parts/EntryRow";
import { ask, tell } from "../server";
import type { MachineCard } from "../wire";

/** The machine's card, as pinned to the wall. */
export function MachineCardPage({ page, send, said }: Hand): JSX.Element {
  useEffect(() => {
    ask<MachineCard>("api/machine").then((machine) => send({ kind: "machine", machine }), said);
  }, [send, said]);
  const card = page.machine;
  if (!card) return <p class="sheet empty">…</p>;
  const change = (path: string, typed: string) =>
    tell<MachineCard>("api/machine/change", { changes: [{ path, typed }] }).then((machine) =>
      send({ kind: "machine", machine }),
    );
  return (
    <article class="sheet card">
      <p class="kind">Machine card</p>
      <h1>{card.name}</h1>
      <p class="answer">{card.sentence}</p>
      <section aria-label="What it can do">
        <dl class="facts">
          {card.facts.map((fact) => (
            <div key={fact.label}>
              <dt>{fact.label}</dt>
              <dd>{fact.words}</dd>
            </div>
          ))}
        </dl>
      </section>
      <section aria-label="Questions about the machine">
        <h2>What you know of it</h2>
        {card.questions.map((question) => (
          <EntryRow
            key={question.id}
            entry={{ ...question, label: question.ask, help: question.how }}
            change={change}
            said={said}
          />
        ))}
      </section>
    </article>
  );
}
