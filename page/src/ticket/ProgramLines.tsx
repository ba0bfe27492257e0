import type { JSX } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { ask, ofJob } from "../server";
import type { Lines } from "../wire";
import { clock } from "./plan";

const SHOWN = 60;

interface Props {
  job: string;
  line: number; // wanted; 0: those about the moment
  now_s: number;
  go: (time_s: number) => void;
  said: (error: unknown) => void;
}

/** The program's text, linked to place and time. */
export function ProgramLines({ job, line, now_s, go, said }: Props): JSX.Element {
  const [lines, setLines] = useState<Lines | null>(null);
  const [first, setFirst] = useState<number | null>(null);
  const list = useRef<HTMLOListElement>(null);
  useEffect(() => setFirst(line ? Math.max(1, line - 12) : null), [line]);
  useEffect(() => {
    const waiting = setTimeout(() => {
      const key = first === null ? `at_s=${now_s.toFixed(2)}` : `first=${first}`;
      ask<Lines>(ofJob(job, `/lines?count=${SHOWN}&${key}`)).then(setLines, said);
    }, 80);
    return () => clearTimeout(waiting);
  }, [job, first, first === null ? now_s : 0, said]);
  useEffect(() => {
    list.current?.querySelector("[aria-current]")?.scrollIntoView({ block: "nearest" });
  }, [lines, line]);
  if (!lines) return <p>…</p>;
  const last = lines.first + lines.text.length - 1;
  return (
    <div class="program">
      <p class="acts">
        <button type="button" disabled={lines.first <= 1} onClick={() => setFirst(Math.max(1, lines.first - SHOWN))}>
          Earlier
        </button>
        <span>
          lines {lines.first} to {last} of {lines.total}
        </span>
        <button type="button" disabled={last >= lines.total} onClick={() => setFirst(last + 1)}>
          Later
        </button>
        <button type="button" disabled={first === null} onClick={() => setFirst(null)}>
          Follow the minute
        </button>
      </p>
      <ol ref={list} start={lines.first} tabIndex={0} aria-label="Program text">
        {lines.text.map((text, k) => {
          const time = lines.time_s[k] ?? null;
          const number = lines.first + k;
          return (
            <li key={number} value={number} aria-current={number === line ? "true" : undefined}>
              <code>{text || " "}</code>
              {time !== null ? (
                <button type="button" onClick={() => go(time)} aria-label={`Line ${number}: go to ${clock(time)}`}>
                  {clock(time)}
                </button>
              ) : null}
            </li>
          );
        })}
      </ol>
    </div>
  );
}
