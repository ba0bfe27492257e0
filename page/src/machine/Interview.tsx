import type { JSX } from "preact";
import { useEffect, useId, useRef, useState } from "preact/hooks";
import { Picture } from "../pictures";
import { NotDone } from "../server";
import type { Blank, Question, Refusal } from "../wire";
import { type Typed, UNKNOWN, askedOf, nextOpen, standingOf, toKeep } from "./interview";
import type { Change } from "./levers";
import { Answered } from "./Pencil";

interface Props {
  questions: Question[];
  at: number | null; // which one is open
  open: (at: number | null) => void;
  change: (changes: Change[]) => Promise<unknown>;
  said: (error: unknown) => void;
  readOnly: boolean;
}

/** The questions on a slip each: pick one, or go through them. */
export function Interview(props: Props): JSX.Element {
  const { questions, at, open } = props;
  const question = at === null ? undefined : questions[at];
  const slips = useRef<HTMLOListElement>(null);
  const before = useRef<number | null>(null);
  useEffect(() => {
    // What was put away gives the focus back to its slip.
    if (at === null && before.current !== null) slips.current?.querySelectorAll("button")[before.current]?.focus();
    before.current = at;
  }, [at]);
  return (
    <section class="interview" aria-labelledby="interview-h">
      <h2 id="interview-h">What you know of it</h2>
      <p class="lead">
        {questions.length} questions, each with how to find out with a rule and a minute. “{UNKNOWN}” is a full answer: the usual
        range is taken for it, and told.
      </p>
      <ol class="slips" ref={slips}>
        {questions.map((one, number) => (
          <li key={one.id}>
            <button
              type="button"
              aria-expanded={number === at}
              class={number === at ? "open" : ""}
              onClick={() => open(number === at ? null : number)}
            >
              <Answered standing={standingOf(one)} />
              <span>{one.ask}</span>
            </button>
          </li>
        ))}
      </ol>
      {question && at !== null ? <Asked key={question.id} {...props} question={question} number={at} /> : null}
    </section>
  );
}

function Asked(props: Props & { question: Question; number: number }): JSX.Element {
  const { questions, question, number, open, change, said, readOnly } = props;
  const [typed, setTyped] = useState<Typed>({});
  const [refused, setRefused] = useState<Refusal | null>(null);
  const [busy, setBusy] = useState(false);
  const sheet = useRef<HTMLFormElement>(null);
  const id = useId();
  useEffect(() => {
    sheet.current?.scrollIntoView({ block: "nearest" });
    sheet.current?.querySelector<HTMLElement>("h3")?.focus({ preventScroll: true });
  }, []);

  const put = (path: string, words: string) => {
    setTyped((now) => ({ ...now, [path]: words }));
    setRefused(null);
  };
  const go = (to: number) => open(to >= 0 && to < questions.length ? to : null);
  const keep = async (then: () => void) => {
    const changes = toKeep(question, typed);
    if (!changes.length) return then();
    setBusy(true);
    try {
      await change(changes);
      setTyped({});
      setRefused(null);
      then();
    } catch (error) {
      const first = error instanceof NotDone ? error.refused[0] : undefined;
      if (first) setRefused(first);
      else said(error);
    } finally {
      setBusy(false);
    }
  };
  const pick = async (blank: Blank, words: string) => {
    // A choice is kept at once: it can change what else is asked.
    const changes = [...toKeep(question, { ...typed, [blank.path]: words })];
    setTyped((now) => ({ ...now, [blank.path]: words }));
    if (readOnly || !changes.length) return;
    setBusy(true);
    try {
      await change(changes);
      setTyped({});
      setRefused(null);
    } catch (error) {
      const first = error instanceof NotDone ? error.refused[0] : undefined;
      if (first) setRefused(first);
      else said(error);
    } finally {
      setBusy(false);
    }
  };
  const elsewhere = refused && !askedOf(question).some((blank) => blank.path === refused.file) ? refused : null;
  const last = number === questions.length - 1;

  return (
    <form
      ref={sheet}
      class="asked"
      aria-labelledby={`${id}-h`}
      onSubmit={(event) => {
        event.preventDefault();
        void keep(() => go(last ? -1 : number + 1));
      }}
    >
      <div class="picture">
        <Picture name={question.picture} />
      </div>
      <div class="words">
        <p class="count">
          {number + 1} of {questions.length} · about {question.minutes < 1.5 ? "a minute" : `${question.minutes} minutes`}
        </p>
        <h3 id={`${id}-h`} tabIndex={-1}>{question.ask}</h3>
        <p class="how">{question.how}</p>
        <div class="blanks">
          {askedOf(question).map((blank) => (
            <Field
              key={blank.path}
              blank={blank}
              typed={typed[blank.path]}
              refused={refused?.file === blank.path ? refused : null}
              put={(words) => put(blank.path, words)}
              pick={(words) => void pick(blank, words)}
            />
          ))}
        </div>
        {elsewhere ? <p class="wrong" role="alert">{elsewhere.problem}. {elsewhere.remedy}.</p> : null}
        {readOnly ? <p class="soft">This workshop can only be looked at: nothing is kept.</p> : null}
        <p class="acts">
          <button type="submit" class="main" disabled={busy || readOnly}>
            {busy ? "Working it out …" : last ? "Keep and finish" : "Keep and go on"}
          </button>
          <button type="button" disabled={busy || number === 0} onClick={() => go(number - 1)}>Back</button>
          <button type="button" disabled={busy} onClick={() => go(nextOpen(questions, number + 1))}>To the next open one</button>
          <button type="button" onClick={() => open(null)}>Put away</button>
        </p>
      </div>
    </form>
  );
}

interface FieldProps {
  blank: Blank;
  typed: string | undefined;
  refused: Refusal | null;
  put: (words: string) => void;
  pick: (words: string) => void;
}

function Field({ blank, typed, refused, put, pick }: FieldProps): JSX.Element {
  const id = useId();
  const now = typed ?? blank.typed;
  const unknown = now.trim() === "" || now === UNKNOWN;
  const under = (
    <p id={`${id}-w`} class="under">
      {refused ? (
        <span class="wrong" role="alert">{refused.problem}. {refused.remedy}.</span>
      ) : typed !== undefined && typed !== blank.typed ? (
        <span class="soft">{unknown ? "the usual range will be taken" : "not kept yet"}</span>
      ) : (
        <>
          {blank.words}
          {blank.source ? <i> {blank.source}</i> : null}
        </>
      )}
    </p>
  );
  if (blank.choices.length)
    return (
      <fieldset class="blank">
        <legend>{blank.label}</legend>
        <div class="picks">
          {[...blank.choices, UNKNOWN].map((choice) => (
            <label key={choice} class="pick">
              <input type="radio" name={id} checked={unknown ? choice === UNKNOWN : now === choice} onChange={() => pick(choice)} />
              {choice}
            </label>
          ))}
        </div>
        {under}
      </fieldset>
    );
  return (
    <div class="blank">
      <label for={id}>{blank.label}</label>
      <div class="typed">
        <input
          id={id}
          type="text"
          autocomplete="off"
          spellcheck={false}
          value={unknown ? "" : now}
          placeholder={`like ${blank.example}`}
          aria-describedby={`${id}-w`}
          aria-invalid={refused !== null}
          onInput={(event) => put(event.currentTarget.value)}
        />
        {blank.path === "name" ? null : (
          <button type="button" class="unknown" aria-pressed={unknown} aria-label={`${blank.label}: ${UNKNOWN}`} onClick={() => put(UNKNOWN)}>
            {UNKNOWN}
          </button>
        )}
      </div>
      {under}
    </div>
  );
}
