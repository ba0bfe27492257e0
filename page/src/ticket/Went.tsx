import type { JSX } from "preact";
import { useState } from "preact/hooks";
import { ofJob, tell } from "../server";
import type { Ticket, WentTyped } from "../wire";

const HOW: [WentTyped["went"], string][] = [
  ["well", "ran well"],
  ["stalled", "a motor stalled"],
  ["spoiled", "the part was spoiled"],
  ["stopped", "I stopped it"],
];

interface Props {
  ticket: Ticket;
  took: (ticket: Ticket) => void;
  said: (error: unknown) => void;
}

/** What really happened: it makes the ranges narrower. */
export function WentForm({ ticket, took, said }: Props): JSX.Element | null {
  const guess = ticket.guess;
  const [typed, setTyped] = useState<WentTyped>({ went: "well", took: "", sizes: [], line: "", notes: "" });
  if (!guess) return null;
  const size = (name: string) => typed.sizes.find((one) => one.name === name)?.found ?? "";
  const setSize = (name: string, found: string) =>
    setTyped({ ...typed, sizes: [...typed.sizes.filter((one) => one.name !== name), ...(found ? [{ name, found }] : [])] });
  return (
    <section class="went" aria-labelledby="went">
      <h2 id="went">When it is cut: what really happened?</h2>
      <p>The proof says: {guess.time_words}. What you measure makes the next answers narrower.</p>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          tell<Ticket>(ofJob(ticket.name, "/went"), typed).then(took, said);
        }}
      >
        <fieldset>
          <legend>It</legend>
          {HOW.map(([value, words]) => (
            <label key={value}>
              <input type="radio" name="went" checked={typed.went === value} onChange={() => setTyped({ ...typed, went: value })} /> {words}
            </label>
          ))}
        </fieldset>
        <label>
          <b>It took</b>
          <input type="text" placeholder="1 h 50" value={typed.took} onInput={(event) => setTyped({ ...typed, took: event.currentTarget.value })} />
        </label>
        {typed.went === "stalled" ? (
          <label>
            on line
            <input type="text" value={typed.line} onInput={(event) => setTyped({ ...typed, line: event.currentTarget.value })} />
          </label>
        ) : null}
        {guess.sizes.map((one) => (
          <label key={one.name}>
            <b>{one.name}</b>
            <span>the proof says {one.words}</span>
            <input type="text" placeholder="as measured" value={size(one.name)} onInput={(event) => setSize(one.name, event.currentTarget.value)} />
          </label>
        ))}
        <button type="submit" class="main">
          Write it down
        </button>
      </form>
      {ticket.went.map((one) => (
        <div class="past" key={one.at}>
          <p>{one.words}</p>
          {one.shrunk.length ? (
            <dl class="shrunk">
              {one.shrunk.map((range) => (
                <div key={range.name}>
                  <dt>{range.name}</dt>
                  <dd>
                    <s>{range.before}</s> <b>{range.after}</b>
                  </dd>
                </div>
              ))}
            </dl>
          ) : null}
        </div>
      ))}
    </section>
  );
}
