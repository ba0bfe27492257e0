// The page's own state: frozen, changed only by `update`. Works without a browser.

import type { Errand, MachineCard, State, Ticket } from "./wire";

export const READING = "reading"; // an errand that nobody asked for, and nobody stops

export interface Said {
  words: string;
  remedy: string;
}

export interface Page {
  readonly shop: State | null;
  readonly ticket: Ticket | null;
  readonly machine: MachineCard | null;
  readonly errands: Readonly<Record<string, Errand>>; // by job
  readonly there: boolean; // whether the server answers
  readonly said: Said | null; // the last thing that was not done
  readonly place: Place;
}

export type Place = { readonly room: "job"; readonly job: string } | { readonly room: "machine" };

export type Event =
  | { kind: "state"; state: State }
  | { kind: "errand"; errand: Errand }
  | { kind: "ticket"; ticket: Ticket }
  | { kind: "machine"; machine: MachineCard }
  | { kind: "there"; there: boolean }
  | { kind: "said"; said: Said | null }
  | { kind: "place"; place: Place };

export const EMPTY: Page = {
  shop: null,
  ticket: null,
  machine: null,
  errands: {},
  there: true,
  said: null,
  place: { room: "job", job: "" },
};

export function update(page: Page, event: Event): Page {
  switch (event.kind) {
    case "state": {
      const errands = Object.fromEntries(
        event.state.jobs.flatMap((job) => (job.errand ? [[job.name, job.errand]] : [])),
      );
      const { jobs, opens } = event.state;
      const first = jobs.find((job) => job.name === opens) ?? jobs[0];
      // A job that is not there: none is named, an old address, or it was taken back. One that was brought a moment
      // ago may not be in this state yet.
      const here = page.place.room === "job" ? page.place.job : null;
      const had = !page.shop || here === "" || page.shop.jobs.some((job) => job.name === here);
      if (here === null || !first || !had || jobs.some((job) => job.name === here))
        return { ...page, shop: event.state, errands };
      return { ...page, shop: event.state, errands, place: { room: "job", job: first.name }, ticket: null, said: null };
    }
    case "errand": {
      const { job, what } = event.errand;
      // A program is read beside everything else: it hides nothing that is under way.
      const held = page.errands[job];
      if (what === READING && held && held.what !== READING) return page;
      return { ...page, errands: { ...page.errands, [job]: event.errand } };
    }
    case "ticket": // an answer that comes late belongs to another ticket
      return page.place.room === "job" && page.place.job === event.ticket.name
        ? { ...page, ticket: event.ticket }
        : page;
    case "machine":
      return { ...page, machine: event.machine };
    case "there":
      return page.there === event.there ? page : { ...page, there: event.there };
    case "said":
      return { ...page, said: event.said };
    case "place": {
      const same = page.ticket && event.place.room === "job" && event.place.job === page.ticket.name;
      return { ...page, place: event.place, ticket: same ? page.ticket : null };
    }
  }
}

/** Where the address says that we are; a first job is filled in by the state. */
export function placeOf(hash: string): Place {
  if (hash === "#/machine") return { room: "machine" };
  const job = /^#\/job\/(.+)$/.exec(hash)?.[1];
  return { room: "job", job: job ? decodeURIComponent(job) : "" };
}

export const addressOf = (place: Place): string =>
  place.room === "machine" ? "#/machine" : `#/job/${encodeURIComponent(place.job)}`;
