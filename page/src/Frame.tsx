import type { JSX } from "preact";
import { useRef, useState } from "preact/hooks";
import { MachineCardPage } from "./machine/MachineCardPage";
import { Mark } from "./parts/Mark";
import { NotDone, bring } from "./server";
import { type Event, type Page, addressOf } from "./state";
import { TicketPage } from "./ticket/TicketPage";
import type { Refusal, Ticket } from "./wire";
import { Refused } from "./parts/Refused";

export interface Hand {
  page: Page;
  send: (event: Event) => void;
  said: (error: unknown) => void;
}

/** The bench: what lies on it on the left, one sheet of paper on the right. */
export function Frame(props: Hand & { again: (way: "undo" | "redo") => void }): JSX.Element {
  const { page, send, said, again } = props;
  const [refused, setRefused] = useState<Refusal[]>([]);
  const [over, setOver] = useState(false);
  const [reads, setReads] = useState(""); // the file that is being handed over
  const file = useRef<HTMLInputElement>(null);

  const take = (files: FileList | null) => {
    const [one] = files ? [...files] : [];
    if (!one) return;
    setRefused([]);
    setReads(one.name);
    const brought = bring<Ticket>(one).then(
      (ticket) => {
        location.hash = addressOf({ room: "job", job: ticket.name });
        send({ kind: "place", place: { room: "job", job: ticket.name } });
        send({ kind: "ticket", ticket });
      },
      (error: unknown) => {
        if (error instanceof NotDone && error.refused.length) setRefused(error.refused);
        else said(error);
      },
    );
    void brought.finally(() => setReads(""));
  };

  return (
    <div
      class={`bench${over ? " over" : ""}`}
      onDragOver={(event) => {
        if (!event.dataTransfer?.types.includes("Files")) return;
        event.preventDefault();
        setOver(true);
      }}
      onDragLeave={(event) => event.currentTarget === event.target && setOver(false)}
      onDrop={(event) => {
        event.preventDefault();
        setOver(false);
        take(event.dataTransfer?.files ?? null);
      }}
    >
      <a class="skip" href="#sheet">
        To the sheet
      </a>
      <header class="rack">
        <p class="shop">
          <img src="./mark.svg" alt="" width="28" height="28" />
          <span>{page.shop?.workshop.name ?? "Kerfwright"}</span>
          {page.shop?.workshop.demo ? <em>invented, to try things on</em> : null}
        </p>
        <nav aria-label="On the bench">
          <ul>
            {page.shop?.jobs.map((job) => (
              <li key={job.name}>
                <a
                  href={addressOf({ room: "job", job: job.name })}
                  aria-current={page.place.room === "job" && page.place.job === job.name ? "page" : undefined}
                  class="slip"
                >
                  <Mark outcome={job.standing === "proved" ? job.outcome : null} />
                  <span>{job.name}</span>
                  {page.errands[job.name] ? <small>{page.errands[job.name]?.what} …</small> : null}
                  {!page.errands[job.name] && job.standing === "stale" ? <small>changed since</small> : null}
                </a>
              </li>
            ))}
            <li>
              <a
                href="#/machine"
                class="slip machine"
                aria-current={page.place.room === "machine" ? "page" : undefined}
              >
                <span>{page.shop?.machine.name ?? "The machine"}</span>
                <small>the machine</small>
              </a>
            </li>
          </ul>
        </nav>
        <div class="acts">
          <button type="button" class="main" onClick={() => file.current?.click()}>
            Bring a program …
          </button>
          <input
            ref={file}
            type="file"
            class="away"
            aria-label="A cutting program, from any software"
            tabIndex={-1}
            onChange={(event) => {
              take(event.currentTarget.files);
              event.currentTarget.value = "";
            }}
          />
          <p class="hint">or drop one that you have already cut, anywhere here</p>
          <p class="pair">
            <button type="button" disabled={!page.shop?.undo} onClick={() => again("undo")} title={page.shop?.undo ?? ""}>
              Undo
            </button>
            <button type="button" disabled={!page.shop?.redo} onClick={() => again("redo")} title={page.shop?.redo ?? ""}>
              Redo
            </button>
          </p>
        </div>
      </header>
      <main id="sheet" tabIndex={-1}>
        {page.there ? null : (
          <p class="note stop" role="alert">
            <span>
              Kerfwright does not answer. Nothing that you changed is lost: start it again with <code>kerfwright open</code>, and
              this page goes on.
            </span>
          </p>
        )}
        {page.said ? (
          <p class="note care" role="alert">
            <b>{page.said.words}.</b> {page.said.remedy}
            <button type="button" onClick={() => send({ kind: "said", said: null })}>
              Put away
            </button>
          </p>
        ) : null}
        {reads ? (
          <p class="note reads" role="status">
            Reading {reads} …
          </p>
        ) : null}
        {refused.length ? <Refused refused={refused} /> : null}
        {page.place.room === "machine" ? (
          <MachineCardPage page={page} send={send} said={said} />
        ) : page.ticket ? (
          <TicketPage key={page.ticket.name} ticket={page.ticket} page={page} send={send} said={said} />
        ) : (
          <p class="sheet empty">{page.shop && !page.shop.jobs.length ? "No job yet: bring a program." : "…"}</p>
        )}
      </main>
    </div>
  );
}
