// Where things stand on the board's picture. No browser is needed.

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/**
 * Board, margin and what stands beside the board, in mm, in the picture's frame: X to the right, Y down from the
 * back. No farther than the board is long: what stands farther off is not in its way.
 */
export function sheetBox(board_mm: readonly number[], margin_mm: number, beside_mm: readonly (readonly [number, number])[] = []): Box {
  const [long = 0, wide = 0] = board_mm;
  const most = Math.max(long, wide);
  const ends = (board: number, coordinates: number[]): [number, number] => [
    Math.max(Math.min(-margin_mm, ...coordinates.map((at) => at - 0.25 * margin_mm)), -most),
    Math.min(Math.max(board + margin_mm, ...coordinates.map((at) => at + 0.25 * margin_mm)), board + most),
  ];
  const [left, right] = ends(long, beside_mm.map(([x]) => x));
  const [front, back] = ends(wide, beside_mm.map(([, y]) => y));
  return { x: left, y: wide - back, width: right - left, height: back - front };
}

/** Places for pins near their points that do not cover one another, in the unit of the points. */
export function apart(
  points: readonly (readonly [number, number])[],
  distance: number,
  box: Box,
): [number, number][] {
  const placed: [number, number][] = [];
  const inside = ([x, y]: readonly [number, number]) =>
    x >= box.x && y >= box.y && x <= box.x + box.width && y <= box.y + box.height;
  for (const [x, y] of points) {
    const rings: [number, number][] = [[x, y]];
    for (const ring of [1.05, 2.1, 3.15, 4.2, 5.25]) {
      const many = Math.floor(8 * ring);
      for (let k = 0; k < many; k++) {
        const turn = (2 * Math.PI * k) / many + 0.6;
        rings.push([x + ring * distance * Math.cos(turn), y + ring * distance * Math.sin(turn)]);
      }
    }
    const free = rings.find(
      (at) => inside(at) && placed.every((p) => Math.hypot(at[0] - p[0], at[1] - p[1]) >= distance),
    );
    placed.push(free ?? [x, y]);
  }
  return placed;
}

/** A clamp's row of the set-up with the clamp in another place on the board. */
export function clampAt(row: string, to_mm: readonly [number, number]): string {
  return row.replace(/ (?:at|on table) [^,]+,.*?(?= size | height | force |$)/, ` at ${to_mm[0]} mm, ${to_mm[1]} mm`);
}

const STICKS_DEG = 8; // to the board's edges: fibres seldom run a little askew

/** A direction of the grain as the job file has it: along an edge, or at an angle in steps of 5 degrees. */
export function grainWords(angle_rad: number): string {
  const degrees = ((((angle_rad * 180) / Math.PI) % 180) + 180) % 180;
  if (Math.min(degrees, 180 - degrees) <= STICKS_DEG) return "along X";
  if (Math.abs(degrees - 90) <= STICKS_DEG) return "along Y";
  return `${5 * Math.round(degrees / 5)} deg`;
}

/** A step of whole minutes, or seconds, between marks of which at most `most` fit. [s] */
export function markEvery(total_s: number, most: number): number {
  const steps = [5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400];
  return steps.find((step) => total_s / step <= most) ?? 28800;
}

/** A moment as a clock shows it: 3:20, 1:02:07. */
export function clock(time_s: number): string {
  const whole = Math.max(0, Math.round(time_s));
  const two = (n: number) => String(n).padStart(2, "0");
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return h ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`;
}

/** From where to where a mark's words reach: to its right, or to its left where they would end outside. */
export function reach(at: number, wide: number): [number, number] {
  return at + wide > 1 && at >= wide ? [at - wide, at] : [at, at + wide];
}

/** Marks of the strip in rows, so that their words do not cover one another. Shares of its width. */
export function rows(reaches: readonly (readonly [number, number])[]): number[] {
  const taken: (readonly [number, number])[][] = [];
  return reaches.map((one) => {
    let row = taken.findIndex((held) => held.every(([from, to]) => to <= one[0] || from >= one[1]));
    if (row < 0) row = taken.push([]) - 1;
    taken[row]?.push(one);
    return row;
  });
}
