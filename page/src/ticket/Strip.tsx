import type { JSX } from "preact";
import type { Minute, Verdict } from "../wire";
import { LATE, clock, markEvery, rows } from "./plan";

interface Props {
  verdict: Verdict;
  now_s: number;
  go: (time_s: number) => void;
  chosen: string;
  choose: (id: string) => void;
}

const SYMBOL: Record<Minute["kind"], string> = { change: "⇄", look: "◉", do: "✎" };

/** The strip of shop minutes: what the person does and looks at, and a slider through the job. */
export function Strip({ verdict, now_s, go, chosen, choose }: Props): JSX.Element {
  const total = Math.max(verdict.total_s, 1e-6);
  const every = markEvery(total, 12);
  const marks = Array.from({ length: Math.floor(total / every) + 1 }, (_, k) => k * every);
  const at = verdict.minutes.map((one) => one.time_s / total);
  const row = rows(at, verdict.minutes.map((one) => 0.035 + 0.0092 * Math.min(one.words.length, 30)));
  return (
    <section class="strip" aria-label="Shop minutes">
      <ol class="marks" style={{ height: `${(Math.max(-1, ...row) + 1) * 2}rem` }}>
        {verdict.minutes.map((one, k) => {
          return (
            <li key={k} style={{ left: `${100 * (at[k] ?? 0)}%`, bottom: `${(row[k] ?? 0) * 2}rem` }} class={(at[k] ?? 0) > LATE ? "late" : ""}>
              <button
                type="button"
                class={`minute ${one.kind}${one.finding && one.finding === chosen ? " chosen" : ""}`}
                onClick={() => {
                  go(one.time_s);
                  if (one.finding) choose(one.finding);
                }}
              >
                <b aria-hidden="true">{SYMBOL[one.kind]}</b> {one.words}
              </button>
            </li>
          );
        })}
      </ol>
      <div class="rail" style={{ "--done": `${(100 * now_s) / total}%` }}>
        <input
          type="range"
          min={0}
          max={total}
          step={Math.max(total / 2000, 0.05)}
          value={now_s}
          aria-label="Shop minute"
          aria-valuetext={`${clock(now_s)} of ${clock(total)}`}
          onInput={(event) => go(Number(event.currentTarget.value))}
        />
        <ol class="scale" aria-hidden="true">
          {marks.map((mark) => (
            <li key={mark} style={{ left: `${(100 * mark) / total}%` }}>
              {clock(mark)}
            </li>
          ))}
        </ol>
      </div>
    </section>
  );
}
