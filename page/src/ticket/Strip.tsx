import type { JSX } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import type { Minute, Verdict } from "../wire";
import { clock, markEvery, reach, rows } from "./plan";

interface Props {
  verdict: Verdict;
  now_s: number;
  go: (time_s: number) => void;
  chosen: string;
  choose: (id: string) => void;
}

const SYMBOL: Record<Minute["kind"], string> = { change: "⇄", look: "◉", do: "✎" };

const MOST_ROWS = 3; // of marks with all their words
const SIDE_PX = 12; // of the strip's padding

/** How wide a mark with these words is drawn, at most; longer words are cut off there. [px] */
const wordsPx = (words: string): number => Math.min(272, 46 + 7.9 * words.length);

/** The strip of shop minutes: what the person does and looks at, and a slider through the job. */
export function Strip({ verdict, now_s, go, chosen, choose }: Props): JSX.Element {
  const total = Math.max(verdict.total_s, 1e-6);
  const holder = useRef<HTMLElement>(null);
  const [width, setWidth] = useState(780);
  useEffect(() => {
    const one = holder.current;
    if (!one) return;
    const seen = new ResizeObserver(() => setWidth(Math.max(one.clientWidth - 2 * SIDE_PX, 1)));
    seen.observe(one);
    return () => seen.disconnect();
  }, []);
  const every = markEvery(total, Math.max(2, Math.floor(width / 65)));
  const marks = Array.from({ length: Math.floor(total / every) + 1 }, (_, k) => k * every);
  const at = verdict.minutes.map((one) => one.time_s / total);
  const laid = (words: string[]) => {
    const spans = words.map((said, k) => reach(at[k] ?? 0, wordsPx(said) / width));
    return { words, spans, row: rows(spans) };
  };
  const inFull = laid(verdict.minutes.map((one) => one.words));
  const crowded = Math.max(-1, ...inFull.row) >= MOST_ROWS;
  const { words, spans, row } = crowded ? laid(verdict.minutes.map((one) => one.short || one.words)) : inFull;
  const late = (k: number) => (spans[k]?.[0] ?? 0) < (at[k] ?? 0);
  return (
    <section ref={holder} class="strip" aria-label="Shop minutes">
      <ol class="marks" style={{ height: `${(Math.max(-1, ...row) + 1) * 2}rem` }}>
        {verdict.minutes.map((one, k) => {
          return (
            <li key={k} style={{ left: `${100 * (at[k] ?? 0)}%`, bottom: `${(row[k] ?? 0) * 2}rem` }} class={late(k) ? "late" : ""}>
              <button
                type="button"
                class={`minute ${one.kind}${one.finding && one.finding === chosen ? " chosen" : ""}`}
                aria-label={one.words}
                title={one.words}
                onClick={() => {
                  go(one.time_s);
                  if (one.finding) choose(one.finding);
                }}
              >
                <b aria-hidden="true">{SYMBOL[one.kind]}</b> {words[k]}
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
