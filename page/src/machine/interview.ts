import type { Blank, Question } from "../wire";
import type { Change } from "./levers";

export const UNKNOWN = "don't know";

/** What was typed over what stands, by path. */
export type Typed = Readonly<Record<string, string>>;

/** The blanks of a question that are asked now: what is picked above may make others moot. */
export const askedOf = (question: Question): Blank[] => question.blanks.filter((blank) => blank.asked);

/** What is to be kept: only what differs from what stands. Nothing typed means "don't know". */
export function toKeep(question: Question, typed: Typed): Change[] {
  return askedOf(question).flatMap((blank) => {
    const now = typed[blank.path];
    if (now === undefined) return [];
    const said = now.trim() || UNKNOWN;
    return said === blank.typed ? [] : [{ path: blank.path, typed: said }];
  });
}

export type Standing = "known" | "some" | "open";

/** Whether a question is answered: wholly, in part, or not at all. */
export function standingOf(question: Question): Standing {
  const asked = askedOf(question);
  const known = asked.filter((blank) => blank.known).length;
  return known === 0 ? "open" : known < asked.length ? "some" : "known";
}

/** The next question with something open, from one on and round. */
export function nextOpen(questions: readonly Question[], from: number): number {
  for (let step = 0; step < questions.length; step++) {
    const at = (from + step) % questions.length;
    const question = questions[at];
    if (question && standingOf(question) !== "known") return at;
  }
  return -1;
}
