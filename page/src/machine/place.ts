// Where the machine's axes stand, and what of the drawing moves with them. Lengths in mm.

import type { GiveMap, MachineDrawing } from "../wire";

export type Place = readonly [number, number, number]; // X, Y, and how far Z has come down
/** What the map shows beside X, Y and Z: how it hangs by its own weight. */
export const SAG = 3;
export type View = "plan" | "front";
type Point = readonly [number, number];

export const within = (place: Place, travel: MachineDrawing["travel_mm"]): Place => [
  Math.min(Math.max(place[0], 0), travel[0]),
  Math.min(Math.max(place[1], 0), travel[1]),
  Math.min(Math.max(place[2], 0), travel[2]),
];

/** How far a part has gone on the paper, across and up it. */
export function shiftOf(shift: readonly number[], place: Place, view: View): Point {
  const [x = 0, y = 0, z = 0] = shift;
  return view === "plan" ? [x * place[0], y * place[1]] : [x * place[0], -z * place[2]];
}

/** What a drag on the paper means for the axes: a table that moves goes the other way. */
export function dragged(place: Place, drawing: MachineDrawing, across: number, up: number, view: View): Place {
  const spindle = drawing.parts.find((part) => part.name === "collet")?.shift ?? [1, 1, 1];
  const way = (axis: 0 | 1) => (spindle[axis] === 0 ? -1 : 1);
  const [x, y, z] = place;
  return within(
    view === "plan" ? [x + way(0) * across, y + way(1) * up, z] : [x + way(0) * across, y, z - up],
    drawing.travel_mm,
  );
}

export interface Extent {
  left: number;
  right: number;
  low: number;
  high: number;
}

/** What a view must show wherever the axes stand. */
export function extentOf(drawing: MachineDrawing, view: View): Extent {
  const out = { left: Infinity, right: -Infinity, low: Infinity, high: -Infinity };
  const [tx, ty, tz] = drawing.travel_mm;
  for (const place of [[0, 0, 0], [tx, ty, tz]] as Place[]) {
    for (const part of drawing.parts) {
      const [dx, dy] = shiftOf(part.shift, place, view);
      for (const [x, y] of view === "plan" ? part.plan_mm : part.front_mm) {
        out.left = Math.min(out.left, x + dx);
        out.right = Math.max(out.right, x + dx);
        out.low = Math.min(out.low, y + dy);
        out.high = Math.max(out.high, y + dy);
      }
    }
  }
  return out;
}

/** Which of the map's three heights is nearest to how far Z has come down. */
export const heightOf = (place: Place, travel: MachineDrawing["travel_mm"]): number =>
  travel[2] > 0 ? 2 - Math.round((2 * place[2]) / travel[2]) : 0;

/** One view of the give as a picture: shares from 0 (stiffest) to 1, rows from the back. */
export function shades(give: GiveMap, height: number, along: number, columns: number, rows: number): number[][] {
  const view = along === SAG ? give.sag_mm : (give.give_mm[height]?.[along] ?? []);
  const all = view.flat();
  const low = Math.min(...all);
  const span = Math.max(...all) - low || 1;
  return Array.from({ length: rows }, (_, row) =>
    Array.from({ length: columns }, (_, column) => {
      const y = ((rows - 1 - row) / (rows - 1)) * (view.length - 1);
      const x = (column / (columns - 1)) * ((view[0]?.length ?? 1) - 1);
      return (between(view, x, y) - low) / span;
    }),
  );
}

function between(view: number[][], x: number, y: number): number {
  const x0 = Math.floor(x);
  const y0 = Math.floor(y);
  const at = (row: number, column: number) => {
    const line = view[Math.min(row, view.length - 1)] ?? [];
    return line[Math.min(column, line.length - 1)] ?? 0;
  };
  const mix = (a: number, b: number, t: number) => a + (b - a) * t;
  return mix(
    mix(at(y0, x0), at(y0, x0 + 1), x - x0),
    mix(at(y0 + 1, x0), at(y0 + 1, x0 + 1), x - x0),
    y - y0,
  );
}
