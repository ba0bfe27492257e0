// Where a swing takes the outlines of the machine, on the paper. Lengths in mm.

import type { MachineDrawing, SwingMode } from "../wire";
import { type Place, type View, shiftOf } from "./place";

type Point = [number, number];
export interface Swung {
  kind: MachineDrawing["parts"][number]["kind"];
  rest: Point[];
  swung: Point[];
  moves: boolean;
}

/** The largest movement is drawn as this share of what a view shows. */
const DRAWN = 0.06;

/** The machine in the middle of its travel, Z down. */
export const middle = (drawing: MachineDrawing): Place => {
  const [x, y, z] = drawing.travel_mm;
  return [x / 2, y / 2, z];
};

/** Every part of a view where it rests, and where a swing has taken it; `far` goes from -1 to 1. */
export function swung(drawing: MachineDrawing, mode: SwingMode, view: View, size: number, far: number): Swung[] {
  const place = middle(drawing);
  return drawing.parts.flatMap((part, number): Swung[] => {
    const outline = view === "plan" ? part.plan_mm : part.front_mm;
    if (part.kind === "travel" || !outline.length) return [];
    const [dx, dy] = shiftOf(part.shift, place, view);
    const rest = outline.map(([x, y]): Point => [x + dx, y + dy]);
    const sway = mode.sways[number];
    if (!sway) return [{ kind: part.kind, rest, swung: rest, moves: false }];
    const low = Math.min(...rest.map(([, y]) => y));
    const span = Math.max(...rest.map(([, y]) => y)) - low || 1;
    const moved = rest.map(([x, y]): Point => {
      const up = (y - low) / span;
      const way = view === "plan" ? sway.plan : mix(sway.low, sway.high, up);
      return [x + size * far * way[0], y + size * far * way[1]];
    });
    return [{ kind: part.kind, rest, swung: moved, moves: true }];
  });
}

/** How far the largest movement is drawn. [mm] */
export function drawnSize(drawing: MachineDrawing, mode: SwingMode): number {
  const all = (["plan", "front"] as const).map((view) => boxOf(swung(drawing, mode, view, 0, 0), 0));
  return DRAWN * Math.max(...all.flatMap((box) => [box.width, box.height]));
}

export interface Box {
  left: number;
  low: number;
  width: number;
  height: number;
}

/** What a view must show, with room to swing. */
export function boxOf(parts: readonly Swung[], room: number): Box {
  const points = parts.flatMap((part) => part.rest);
  const left = Math.min(...points.map(([x]) => x)) - room;
  const low = Math.min(...points.map(([, y]) => y)) - room;
  const right = Math.max(...points.map(([x]) => x)) + room;
  const high = Math.max(...points.map(([, y]) => y)) + room;
  return { left, low, width: right - left, height: high - low };
}

const mix = (a: readonly [number, number], b: readonly [number, number], t: number): Point => [
  a[0] + (b[0] - a[0]) * t,
  a[1] + (b[1] - a[1]) * t,
];
