import { describe, expect, it } from "vitest";
import { keyframeAt } from "./arrays";
import { apart, clampAt, clock, grainWords, markEvery, reach, rows, sheetBox } from "./plan";

describe("the grain under the hand", () => {
  const at = (degrees: number) => grainWords((degrees * Math.PI) / 180);
  it("sticks to the edges of the board, whichever end of the arrow is held", () => {
    expect([0, 7, 173, 180, -5, 355, -180].map(at)).toEqual(Array(7).fill("along X"));
    expect([90, 83, 97, -90, 270].map(at)).toEqual(Array(5).fill("along Y"));
  });
  it("is told in steps of five degrees between", () => {
    expect([9, 33, 45, -45, 168, 99].map(at)).toEqual(["10 deg", "35 deg", "45 deg", "135 deg", "170 deg", "100 deg"]);
  });
});

describe("pins", () => {
  const box = sheetBox([100, 60], 10);
  it("stand at their points when these are free", () => {
    expect(apart([[10, 10], [80, 40]], 8, box)).toEqual([[10, 10], [80, 40]]);
  });
  it("never cover one another, and stay on the sheet", () => {
    const points = Array.from({ length: 12 }, () => [-9, -9] as [number, number]);
    const placed = apart(points, 5, box);
    for (const [i, a] of placed.entries()) {
      expect(a[0]).toBeGreaterThanOrEqual(box.x);
      expect(a[1]).toBeGreaterThanOrEqual(box.y);
      for (const b of placed.slice(0, i)) expect(Math.hypot(a[0] - b[0], a[1] - b[1])).toBeGreaterThanOrEqual(5 - 1e-9);
    }
  });
});

describe("a clamp that is moved", () => {
  it("keeps the rest of its row, whatever stands in it", () => {
    expect(clampAt("left at -25 mm, 45 mm size 40 x 30 mm height 18 mm", [3, 4.5])).toBe("left at 3 mm, 4.5 mm size 40 x 30 mm height 18 mm");
    expect(clampAt("small, red at 1 in, 2 in", [3, 4])).toBe("small, red at 3 mm, 4 mm");
    expect(clampAt("cam on table 10 mm, 20 mm height 9 mm", [3, 4])).toBe("cam at 3 mm, 4 mm height 9 mm");
  });
});

describe("the sheet", () => {
  it("holds what stands beside the board, but nothing that is farther off than the board is long", () => {
    expect(sheetBox([100, 40], 10)).toEqual({ x: -10, y: -10, width: 120, height: 60 });
    const near = sheetBox([100, 40], 10, [[-25, 5], [15, 60]]);
    expect(near).toEqual({ x: -27.5, y: -22.5, width: 137.5, height: 72.5 });
    const far = sheetBox([100, 40], 10, [[900, 5]]);
    expect([far.x, far.width]).toEqual([-10, 210]);
  });
});

describe("keyframes", () => {
  const changes = [{ after_s: 60 }, { after_s: 200 }];
  it("show the board up to the change that follows", () => {
    expect([0, 60, 61, 200, 201].map((t) => keyframeAt(changes, t))).toEqual([0, 0, 1, 1, 2]);
    expect(keyframeAt([], 5)).toBe(0);
  });
});

describe("the strip", () => {
  it("has as many marks as fit", () => {
    for (const total of [3, 45, 400, 5000, 40000]) expect(total / markEvery(total, 12)).toBeLessThanOrEqual(12);
  });
  it("reads like a clock", () => {
    expect([0, 59.6, 200, 3727].map(clock)).toEqual(["0:00", "1:00", "3:20", "1:02:07"]);
  });
  it("puts words that would meet in rows", () => {
    expect(rows([[0, 0.2], [0.1, 0.3], [0.5, 0.7]])).toEqual([0, 1, 0]);
  });
  it("turns words to the left where they would end outside, and keeps them apart there too", () => {
    expect(reach(0.5, 0.2)).toEqual([0.5, 0.7]);
    expect(reach(0.75, 0.5)).toEqual([0.25, 0.75]);
    expect(reach(0.1, 0.95)[0]).toBe(0.1); // too wide either way
    const placed = [0.7, 0.98, 0.99].map((at) => reach(at, 0.28));
    expect(rows(placed)).toEqual([0, 1, 2]);
    expect(rows([0.9, 0.1].map((at) => reach(at, 0.28)))).toEqual([0, 0]);
  });
});
