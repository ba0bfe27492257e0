import type { JSX } from "preact";
import { useEffect, useId, useState } from "preact/hooks";
import { NotDone } from "../server";
import type { Entry, Refusal } from "../wire";

const UNKNOWN = "don't know";

interface Props {
  entry: Pick<Entry, "path" | "label" | "help" | "typed" | "words" | "source"> & Partial<Pick<Entry, "kind" | "choices">>;
  change: (path: string, typed: string) => Promise<unknown>;
  said: (error: unknown) => void;
}

/** A thing to set: what is typed, and under it what was understood. Enter or leaving it takes it. */
export function EntryRow({ entry, change, said }: Props): JSX.Element {
  const id = useId();
  const [typed, setTyped] = useState(entry.typed);
  const [refused, setRefused] = useState<Refusal | null>(null);
  const [busy, setBusy] = useState(false);
  useEffect(() => {
    setTyped(entry.typed);
    setRefused(null);
  }, [entry.typed]);

  const take = (text: string) => {
    setTyped(text);
    if (text === entry.typed) {
      setRefused(null);
      return;
    }
    setBusy(true);
    change(entry.path, text)
      .then(
        () => setRefused(null),
        (error: unknown) => {
          if (error instanceof NotDone && error.refused[0]) setRefused(error.refused[0]);
          else said(error);
        },
      )
      .finally(() => setBusy(false));
  };
  const shared = {
    id,
    value: typed,
    "aria-invalid": refused !== null,
    "aria-describedby": `${id}-words`,
    onInput: (event: { currentTarget: { value: string } }) => setTyped(event.currentTarget.value),
    onBlur: () => take(typed),
  };
  return (
    <div class={`entry${busy ? " busy" : ""}`}>
      <label for={id}>{entry.label}</label>
      <div class="typed">
        {entry.kind === "lines" ? (
          <textarea {...shared} rows={Math.min(6, Math.max(2, typed.split("\n").length))} spellcheck={false} />
        ) : (
          <input
            {...shared}
            type="text"
            list={entry.choices?.length ? `${id}-choices` : undefined}
            autocomplete="off"
            spellcheck={false}
            onKeyDown={(event) => event.key === "Enter" && take(event.currentTarget.value)}
          />
        )}
        {entry.choices?.length ? (
          <datalist id={`${id}-choices`}>
            {entry.choices.map((choice) => (
              <option key={choice} value={choice} />
            ))}
          </datalist>
        ) : null}
        {typed !== UNKNOWN && entry.kind !== "lines" && entry.path !== "note" ? (
          <button type="button" class="unknown" onClick={() => take(UNKNOWN)} title={`${entry.label}: ${UNKNOWN}`}>
            {UNKNOWN}
          </button>
        ) : null}
      </div>
      <p id={`${id}-words`} class="words">
        {refused ? (
          <span class="wrong" role="alert">
            {refused.problem}. {refused.remedy}
          </span>
        ) : (
          <>
            {entry.words}
            {entry.source ? <i>{entry.source}</i> : null}
            {entry.help && !entry.words ? <span class="help">{entry.help}</span> : null}
          </>
        )}
      </p>
    </div>
  );
}
