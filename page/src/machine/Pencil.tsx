import type { JSX } from "preact";
import type { Standing } from "./interview";

/** The pencil's question mark: not known, a usual range stands in. */
export function Question(): JSX.Element {
  return (
    <svg class="ask" viewBox="0 0 24 24" role="img" aria-label="not known: a usual range stands in">
      <path d="M7.5 9a4.6 4.6 0 1 1 7 3.8c-1.7 1-2.4 1.9-2.4 3.6M12 20.2v.4" />
    </svg>
  );
}

const SHAPES: Record<Standing, string> = {
  known: "M5 13.5 9.7 18 19 6.5",
  some: "M3.5 14 6.6 17.4 12.4 10M15.6 8.4a2.9 2.9 0 1 1 4.3 2.5c-1.1.7-1.5 1.2-1.5 2.3M18.4 16.6v.2",
  open: "M7.5 9a4.6 4.6 0 1 1 7 3.8c-1.7 1-2.4 1.9-2.4 3.6M12 20.2v.4",
};
const WORDS: Record<Standing, string> = { known: "known", some: "known in part", open: "not known yet" };

/** How far a question is answered: a tick, a tick and a question mark, a question mark. */
export function Answered({ standing }: { standing: Standing }): JSX.Element {
  return (
    <svg class={`ask ${standing}`} viewBox="0 0 24 24" role="img" aria-label={WORDS[standing]}>
      <path d={SHAPES[standing]} />
    </svg>
  );
}
