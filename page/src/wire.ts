// What crosses the wire between the page and its server, in one place. The server's side is
// src/kerfwright/app/page. All arithmetic and units are done there: the page shows `words` and
// sends back what was typed, as text. Raw arrays are little-endian.

/** How a proof stands. `stale`: something was changed after it. */
export type Standing = "not proved" | "waiting" | "proving" | "proved" | "stale" | "failed";
export type Outcome = "clear" | "care" | "stop";
export type Severity = "stop" | "caution" | "note";

/** GET api/state, and every `state` event: all that both tabs share. */
export interface State {
  version: number; // grows with every change
  workshop: { name: string; folder: string; demo: boolean; read_only: boolean };
  machine: { name: string; sentence: string };
  opens: string; // the job to open where the address names none; empty: the first
  jobs: JobLine[];
  undo: string | null; // what would be undone, in words
  redo: string | null;
}

export interface JobLine {
  name: string;
  note: string;
  program: string; // file name
  standing: Standing;
  outcome: Outcome | null;
  sentence: string; // the answer, or what is to be done next
  errand: Errand | null;
}

/** A long piece of work under way; also each `errand` event. */
export interface Errand {
  job: string;
  what: string; // "proving", "trying a remedy", "reading"
  stage: string;
  done: number; // 0 to 1, of the whole
  left_s: number | null; // null: not known yet
}

/** An input that cannot be understood. Answered with status 422. */
export interface Refusal {
  problem: string;
  remedy: string;
  file: string;
  line: number; // 0: none
  column: number;
  text: string; // the line itself
}

/** One thing that a person can set: typed text in, words out. */
export interface Entry {
  path: string; // "board.size", "slots.1": what `change` takes
  label: string;
  help: string;
  kind: "text" | "choice" | "lines"; // choice: `choices` are offered, other text may do as well;
  // lines: several, one to a row
  typed: string; // as it stands in the file; "don't know" where it says so
  words: string; // what was understood, in inch and metric, with its spread
  source: string; // where the value is from
  choices: string[];
}

/** GET api/jobs/NAME */
export interface Ticket {
  name: string;
  note: string;
  standing: Standing;
  program: ProgramFacts | null; // null: being read (a `state` event follows), or refused
  refused: Refusal[]; // what keeps program or job file from being read
  asks: Ask[]; // what must be said first, and is not yet
  setup: Entry[];
  board: BoardFacts | null;
  verdict: Verdict | null; // the last proof, stale or not
  planted: string[]; // words of the faults planted in a demo job
  went: Went[];
  guess: Guess | null;
}

/** A question of the set-up: a choice, or other text, goes to its path. */
export interface Ask {
  path: string;
  question: string;
  choices: string[];
}

export interface ProgramFacts {
  file: string;
  lines: number;
  moves: number;
  size_words: string;
  extents_mm: { x: [number, number]; y: [number, number]; z: [number, number] } | null;
  slots: number[]; // cutters that it calls for
}

/** The board in plan, in its own frame: left front top corner is 0, mm. */
export interface BoardFacts {
  size_mm: [number, number, number];
  wood: string;
  grain_rad: number;
  zero_mm: [number, number, number]; // where the program's zero lies
  clamps: { name: string; corners_mm: [number, number][]; height_mm: number }[];
  screws_mm: [number, number][];
  outline_mm: [number, number][]; // hull of the path's feed moves, before any proof
}

/** verdict.json as docs/verdict.md has it, with the words that the page shows. */
export interface Verdict {
  verdict: Outcome;
  sentence: string;
  findings: Finding[];
  facts: { label: string; words: string; why: string }[]; // time, wood, margins, part
  assumed: string[];
  not_checked: string[];
  cautions: string; // shown wherever wood is cut
  minutes: Minute[];
  total_s: number;
  made_at: string; // changes with every proof: the key of its arrays
}

export interface Finding {
  id: string;
  code: string;
  severity: Severity;
  words: string;
  number_words: string; // "0.42 mm (0.3 to 0.6)"
  from_words: string; // what its spread mostly comes from; empty where it has none
  limit_words: string;
  chance_words: string; // empty where it is certain
  line: number;
  time_s: number | null;
  spot_mm: [number, number, number] | null;
  place_words: string[]; // right of the board's left front corner, and back of it; empty: nowhere
  remedies: {
    words: string;
    model_words: string; // what the model says of it, in a sentence or two
    cost_words: string;
    can_try: boolean;
    why_not: string; // empty where it can be tried, or its words say why not
    changes: { path: string; old: string; new: string }[];
  }[];
  accepted: string;
}

/** Something on the strip of shop minutes. */
export interface Minute {
  time_s: number;
  words: string; // "change to the 3 mm cutter", "look here", "empty the bin"
  short: string; // where there is no room; empty: only in full
  kind: "change" | "look" | "do";
  finding: string; // its id, or empty
}

/** GET api/jobs/NAME/maps: sizes of the arrays below. Rows along Y from the front, X within. */
export interface Maps {
  made_at: string;
  rows: number;
  columns: number;
  cell_mm: number;
  corner_mm: [number, number];
  height: { zero_mm: number; step_mm: number }; // maps/height: Int16, height = zero + q step
  error: { step_mm: number; untouched: number }; // maps/error: Int16, proud above 0
  time: { step_s: number; never: number }; // maps/time: Uint16, when the cell was cut last
  keyframes: { after_s: number }[]; // maps/height?keyframe=K, maps/time?keyframe=K
  tolerance_mm: number;
  board_mm: [number, number, number];
  path: { points: number; of: number; off_mm: number }; // off_mm: what thinning leaves out, at most
}

/** GET api/jobs/NAME/path: Float32, four to a point: x, y, z in mm on the board, time in s. */
export const PATH_COLUMNS = 4;

/** GET api/jobs/NAME/series */
export interface Series {
  time_s: number[];
  columns: { name: string; words: string; unit: string; limit: number | (number | null)[] | null; value: (number | null)[] }[]; // a list: at each time
}

/** GET api/jobs/NAME/lines?first=F&count=C (from 1), and ?at_s=T for those about a moment. */
export interface Lines {
  first: number;
  total: number;
  text: string[];
  time_s: (number | null)[]; // when each begins; null where nothing moves
}

/** GET api/jobs/NAME/at?x=&y= or ?time_s=: what the pointer is on. */
export interface Here {
  words: string[]; // "0.12 mm proud", "line 214", "at 3 min 20 s"
  line: number;
  time_s: number | null;
  spot_mm: [number, number, number] | null;
}

/** POST api/jobs/NAME/try {finding, remedy: its number from 0} -> an errand; then GET api/jobs/NAME/tried */
export interface Tried {
  finding: string;
  remedy: string; // words
  before: string;
  after: string;
  sentence: string; // the answer with the remedy
  cost_words: string; // "It takes 2 min 10 s longer."
  can_keep: boolean; // POST api/jobs/NAME/keep takes it into the job file
}

/** POST api/jobs/NAME/went: what really happened, as typed. */
export interface WentTyped {
  went: "well" | "stalled" | "spoiled" | "stopped";
  took: string; // "1 h 50", "" where nobody looked
  sizes: { name: string; found: string }[];
  line: string; // where it stalled
  notes: string;
}
export interface Went {
  at: string;
  words: string;
  shrunk: { name: string; before: string; after: string }[]; // ranges that became narrower
}
/** What the person is asked to compare with: "It took about 1 h 50 (1:35 to 2:05)?" */
export interface Guess {
  time_words: string;
  sizes: { name: string; words: string }[];
}

// --- the machine -----------------------------------------------------------------------------

/** GET api/machine, and what POST api/machine/change and what_if answer. */
export interface MachineCard {
  name: string;
  sentence: string; // the weakest link, in a sentence
  spread_words: string; // what a spread means, said once
  caution: string;
  answered: string; // "34 of 40 answers are known"
  known: number;
  blanks: number;
  questions: Question[];
  facts: { group: string; label: string; words: string; source: string; engineer: string }[];
  drawing: MachineDrawing;
  axes: AxisCard[];
  demand_words: string; // what the dots on the curves are; empty where nothing was proved
  swings_words: string; // what to do where nobody tried at which speeds a motor swings; else empty
  give: GiveMap;
  modes: SwingMode[];
  opens: Openings;
  levers: Lever[];
  narrows_most: Buys[]; // tests worth doing, best first
  taken: string[]; // what was taken because it was not given
  against: { label: string; before: string; after: string; verdict: "better" | "worse" | "same"; by: string }[]; // what_if only
}

/** A test worth doing and what it would buy. */
export interface Buys {
  words: string;
  minutes: number | null;
  question: string; // id of the question, empty where the interview does not ask it
  buys: string;
}

export interface Question {
  id: string;
  ask: string;
  how: string; // how to find out with a rule and a minute
  picture: string; // name of a drawing of ours in the page
  minutes: number;
  blanks: Blank[];
}

/** One line of a question. `*` in the path is for X, Y and Z: one answer, or three as "a / b / c". */
export interface Blank {
  path: string; // the entry of machine.toml that it answers
  label: string;
  example: string;
  typed: string; // "don't know" where the usual range stands in
  words: string; // what was understood, with its spread, in inch and metric
  source: string;
  known: boolean;
  choices: string[];
  asked: boolean; // false: what was answered before makes it moot
}

/** To scale, mm: the machine with X and Y at the lower end of their travel and Z right up. */
export interface MachineDrawing {
  travel_mm: [number, number, number];
  table_mm: [number, number];
  nose_height_mm: number;
  what_moves: string;
  // A part moves by `shift` times how far X, Y and (downwards) Z have gone. Empty: not seen there.
  parts: {
    name: string;
    kind: "wood" | "grain" | "metal" | "dark" | "rail" | "travel";
    shift: [number, number, number];
    plan_mm: [number, number][];
    front_mm: [number, number][];
  }[];
}

export interface Band {
  value: number[];
  low: number[];
  high: number[];
}

export interface AxisCard {
  name: string;
  limits: string[]; // what holds it back
  lead_words: string;
  motors: number;
  speed: number[]; // mm/min
  thrust: Band; // N
  torque: Band; // N m, of one motor
  words: string[]; // at each speed
  ticks: { at: number; mm: string; inch: string }[];
  torque_ticks: number[]; // N m
  thrust_ticks: { thrust: number; torque: number }[]; // N, and the torque of one motor that gives it
  rapid: number;
  rapid_words: string;
  usual: number | null;
  usual_words: string;
  asked: { speed: number[]; torque: number[] } | null; // mm/min, N m: of the last proved job
}

/** How far the nose gives over the bed: give_mm[height][along][row along Y][column along X]. */
export interface GiveMap {
  x_mm: number[];
  y_mm: number[];
  heights: string[];
  along: string[];
  push_words: string;
  give_mm: number[][][][];
  sag_mm: number[][];
  sag_words: string;
  sag_legend: { at_mm: number; words: string }[]; // least first
  legend: { at_mm: number; words: string }[][][]; // by height and direction, stiffest first
  even: string[][]; // what there is to say of one view as a whole
}

/** GET api/machine/at?x=&y=&z=&along=: what the pointer is on (mm; which height, which axis). */
export interface GiveHere {
  words: string[]; // where; how far it gives; what gives; how far it hangs
  parts: { part: string; share: number; words: string }[]; // of the movement, largest first
}

export interface SwingMode {
  words: string;
  hertz_words: string;
  parts: { part: string; share: number; words: string }[];
  at_hz: number;
  means: string; // what a start does
  // By part of the drawing, Z down, in the middle: null stands. The largest movement is 1. From above along X and
  // Y; from the front along X and Z, of its lowest and its highest line, straight between.
  sways: ({ plan: [number, number]; low: [number, number]; high: [number, number] } | null)[];
  engineer: string;
}

// At which force what was pressed together opens, the first first. [N]
export interface Openings {
  rows: { label: string; then: string; words: string; value: number; low: number; high: number }[];
  most: number; // where the scale ends
  push: number;
  push_words: string;
  damp: string; // empty where there is no wood under wheels
}

/** One thing to turn. `stops[now]` is as it stands; each other stop brings its changes. */
export interface Lever {
  id: string;
  label: string;
  help: string;
  words: string;
  source: string;
  known: boolean;
  now: number;
  stops: { words: string; changes: { path: string; typed: string }[] }[];
}

// --- what the page may ask --------------------------------------------------------------------
//
// GET  api/events                     one stream: `state`, `errand`, `gone` (the server ends)
// PUT  api/programs/FILE              raw body; a new job named after the file -> Ticket or 422
// POST api/jobs/NAME/change {changes: [{path, typed}]}  -> Ticket or 422 (nothing is changed then)
// POST api/jobs/NAME/prove | stop | accept {finding, reason} | went WentTyped
// POST api/undo | api/redo            -> State
// POST api/machine/change {changes: [{path, typed}]}    -> MachineCard or 422
// POST api/machine/what_if {changes: [{path, typed}]}   -> MachineCard, nothing kept
//
// maps, path, series and at take ?made_at=KEY and answer 409 where there is a newer proof by then.
// POSTs answer what the page then shows: prove, stop, accept, went and change a Ticket.
//
// Each POST and PUT carries the header `Kerfwright-Token` with the content of
// <meta name="kw-token">. Answers that are refused have the status 403 (guard), 404, 409 (the
// state does not allow it, {problem, remedy}), 413 (too large) or 422 (Refusal[]).
