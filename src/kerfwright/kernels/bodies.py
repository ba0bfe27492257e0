"""What turns above the flutes, as discs, against boxes and against wood that still stands.

A body is a stack of discs (radius, height of the lower face above the cutter's tip), each going on
upwards without end. Along a straight step the disc covers the points within its radius of the step;
a point (a along, b across) is covered from a - w to a + w, w = sqrt(r² - b²), limited to the step,
and the disc is lowest over it at one of these ends. A box stands from the ground up to its top; the
places of the disc's middle that touch it from above are the box's sides moved out by the radius
with round corners, which is the union of two rectangles and four circles and has no hollow: so a
straight step is over it in one piece, from the first entry into any of the six to the last exit.

Derived here; tests/kernels/test_bodies.py checks both by dense sampling and by closed geometry.
"""

from math import floor, hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

CLEAR, OPEN, HIT = 0, 1, 2
#: Cells along a side of the blocks whose highest cell is known.
SIDE = 16
_STILL_MM = 1e-12  #: less is no travel

FloatArray = NDArray[np.float64]


@inner_kernel(**NUMPY)
def _within(p, d, low, high):  # type: ignore[no-untyped-def]
    """Where p + s d lies between two ends: first and last s, first above last if never."""
    if abs(d) < _STILL_MM:
        return (-inf, inf) if low < p < high else (inf, -inf)
    a, b = (low - p) / d, (high - p) / d
    return (a, b) if a < b else (b, a)


@inner_kernel(**NUMPY)
def _within_circle(x, y, dx, dy, r):  # type: ignore[no-untyped-def]
    """The same for the distance from the origin being below r."""
    l2 = dx * dx + dy * dy
    if l2 < _STILL_MM**2:
        return (-inf, inf) if x * x + y * y < r * r else (inf, -inf)
    t = -(x * dx + y * dy) / l2
    ex, ey = x + t * dx, y + t * dy
    rest = r * r - ex * ex - ey * ey
    if not rest > 0.0:
        return inf, -inf
    w = sqrt(rest / l2)
    return t - w, t + w


@inner_kernel(**NUMPY)
def _over(x, y, dx, dy, x0, y0, x1, y1, r):  # type: ignore[no-untyped-def]
    """First and last s at which a disc along a line is over a box, first above last if never."""
    first, last = inf, -inf
    for turned in range(2):
        wide = r if turned == 0 else 0.0
        high = 0.0 if turned == 0 else r
        a, b = _within(x, dx, x0 - wide, x1 + wide)
        c, d = _within(y, dy, y0 - high, y1 + high)
        a, b = max(a, c), min(b, d)
        if a < b:
            first, last = min(first, a), max(last, b)
    for corner in range(4):
        cx = x0 if corner % 2 == 0 else x1
        cy = y0 if corner < 2 else y1
        a, b = _within_circle(x - cx, y - cy, dx, dy, r)
        if a < b:
            first, last = min(first, a), max(last, b)
    return first, last


@kernel(**NUMPY)
def run_into_box(start, end, discs, box, top, enters, sunk, aside):  # type: ignore[no-untyped-def]
    """Where straight steps bring a body into a box.

    Parameters
    ----------
    start, end : (k, 3) tip at both ends of each step. discs : (d, 2) radius, height above the tip.
    box : (4,) left, front, right, back. top : of the box.
    enters : (k,) written: share of the step at which the body first is in the box, inf if never.
    sunk : (k,) written: how far the lowest of the discs that are over the box goes below its top.
    aside : (k, 4) written: how far the box would have to go left, right, forward and back so that
    nothing of the step is over it; enough, at a corner more than needed.
    """
    x0, y0, x1, y1 = box[0], box[1], box[2], box[3]
    for i in range(start.shape[0]):
        enters[i], sunk[i] = inf, 0.0
        for side in range(4):
            aside[i, side] = 0.0
        x, y, z = start[i, 0], start[i, 1], start[i, 2]
        dx, dy, dz = end[i, 0] - x, end[i, 1] - y, end[i, 2] - z
        for k in range(discs.shape[0]):
            r = discs[k, 0]
            low, high = _within(z + discs[k, 1], dz, -inf, top)
            low, high = max(low, 0.0), min(high, 1.0)
            first, last = _over(x, y, dx, dy, x0, y0, x1, y1, r)
            first, last = max(first, low), min(last, high)
            if not first < last:
                continue
            enters[i] = min(enters[i], first)
            deepest = min(z + first * dz, z + last * dz) + discs[k, 1]
            sunk[i] = max(sunk[i], top - deepest)
            a, b = _within(y, dy, y0 - r, y1 + r)
            a, b = max(a, low), min(b, high)
            xa, xb = x + a * dx, x + b * dx
            aside[i, 0] = max(aside[i, 0], x1 - (min(xa, xb) - r))
            aside[i, 1] = max(aside[i, 1], max(xa, xb) + r - x0)
            a, b = _within(x, dx, x0 - r, x1 + r)
            a, b = max(a, low), min(b, high)
            ya, yb = y + a * dy, y + b * dy
            aside[i, 2] = max(aside[i, 2], y1 - (min(ya, yb) - r))
            aside[i, 3] = max(aside[i, 3], max(ya, yb) + r - y0)


def run_into_box_reference(
    start: FloatArray, end: FloatArray, discs: FloatArray, box: FloatArray, top: float, samples: int
) -> tuple[FloatArray, FloatArray]:
    """``enters`` and ``sunk`` by setting the body down many times along each step: the definition.

    An entry is late by up to a sample, and a touch shorter than that is not seen.
    """
    enters, sunk = np.full(len(start), np.inf), np.zeros(len(start))
    x0, y0, x1, y1 = box
    for i, (p, q) in enumerate(zip(start, end, strict=True)):
        for share in np.linspace(0.0, 1.0, samples):
            x, y, z = p + share * (q - p)
            away = np.hypot(max(x0 - x, 0.0, x - x1), max(y0 - y, 0.0, y - y1))
            for radius, height in discs:
                if away < radius and z + height < top:
                    enters[i] = min(enters[i], share)
                    sunk[i] = max(sunk[i], top - z - height)
    return enters, sunk


@kernel(**NUMPY)
def stand_in_wood(  # type: ignore[no-untyped-def]
    steps,
    done,
    radius,
    height,
    cell,
    first_row,
    first_column,
    least,
    most,
    made,
    least_top,
    most_top,
    made_last,
    graze,
    state,
    deepest,
):
    """Whether a disc above the tip meets wood along each step, as far as two moments tell.

    Parameters
    ----------
    steps : (k, 6) the tip at both ends, in the frame of the cells. done : (k,) how many steps are
    cut when the step is over. radius, height : of the disc.
    first_row, first_column : of the arrays, in cells.
    least, most, made : (rows, columns) heights at a later and at an earlier moment, and the last
    step that lowered each cell by the later one, -1 if none: where it is below ``done`` the cell
    stands at ``least``, elsewhere between both.
    least_top, most_top, made_last : the same by blocks, each the largest of SIDE x SIDE cells.
    graze : how far it may go into wood.
    state : (k,) written: CLEAR, HIT, or OPEN where the two moments do not settle it.
    deepest : (2,) how far the deepest step goes into wood and which that is; in and out, so that
    steps may come in portions: begin with 0 and -1. Index counted within these steps.
    """
    rows, columns = least.shape
    block = SIDE * cell
    x_off, y_off = first_column * cell, first_row * cell
    reach = 0.5 * sqrt(2.0) * block
    for i in range(steps.shape[0]):
        state[i] = CLEAR
        x, y, z = steps[i, 0] - x_off, steps[i, 1] - y_off, steps[i, 2] + height
        dx, dy, dz = steps[i, 3] - steps[i, 0], steps[i, 4] - steps[i, 1], steps[i, 5] - steps[i, 2]
        low = z + min(dz, 0.0) + graze
        length = hypot(dx, dy)
        ux, uy, m = 1.0, 0.0, 0.0
        if length > 0.0:
            ux, uy, m = dx / length, dy / length, dz / length
        c0 = max(0, floor((min(x, x + dx) - radius) / block))
        c1 = min(least_top.shape[1] - 1, floor((max(x, x + dx) + radius) / block))
        r0 = max(0, floor((min(y, y + dy) - radius) / block))
        r1 = min(least_top.shape[0] - 1, floor((max(y, y + dy) + radius) / block))
        for r in range(r0, r1 + 1):
            for c in range(c0, c1 + 1):
                sure = least_top[r, c] > low and (
                    state[i] != HIT or least_top[r, c] - low + graze > deepest[0]
                )
                unsure = state[i] == CLEAR and made_last[r, c] >= done[i] and most_top[r, c] > low
                if not (sure or unsure):
                    continue
                bx, by = (c + 0.5) * block - x, (r + 0.5) * block - y
                a = min(max(bx * ux + by * uy, 0.0), length)
                if hypot(bx - a * ux, by - a * uy) > radius + reach:
                    continue
                for row in range(r * SIDE, min((r + 1) * SIDE, rows)):
                    py = (row + 0.5) * cell - y
                    for column in range(c * SIDE, min((c + 1) * SIDE, columns)):
                        here = least[row, column]
                        later = made[row, column] >= done[i]
                        if not (here > low or (later and most[row, column] > low)):
                            continue
                        px = (column + 0.5) * cell - x
                        a, b = px * ux + py * uy, py * ux - px * uy
                        off = a - min(max(a, 0.0), length)
                        w2 = radius * radius - b * b
                        if not off * off < w2:
                            continue
                        s = 0.0
                        if m > 0.0:
                            s = max(a - sqrt(w2), 0.0)
                        elif m < 0.0:
                            s = min(a + sqrt(w2), length)
                        under = z + m * s if length > 0.0 else z + min(dz, 0.0)
                        if here - under > graze:
                            state[i] = HIT
                            if here - under > deepest[0]:
                                deepest[0], deepest[1] = here - under, i
                        elif later and most[row, column] - under > graze and state[i] == CLEAR:
                            state[i] = OPEN


def stand_in_wood_reference(
    steps: FloatArray,
    done: NDArray[np.int64],
    radius: float,
    height: float,
    cell: float,
    least: FloatArray,
    most: FloatArray,
    made: NDArray[np.int64],
    graze: float,
) -> tuple[NDArray[np.int64], FloatArray]:
    """State and depth of each step, cell by cell without blocks: the definition."""
    rows, columns = least.shape
    y, x = (np.mgrid[0:rows, 0:columns] + 0.5) * cell
    state, deep = np.zeros(len(steps), np.int64), np.zeros(len(steps))
    for i, step in enumerate(steps):
        way = step[3:] - step[:3]
        length = float(np.hypot(way[0], way[1]))
        ux, uy = (way[0] / length, way[1] / length) if length > 0.0 else (1.0, 0.0)
        px, py = x - step[0], y - step[1]
        a, b = px * ux + py * uy, py * ux - px * uy
        off = a - np.clip(a, 0.0, length)
        w2 = radius**2 - b**2
        inside = off**2 < w2
        under = step[2] + height + min(way[2], 0.0)
        if length > 0.0:
            m, w = way[2] / length, np.sqrt(np.maximum(w2, 0.0))
            s = np.maximum(a - w, 0.0) if m > 0.0 else np.minimum(a + w, length)
            under = step[2] + height + m * (s if m != 0.0 else 0.0)
        hit = inside & (least - under > graze)
        later = inside & (made >= done[i]) & (most - under > graze)
        state[i] = HIT if hit.any() else OPEN if later.any() else CLEAR
        deep[i] = np.where(hit, least - under, 0.0).max()
    return state, deep


def tops(values: NDArray[np.generic]) -> NDArray[np.generic]:
    """The largest of each SIDE x SIDE cells, the last ones as far as they go."""
    rows, columns = values.shape
    down = np.maximum.reduceat(values, np.arange(0, rows, SIDE), axis=0)
    return np.asarray(np.maximum.reduceat(down, np.arange(0, columns, SIDE), axis=1))
