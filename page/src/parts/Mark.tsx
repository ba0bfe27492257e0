import type { JSX } from "preact";
import type { Outcome, Severity } from "../wire";

const SHAPES: Record<string, string> = {
  clear: "M5 13.5 9.7 18 19 6.5",
  care: "M12 4.5V14M12 18.4v.6",
  stop: "M6 6l12 12M18 6 6 18",
};
const WORDS: Record<string, string> = { clear: "nothing found", care: "look first", stop: "do not cut yet" };
const AS: Record<Severity, Outcome> = { stop: "stop", caution: "care", note: "clear" };

/** A pencil mark for an answer: a tick, an exclamation mark, a cross; an open ring for none. */
export function Mark({ outcome, severity }: { outcome?: Outcome | null; severity?: Severity }): JSX.Element {
  const kind = outcome ?? (severity ? AS[severity] : null);
  return (
    <svg class={`mark ${kind ?? "none"}`} viewBox="0 0 24 24" role="img" aria-label={kind ? WORDS[kind] : "not proved"}>
      {kind ? <path d={SHAPES[kind]} /> : <circle cx="12" cy="12" r="7" />}
    </svg>
  );
}
