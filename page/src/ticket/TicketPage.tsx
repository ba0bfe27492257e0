import type { JSX } from "preact";
import { lazy, Suspense } from "preact/compat";
import { useCallback, useEffect, useRef, useState } from "preact/hooks";
import type { Hand } from "../Frame";
import { EntryRow } from "../parts/EntryRow";
import { Mark } from "../parts/Mark";
import { Progress } from "../parts/Progress";
import { Refused } from "../parts/Refused";
import { ask, ofJob, tell } from "../server";
import { READING } from "../state";
import type { Ticket, Tried, Verdict } from "../wire";
import { Arrays } from "./arrays";
import { BoardPlan } from "./BoardPlan";
import { clampAt } from "./plan";
import { Findings, cardOf } from "./Findings";
import { FindingsTable } from "./FindingsTable";
import { ProgramLines } from "./ProgramLines";
import { Strip } from "./Strip";
import { WentForm } from "./Went";

const Loads = lazy(() => import("./Loads"));
const Solid = lazy(() => import("./Solid"));

/** One job's ticket: the answer, the board, the minutes, why and what to do. */
export function TicketPage({ ticket, page, send, said }: Hand & { ticket: Ticket }): JSX.Element {
  const verdict = ticket.verdict;
  const errand = page.errands[ticket.name] ?? null;
  const arrays = useArrays(ticket.name, verdict?.made_at ?? "", said);
  const [now, setNow] = useState(Number.POSITIVE_INFINITY);
  const [chosen, setChosen] = useState("");
  const [line, setLine] = useState(0);
  const [tried, setTried] = useState<Tried | null>(null);
  const [open, setOpen] = useState({ loads: false, lines: false, solid: false });
  const total = verdict?.total_s ?? 0;
  const now_s = Math.min(now, total);

  const took = useCallback((next: Ticket) => send({ kind: "ticket", ticket: next }), [send]);
  const act = (what: string, body: unknown = {}) => tell<Ticket>(ofJob(ticket.name, `/${what}`), body).then(took, said);
  const change = (path: string, typed: string) =>
    tell<Ticket>(ofJob(ticket.name, "/change"), { changes: [{ path, typed }] }).then(took);
  const choose = (id: string) => {
    setChosen(id);
    const finding = verdict?.findings.find((one) => one.id === id);
    if (finding?.line) setLine(finding.line);
  };
  const toLine = (at: number) => {
    setLine(at);
    setOpen((before) => ({ ...before, lines: true }));
  };
  useTried(ticket.name, errand?.what ?? "", setTried);

  const entry = (path: string) => ticket.setup.find((one) => one.path === path);
  const moveClamp = (which: number, to: [number, number]) => {
    const clamps = entry("clamps");
    if (!clamps) return;
    const rows = clamps.typed.split("\n");
    rows[which] = clampAt(rows[which] ?? "", to);
    change("clamps", rows.join("\n")).catch(said);
  };
  const reading = errand !== null && errand.what === READING;
  const busy = errand !== null && !reading;
  const asks = ticket.standing !== "proved";
  const first = ticket.asks.length > 0 && !ticket.board; // nothing can be proved before that is said

  return (
    <article class="sheet ticket">
      <p class="kind">
        Job ticket<span>{ticket.program ? `${ticket.program.file}, ${ticket.program.lines} lines` : ""}</span>
      </p>
      <h1>{ticket.name}</h1>
      {ticket.note ? <p class="memo">{ticket.note}</p> : null}
      <Answer ticket={ticket} busy={busy} />
      {ticket.refused.length ? <Refused refused={ticket.refused} /> : null}
      {ticket.asks.length && !verdict ? <Asks asks={ticket.asks} change={change} said={said} /> : null}
      {busy ? (
        <Progress errand={errand} stop={() => act("stop")} />
      ) : (
        <p class="go">
          <button type="button" class={asks ? "main big" : ""} disabled={ticket.refused.length > 0 || first} onClick={() => act("prove")}>
            {ticket.verdict ? "Prove it again" : "Prove it"}
          </button>
          {asks ? null : <NextStep findings={verdict?.findings ?? []} choose={choose} />}
          {asks ? (
            <span class="hint">{ticket.program?.size_words ?? (reading ? "Reading the program …" : "")}</span>
          ) : null}
        </p>
      )}
      {ticket.board ? (
        <BoardPlan
          job={ticket.name}
          board={ticket.board}
          arrays={arrays}
          findings={verdict?.findings ?? []}
          now_s={now_s}
          chosen={chosen}
          choose={choose}
          go={setNow}
          move={entry("clamps") ? moveClamp : null}
          turnGrain={entry("board.grain") ? (words) => void change("board.grain", words).catch(said) : null}
        />
      ) : null}
      {verdict && total > 0 ? <Strip verdict={verdict} now_s={now_s} go={setNow} chosen={chosen} choose={choose} /> : null}
      {verdict ? (
        <>
          <section aria-labelledby="why">
            <h2 id="why">Why, and what to do</h2>
            <Findings
              findings={verdict.findings}
              chosen={chosen}
              choose={choose}
              go={setNow}
              toLine={toLine}
              tried={tried}
              busy={busy}
              tryIt={(finding, remedy) => {
                setTried(null);
                void act("try", { finding, remedy });
              }}
              keep={() => void act("keep")}
              accept={(finding, reason) => void act("accept", { finding, reason })}
            />
          </section>
          <Numbers facts={verdict.facts} />
          {verdict.findings.length ? (
            <details>
              <summary>The findings as a table</summary>
              <FindingsTable findings={verdict.findings} />
            </details>
          ) : null}
          <section class="on-request" aria-label="More, on request">
            <Fold title="The loads, minute by minute" open={open.loads} set={(loads) => setOpen({ ...open, loads })}>
              <Suspense fallback={<p>…</p>}>
                <Loads job={ticket.name} madeAt={verdict.made_at} now_s={now_s} go={setNow} said={said} />
              </Suspense>
            </Fold>
            <Fold title="The program, line by line" open={open.lines} set={(lines) => setOpen({ ...open, lines })}>
              <ProgramLines job={ticket.name} line={line} now_s={now_s} go={setNow} said={said} />
            </Fold>
            <Fold title="The board as cut, seen from in front" open={open.solid} set={(solid) => setOpen({ ...open, solid })}>
              <Suspense fallback={<p>…</p>}>{arrays && ticket.board ? <Solid arrays={arrays} board={ticket.board} now_s={now_s} /> : <p>Prove it first.</p>}</Suspense>
            </Fold>
          </section>
        </>
      ) : null}
      <SetUp key={verdict ? "known" : "asks"} ticket={ticket} open={!verdict} change={change} said={said} />
      <WentForm ticket={ticket} took={took} said={said} />
      {verdict ? (
        <footer class="small-print">
          <p class="cautions">{verdict.cautions}</p>
          <List title="What was assumed" items={verdict.assumed} />
          <List title="What was not checked" items={verdict.not_checked} />
          <List title="Faults planted in this demo job" items={ticket.planted} />
        </footer>
      ) : null}
    </article>
  );
}

const AT_A_GLANCE = 6;
const OPENING = { clear: "clear", care: "with care", stop: "stop" } as const;

function Answer({ ticket, busy }: { ticket: Ticket; busy: boolean }): JSX.Element {
  const verdict = ticket.verdict;
  if (!verdict || ticket.standing === "not proved")
    return (
      <p class="answer none" role="status">
        {ticket.refused.length
          ? "It cannot be read yet."
          : ticket.asks.length && !ticket.board
            ? "One thing first."
            : busy
            ? "It is being proved: the answer comes to stand here."
            : "Not proved yet: look at the set-up below, then prove it."}
      </p>
    );
  return (
    <p class={`answer ${verdict.verdict}${ticket.standing === "stale" || busy ? " old" : ""}`} role="status">
      <Mark outcome={verdict.verdict} />
      <span>
        <span class="away">{OPENING[verdict.verdict]}: </span>
        {verdict.sentence}
        {ticket.standing === "stale" ? <em> Something was changed since: prove it again.</em> : null}
        {ticket.standing === "failed" ? <em> The last proof did not come to an end.</em> : null}
      </span>
    </p>
  );
}

/** What must be said before a proof: the cutters that the program calls for, to be picked from the rack. */
function Asks(props: { asks: Ticket["asks"]; change: (path: string, typed: string) => Promise<unknown>; said: (error: unknown) => void }): JSX.Element {
  return (
    <section class="asks" aria-label="To be said first">
      {props.asks.map((one) => (
        <div key={one.path} role="group" aria-labelledby={`ask-${one.path}`}>
          <h2 id={`ask-${one.path}`}>{one.question}</h2>
          <p class="hint">{one.choices.length ? "These are in your rack:" : "Your rack is empty: write the cutter into cutters.toml."}</p>
          <p class="acts">
            {one.choices.map((choice) => (
              <button key={choice} type="button" onClick={() => void props.change(one.path, choice).catch(props.said)}>
                {choice}
              </button>
            ))}
          </p>
        </div>
      ))}
    </section>
  );
}

/** What to do about the answer: the first thing to look at, or cut it and come back. */
function NextStep({ findings, choose }: { findings: Verdict["findings"]; choose: (id: string) => void }): JSX.Element {
  const first = findings.findIndex((one) => one.severity !== "note" && !one.accepted);
  const one = findings[first];
  if (!one)
    return (
      <span class="hint">
        Next: cut it, and say <a href="#went" onClick={toWent}>what really happened</a>.
      </span>
    );
  return (
    <button
      type="button"
      class="main"
      onClick={() => {
        choose(one.id);
        const card = document.getElementById(cardOf(one.id));
        card?.scrollIntoView({ block: "center" });
        card?.querySelector("button")?.focus({ preventScroll: true });
      }}
    >
      Next: look at {first + 1}, {one.code}
    </button>
  );
}

function toWent(event: MouseEvent): void {
  event.preventDefault(); // the address says which job is open
  document.getElementById("went")?.scrollIntoView({ block: "start" });
}

/** The first numbers at a glance, all of them on request; what they share is said once. */
function Numbers({ facts }: { facts: Verdict["facts"] }): JSX.Element {
  const shared = facts.map((one) => one.why).find((why, k, all) => why && all.indexOf(why) !== k && all.filter((w) => w === why).length > 3);
  const shown = (some: Verdict["facts"]) => (
    <dl class="facts">
      {some.map((fact) => (
        <div key={fact.label}>
          <dt>{fact.label}</dt>
          <dd>
            {fact.words}
            {fact.why && fact.why !== shared ? <i>{fact.why}</i> : null}
          </dd>
        </div>
      ))}
    </dl>
  );
  return (
    <section aria-labelledby="numbers">
      <h2 id="numbers">In numbers</h2>
      {shared ? <p class="hint">{shared}</p> : null}
      {shown(facts.slice(0, AT_A_GLANCE))}
      {facts.length > AT_A_GLANCE ? (
        <details>
          <summary>{facts.length - AT_A_GLANCE} more numbers</summary>
          {shown(facts.slice(AT_A_GLANCE))}
        </details>
      ) : null}
    </section>
  );
}

// The set-up by what it is about; the sections are those of job.toml.
const GROUPS: readonly (readonly [string, readonly string[]])[] = [
  ["The board", ["board", "note"]],
  ["What holds it", ["hold", "clamps"]],
  ["Cutters", ["slots"]],
  ["Zero", ["zero"]],
  ["What is allowed", ["limits"]],
];

/** What the person set, open until there is a first proof. */
function SetUp(props: { ticket: Ticket; open: boolean; change: (path: string, typed: string) => Promise<unknown>; said: (error: unknown) => void }): JSX.Element {
  const [open, setOpen] = useState(props.open);
  return (
    <details class="set-up" open={open} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>
        <h2>How it is set up</h2>
      </summary>
      {GROUPS.map(([title, sections]) => (
        <section key={title} aria-label={title}>
          <h3>{title}</h3>
          <div class="entries">
            {props.ticket.setup
              .filter((one) => sections.includes(one.path.split(".")[0] ?? ""))
              .map((one) => (
                <EntryRow key={one.path} entry={one} change={props.change} said={props.said} />
              ))}
          </div>
        </section>
      ))}
    </details>
  );
}

function Fold(props: { title: string; open: boolean; set: (open: boolean) => void; children: JSX.Element }): JSX.Element {
  return (
    <details open={props.open} onToggle={(event) => props.set(event.currentTarget.open)}>
      <summary>{props.title}</summary>
      {props.open ? props.children : null}
    </details>
  );
}

function List({ title, items }: { title: string; items: string[] }): JSX.Element | null {
  if (!items.length) return null;
  return (
    <details>
      <summary>
        {title} ({items.length})
      </summary>
      <ul>
        {items.map((item) => (
          <li key={item}>{item}</li>
        ))}
      </ul>
    </details>
  );
}

function useArrays(job: string, madeAt: string, said: (error: unknown) => void): Arrays | null {
  const [arrays, setArrays] = useState<Arrays | null>(null);
  useEffect(() => {
    let wanted = true;
    setArrays(null);
    if (madeAt) Arrays.of(job, madeAt).then((made) => wanted && setArrays(made), (error: unknown) => wanted && said(error));
    return () => {
      wanted = false;
    };
  }, [job, madeAt, said]);
  return arrays;
}

/** What trying a remedy gave, once its errand is over. */
function useTried(job: string, what: string, set: (tried: Tried | null) => void): void {
  const before = useRef("");
  useEffect(() => {
    if (before.current.startsWith("trying") && !what) ask<Tried>(ofJob(job, "/tried")).then(set, () => set(null));
    before.current = what;
  }, [job, what, set]);
}
