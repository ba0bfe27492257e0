import { describe, expect, it } from "vitest";
import { EMPTY, type Page, addressOf, placeOf, update } from "./state";
import type { Errand, JobLine, State, Ticket } from "./wire";

const errand: Errand = { job: "tray", what: "proving", stage: "path", done: 0.2, left_s: null };
const line = (name: string, of: Errand | null = null): JobLine => ({
  name,
  note: "",
  program: "p.nc",
  standing: "not proved",
  outcome: null,
  sentence: "",
  errand: of,
});
const shop = (jobs: JobLine[]): State => ({
  version: 1,
  workshop: { name: "w", folder: "w", demo: false, read_only: false },
  machine: { name: "m", sentence: "" },
  opens: "",
  jobs,
  undo: null,
  redo: null,
});
const ticket = (name: string): Ticket => ({
  name,
  note: "",
  standing: "not proved",
  program: null,
  refused: [],
  asks: [],
  setup: [],
  board: null,
  verdict: null,
  planted: [],
  went: [],
  guess: null,
});
const at = (job: string): Page => ({ ...EMPTY, place: { room: "job", job } });

describe("the address", () => {
  it("leads back to where it came from, whatever the job is called", () => {
    for (const job of ["tray", "half lap, 2", "a/b#c%"]) {
      const place = { room: "job", job } as const;
      expect(placeOf(addressOf(place))).toEqual(place);
    }
    expect(placeOf("#/machine")).toEqual({ room: "machine" });
    expect(placeOf("")).toEqual({ room: "job", job: "" });
  });
});

describe("the page's state", () => {
  it("opens the job that the workshop says, or the first; and stays where the address names one", () => {
    const opened = (state: State) => update(EMPTY, { kind: "state", state }).place;
    const state = shop([line("box"), line("tray")]);
    expect(opened(state)).toEqual({ room: "job", job: "box" });
    expect(opened({ ...state, opens: "tray" })).toEqual({ room: "job", job: "tray" });
    expect(opened({ ...state, opens: "gone" })).toEqual({ room: "job", job: "box" });
    expect(update(at("tray"), { kind: "state", state }).place).toEqual({ room: "job", job: "tray" });
  });
  it("goes on to a job that is there where the address names none that is, but waits for one just brought", () => {
    const both = shop([line("box"), line("tray")]);
    const old = update(at("gone"), { kind: "state", state: both });
    expect(old.place).toEqual({ room: "job", job: "box" });
    const undone = update(update(at("tray"), { kind: "state", state: both }), { kind: "state", state: shop([line("box")]) });
    expect(undone.place).toEqual({ room: "job", job: "box" });
    const missed: Page = { ...update(at("tray"), { kind: "state", state: both }), said: { words: "no job tray", remedy: "" } };
    expect(update(missed, { kind: "state", state: shop([line("box")]) }).said).toBeNull();
    const brought = update({ ...old, place: { room: "job", job: "new" } }, { kind: "state", state: both });
    expect(brought.place).toEqual({ room: "job", job: "new" });
    expect(update({ ...EMPTY, place: { room: "machine" } }, { kind: "state", state: both }).place).toEqual({ room: "machine" });
  });
  it("shows an errand begun before the page was loaded, and drops it once the server says it is over", () => {
    const running = update(EMPTY, { kind: "state", state: shop([line("tray", errand)]) });
    expect(running.errands["tray"]?.done).toBe(0.2);
    const later = update(running, { kind: "errand", errand: { ...errand, done: 0.7 } });
    expect(later.errands["tray"]?.done).toBe(0.7);
    expect(running.errands["tray"]?.done).toBe(0.2); // what was is not changed
    expect(update(later, { kind: "state", state: shop([line("tray")]) }).errands).toEqual({});
  });
  it("does not let the reading of a program hide a proof that is under way", () => {
    const proving = update(EMPTY, { kind: "errand", errand });
    const both = update(proving, { kind: "errand", errand: { ...errand, what: "reading" } });
    expect(both.errands["tray"]?.what).toBe("proving");
  });
  it("drops an answer that comes late, for another ticket", () => {
    expect(update(at("tray"), { kind: "ticket", ticket: ticket("box") }).ticket).toBeNull();
    expect(update(at("tray"), { kind: "ticket", ticket: ticket("tray") }).ticket?.name).toBe("tray");
  });
  it("keeps the ticket on its way to the same job, and lays it away on the way to another", () => {
    const page = update(at("tray"), { kind: "ticket", ticket: ticket("tray") });
    expect(update(page, { kind: "place", place: { room: "job", job: "tray" } }).ticket).not.toBeNull();
    expect(update(page, { kind: "place", place: { room: "machine" } }).ticket).toBeNull();
  });
});
