import { afterEach, beforeEach, expect, test, vi } from "vitest";
import type { GiveMap, Lever, MachineDrawing, Question, SwingMode } from "../wire";
import { nextOpen, standingOf, toKeep } from "./interview";
import { latest } from "./latest";
import { changesOf, moved, triedWords } from "./levers";
import { SAG, dragged, extentOf, heightOf, shades, shiftOf, within } from "./place";
import { boxOf, drawnSize, swung } from "./sway";

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

test("one question is under way at a time, and the newest is asked next", async () => {
  const asked: number[] = [];
  const got: [number, boolean][] = [];
  const wait: Record<number, () => void> = {};
  const one = latest<number, number>(
    100,
    (question) => {
      asked.push(question);
      return new Promise((done) => (wait[question] = () => done(question)));
    },
    (answer, last) => got.push([answer, last]),
    () => expect.unreachable(),
  );
  one.ask(1);
  vi.advanceTimersByTime(50);
  one.ask(2); // 1 never goes out
  vi.advanceTimersByTime(50);
  one.ask(3); // nor does 3: 4 is newer when 2 has been answered
  one.ask(4);
  await vi.runAllTimersAsync();
  expect(asked).toEqual([2]);
  wait[2]?.();
  await vi.runAllTimersAsync();
  expect(asked).toEqual([2, 4]);
  wait[4]?.();
  await vi.runAllTimersAsync();
  expect(got).toEqual([[2, false], [4, true]]);
  one.ask(5);
  one.drop();
  await vi.runAllTimersAsync();
  one.ask(6);
  await vi.runAllTimersAsync();
  one.drop(); // its answer is no longer wanted
  wait[6]?.();
  await vi.runAllTimersAsync();
  expect(asked).toEqual([2, 4, 6]);
  expect(got).toHaveLength(2);
  one.ask(7); // and the next goes out as ever
  await vi.runAllTimersAsync();
  expect(asked).toEqual([2, 4, 6, 7]);
});

test("a failure is told unless something newer is asked", async () => {
  const told: unknown[] = [];
  let fails: (error: unknown) => void = () => undefined;
  const one = latest<number, number>(0, () => new Promise((_, no) => (fails = no)), () => expect.unreachable(), (e) => told.push(e));
  one.ask(1);
  await vi.runAllTimersAsync();
  one.ask(2);
  fails("first");
  await vi.runAllTimersAsync();
  expect(told).toEqual([]);
  fails("second");
  await vi.runAllTimersAsync();
  expect(told).toEqual(["second"]);
});

const lever = (id: string, now: number): Lever => ({
  id, label: id, help: "", words: "", source: "", known: true, now,
  stops: [0, 1, 2].map((stop) => ({
    words: `${stop} mm`,
    changes: stop === now ? [] : [{ path: id, typed: `${stop} mm` }],
  })),
});

test("a lever put back where it stood changes nothing", () => {
  const levers = [lever("a", 1), lever("b", 0)];
  const [a, b] = levers as [Lever, Lever];
  const set = moved(moved({}, a, 2), b, 1);
  expect(changesOf(set, levers)).toEqual([{ path: "a", typed: "2 mm" }, { path: "b", typed: "1 mm" }]);
  expect(triedWords(set, levers)).toBe("a 2 mm, b 1 mm");
  expect(changesOf(moved(moved(set, a, 1), b, 0), levers)).toEqual([]);
});

const drawing = (table: number): MachineDrawing => ({
  travel_mm: [600, 400, 90],
  table_mm: [600, 400],
  nose_height_mm: 100,
  what_moves: "",
  parts: [
    { name: "table", kind: "wood", shift: [0, table, 0], plan_mm: [[0, 0], [600, 400]], front_mm: [[0, -80], [600, 0]] },
    { name: "collet", kind: "dark", shift: [1, 1 + table, 1], plan_mm: [[-5, -5], [5, 5]], front_mm: [[-5, 100], [5, 115]] },
  ],
});

test("parts go with their axes, Z downwards", () => {
  expect(shiftOf([1, 1, 1], [10, 20, 30], "plan")).toEqual([10, 20]);
  expect(shiftOf([1, 1, 1], [10, 20, 30], "front")).toEqual([10, -30]);
  expect(extentOf(drawing(0), "plan")).toEqual({ left: -5, right: 605, low: -5, high: 405 });
  expect(extentOf(drawing(-1), "plan").low).toBe(-400);
});

test("a drag moves the spindle, or the table the other way, and never beyond the travel", () => {
  expect(dragged([100, 100, 0], drawing(0), 50, 20, "plan")).toEqual([150, 120, 0]);
  expect(dragged([100, 100, 0], drawing(-1), 50, 20, "plan")).toEqual([150, 80, 0]);
  expect(dragged([100, 100, 10], drawing(0), 0, -500, "front")).toEqual([100, 100, 90]);
  expect(within([-1, 999, 5], [600, 400, 90])).toEqual([0, 400, 5]);
  expect([0, 45, 90].map((down) => heightOf([0, 0, down], [600, 400, 90]))).toEqual([2, 1, 0]);
});

test("the map is straight between its points, with the back at the top", () => {
  const give = { give_mm: [[[[1, 2], [3, 5]]]] } as unknown as GiveMap;
  const view = shades(give, 0, 0, 3, 3);
  expect(view[0]).toEqual([0.5, 0.75, 1]);
  expect(view[2]).toEqual([0, 0.125, 0.25]);
});

const question = (...known: boolean[]): Question => ({
  id: "q", ask: "", how: "", picture: "", minutes: 1,
  blanks: known.map((one, at) => ({
    path: `p${at}`, label: "", example: "", typed: one ? "1 mm" : "don't know", words: "", source: "",
    known: one, choices: [], asked: true,
  })),
});

test("only what differs is kept, and nothing typed means don't know", () => {
  const one = question(true, false);
  expect(toKeep(one, { p0: "1 mm", p1: "" })).toEqual([]);
  expect(toKeep(one, { p0: " ", p1: "24 3/8 in " })).toEqual([
    { path: "p0", typed: "don't know" },
    { path: "p1", typed: "24 3/8 in" },
  ]);
  expect([question(true), question(true, false), question(false)].map(standingOf)).toEqual(["known", "some", "open"]);
  expect(nextOpen([question(false), question(true), question(true)], 1)).toBe(0);
  expect(nextOpen([question(true)], 0)).toBe(-1);
});

const SWINGS: MachineDrawing = {
  travel_mm: [100, 60, 40],
  table_mm: [120, 80],
  nose_height_mm: 50,
  what_moves: "",
  parts: [
    { name: "table", kind: "wood", shift: [0, 0, 0], plan_mm: [[0, 0], [120, 80]], front_mm: [[0, -20], [120, 0]] },
    { name: "spindle", kind: "metal", shift: [1, 1, 1], plan_mm: [[-5, 0], [5, 0]], front_mm: [[-5, 50], [5, 150]] },
    { name: "reach", kind: "travel", shift: [0, 0, 0], plan_mm: [[0, 0], [900, 900]], front_mm: [] },
  ],
};
const MODE: SwingMode = {
  words: "", at_hz: 30, hertz_words: "", parts: [], means: "", engineer: "",
  sways: [null, { plan: [0.5, 1], low: [1, 0], high: [-0.5, 0.2] }, null],
};

test("a swing moves each line of a part by its height, and what stands stays", () => {
  const [table, spindle, ...rest] = swung(SWINGS, MODE, "front", 10, 1);
  expect(rest).toEqual([]); // the reach is no part of the machine
  expect(table?.moves).toBe(false);
  expect(table?.swung).toEqual(table?.rest);
  // In the middle of X, Z right down: 50 - 40 is its lowest line.
  expect(spindle?.rest).toEqual([[45, 10], [55, 110]]);
  expect(spindle?.swung).toEqual([[55, 10], [50, 112]]);
  expect(swung(SWINGS, MODE, "front", 10, -1)[1]?.swung[0]).toEqual([35, 10]);
  expect(swung(SWINGS, MODE, "plan", 10, 1)[1]?.swung[0]).toEqual([50, 40]);
  expect(swung(SWINGS, MODE, "plan", 10, 0)[1]?.swung).toEqual(swung(SWINGS, MODE, "plan", 10, 0)[1]?.rest);
});

test("a view has room for the largest movement", () => {
  expect(drawnSize(SWINGS, MODE)).toBeCloseTo(0.06 * 130); // from the front it is 130 mm high
  expect(boxOf(swung(SWINGS, MODE, "front", 0, 0), 5)).toEqual({ left: -5, low: -25, width: 130, height: 140 });
});

test("the map shows how it hangs where that is asked for", () => {
  const map = { give_mm: [[[[1]]]], sag_mm: [[0, 2], [0, 4]] } as unknown as GiveMap;
  expect(shades(map, 0, SAG, 2, 2)).toEqual([[0, 1], [0, 0.5]]);
});
