import type { JSX } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { Mark } from "../parts/Mark";
import type { Finding, Tried } from "../wire";

interface Props {
  findings: Finding[];
  chosen: string;
  choose: (id: string) => void;
  go: (time_s: number) => void;
  toLine: (line: number) => void;
  tried: Tried | null;
  busy: boolean;
  tryIt: (finding: string, remedy: number) => void;
  keep: () => void;
  accept: (finding: string, reason: string) => void;
}

/** Where a finding's card stands on the page. */
export const cardOf = (id: string): string => `finding-${id}`;

/** Why, and what to do: a card for each finding, with the number of its pin. */
export function Findings(props: Props): JSX.Element {
  if (!props.findings.length) return <p class="none-found">Nothing was found by what was checked.</p>;
  return (
    <ol class="findings">
      {props.findings.map((finding, k) => (
        <Card key={finding.id} {...props} finding={finding} number={k + 1} />
      ))}
    </ol>
  );
}

function Card(props: Props & { finding: Finding; number: number }): JSX.Element {
  const { finding, number, chosen, choose, go, toLine, tried, busy } = props;
  const card = useRef<HTMLLIElement>(null);
  const [asks, setAsks] = useState(false);
  const [reason, setReason] = useState("");
  const open = chosen === finding.id;
  useEffect(() => {
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    if (open) card.current?.scrollIntoView({ block: "nearest", behavior: still ? "auto" : "smooth" });
  }, [open]);
  const mine = tried?.finding === finding.id ? tried : null;
  return (
    <li ref={card} id={cardOf(finding.id)} class={`finding ${finding.severity}${open ? " chosen" : ""}${finding.accepted ? " accepted" : ""}`}>
      <button type="button" class="number" aria-label={`Show ${number} on the board`} aria-pressed={open} onClick={() => choose(finding.id)}>
        {number}
      </button>
      <div>
        <p class="what">
          <Mark severity={finding.severity} /> {finding.words}
        </p>
        <dl>
          {finding.number_words ? (
            <div>
              <dt>found</dt>
              <dd>{finding.number_words}</dd>
            </div>
          ) : null}
          {finding.limit_words ? (
            <div>
              <dt>limit</dt>
              <dd>{finding.limit_words}</dd>
            </div>
          ) : null}
          {finding.chance_words ? (
            <div>
              <dt>chance</dt>
              <dd>{finding.chance_words}</dd>
            </div>
          ) : null}
        </dl>
        {finding.from_words ? <p class="from">The spread is mostly from {finding.from_words}.</p> : null}
        {finding.remedies.map((remedy, k) => (
          <p class="remedy" key={k}>
            <span aria-hidden="true">→</span> {remedy.words}. <span class="model">{[remedy.model_words, remedy.cost_words && `${remedy.cost_words}.`].filter(Boolean).join(" ")}</span>
            {remedy.can_try ? (
              <button type="button" disabled={busy} aria-label={`Try it: ${remedy.words}`} onClick={() => props.tryIt(finding.id, k)}>
                Try it
              </button>
            ) : null}
            {remedy.why_not ? <small>{remedy.why_not}</small> : null}
          </p>
        ))}
        {mine ? (
          <div class="tried" role="status">
            <p>
              <b>Tried: {mine.remedy}.</b> {mine.cost_words}
            </p>
            <dl>
              <div>
                <dt>before</dt>
                <dd>{mine.before}</dd>
              </div>
              <div>
                <dt>after</dt>
                <dd>{mine.after}</dd>
              </div>
            </dl>
            <p>{mine.sentence}</p>
            {mine.can_keep ? (
              <button type="button" class="main" onClick={props.keep}>
                Keep it
              </button>
            ) : null}
          </div>
        ) : null}
        <p class="acts">
          {finding.time_s !== null ? (
            <button type="button" onClick={() => (choose(finding.id), go(finding.time_s ?? 0))}>
              Go to the moment
            </button>
          ) : null}
          {finding.line ? (
            <button type="button" onClick={() => toLine(finding.line)}>
              Line {finding.line}
            </button>
          ) : null}
          {finding.severity !== "stop" && !finding.accepted ? (
            <button type="button" aria-expanded={asks} onClick={() => setAsks(!asks)}>
              Live with it …
            </button>
          ) : null}
        </p>
        {finding.accepted ? <p class="lives">You live with it: {finding.accepted}</p> : null}
        {asks && !finding.accepted ? (
          <form
            class="reason"
            onSubmit={(event) => {
              event.preventDefault();
              if (reason.trim()) props.accept(finding.id, reason.trim());
              setAsks(false);
            }}
          >
            <label>
              Why? It is printed with the answer.
              <input type="text" value={reason} onInput={(event) => setReason(event.currentTarget.value)} />
            </label>
            <button type="submit" class="main" disabled={!reason.trim()}>
              Write it down
            </button>
          </form>
        ) : null}
      </div>
    </li>
  );
}
