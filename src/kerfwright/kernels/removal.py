"""What each step of a cutter takes from a height field, cell by cell.

A field is cut into tiles of 128 x 128 cells, a tile into blocks of 8 x 8 cells that lie one after
another in memory. Cells are sampled at their centres, in float32. For a step from p0 to p1 with
horizontal length L and slope m, a cell at (a along, b across) from p0 is lowest under the cutter
when the cutter stands at s:

- ball: s = a - k w, w = sqrt(R² - b²), k = m / sqrt(1 + m²);
- flat: s = a - w rising, a + w falling;
- V of flank slope c with a flat point of radius t: s = a - e rising, a + e falling,
  e = |m b| / sqrt(c² - m²), not within the flat, sqrt(t² - b²), nor beyond the rim, w;

each limited to 0..L. A cell whose s lies at 0 was under the cutter already at the end of a step
that ended there (``follows``), so it is left out.

Where loads are wanted the volume must be truer than the centres tell: an upright wall runs through
the middle of cells. So with ``weighed`` a cell at the cutter's rim is cut on one side of a line,
and what stands beyond is kept in a record of its own until it is gone: see ``walls``. Where no wood
stands above the rim, as in the finishing pass of a ball, there is no wall and no record.

Derived here; tests/kernels/test_removal.py checks them by dense sampling and by closed volumes.
"""

from math import pi

import numpy as np
from numba import njit
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.engagement import LANE_PAD, nothing
from kerfwright.kernels.outline import cone, kappa_of, under_polyline, under_round
from kerfwright.kernels.profile import (
    BALL,
    DISC,
    FLANK,
    FLAT,
    OUTLINE,
    RADIUS,
    ROUND,
    UNDERCUT,
    VEE,
    profile_mm,
    rise,
)
from kerfwright.kernels.tiles import BLOCK, TILE
from kerfwright.kernels.undercut import MOST_PIECES, swept_spans, take_spans
from kerfwright.kernels.weighing import above_path, into_bins, into_lanes, tops, weigh, whole

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)
_FAR = _f(1e30)
_PAD = _f(LANE_PAD - 0.5)
_NO_WALL = _f(1e-4)  #: wood above the rim that is but rounding [mm]
_PLAIN_ROWS = 10
WORK_ROWS = _PLAIN_ROWS + 2 * MOST_PIECES  #: see ``cut_tile``
_CORNER = _f(0.7072)  #: from the centre of a cell to its corner, in cells


@njit(**BORROWING)
def _ball(  # type: ignore[no-untyped-def]
    n, under, along, across, a0, b0, k, radius2, centre_z, m, length, least,
    bottom, outer,
):  # fmt: skip
    for j in range(n):
        a = a0 + along[j]
        b = b0 + across[j]
        w2 = radius2 - b * b
        w = np.sqrt(w2 if w2 > _ZERO else _ZERO)
        u = a - k * w
        s = u if u > _ZERO else _ZERO
        s = s if s < length else length
        e = a - s
        q = w2 - e * e
        g = centre_z + m * s - np.sqrt(q if q > _ZERO else _ZERO)
        g = g if g > bottom else bottom
        inside = (q > outer) & (u > least)
        under[j] = g if inside else _FAR


@njit(**BORROWING)
def _flat(  # type: ignore[no-untyped-def]
    n, under, along, across, a0, b0, side, radius2, z, m, length, least,
    bottom, outer,
):  # fmt: skip
    for j in range(n):
        a = a0 + along[j]
        b = b0 + across[j]
        nearest = a if a > _ZERO else _ZERO
        nearest = nearest if nearest < length else length
        off = a - nearest
        w2 = radius2 - b * b
        w = np.sqrt(w2 if w2 > _ZERO else _ZERO)
        s = a + side * w
        s = s if s > _ZERO else _ZERO
        s = s if s < length else length
        g = z + m * s
        g = g if g > bottom else bottom
        q = w2 - off * off
        inside = (q >= outer) & (a > least)
        under[j] = g if inside else _FAR


@njit(**BORROWING)
def _taken(n, height, under, taken, scratch):  # type: ignore[no-untyped-def]
    """How far the cells of a block stand above the cutter. Returns the sum."""
    half = n >> 1
    for j in range(half):
        d, e = height[j] - under[j], height[j + half] - under[j + half]
        d = d if d > _ZERO else _ZERO
        e = e if e > _ZERO else _ZERO
        taken[j], taken[j + half] = d, e
        scratch[j] = d + e
    half = n >> 2
    for j in range(half):
        scratch[j] += scratch[j + half]
    half = n >> 3
    total = _ZERO
    for j in range(half):
        total += scratch[j] + scratch[j + half]
    return total


@njit(**BORROWING)
def _copy(n, values, out):  # type: ignore[no-untyped-def]
    for j in range(n):
        out[j] = values[j]


@njit(**BORROWING)
def _highest(n, values, scratch):  # type: ignore[no-untyped-def]
    """By halving, which takes several at a time."""
    half = n >> 1
    for j in range(half):
        x, y = values[j], values[j + half]
        scratch[j] = x if x > y else y
    half = n >> 2
    for j in range(half):
        x, y = scratch[j], scratch[j + half]
        scratch[j] = x if x > y else y
    half = n >> 3
    highest = -_FAR
    for j in range(half):
        x, y = scratch[j], scratch[j + half]
        x = x if x > y else y
        highest = x if x > highest else highest
    return highest


@njit(**BORROWING)
def _lower(n, height, made_by, under, number):  # type: ignore[no-untyped-def]
    """Lower the cells of a block that stand above the cutter."""
    for j in range(n):
        h, g = height[j], under[j]
        lower = g < h
        height[j] = g if lower else h
        made_by[j] = number if lower else made_by[j]


@njit(**BORROWING)
def _through(n, place, begin, taken, under, number, bottom, through_at):  # type: ignore[no-untyped-def]
    """Date the cells of a block of which nothing is left."""
    for j in range(n):
        i = begin + j
        if taken[j] > _ZERO and under[j] <= bottom and through_at[place, i] < 0:
            through_at[place, i] = number


@njit(**BORROWING)
def _any_above(top, per_side, c0, c1, r0, r1, level):  # type: ignore[no-untyped-def]
    """Whether wood stands above a level in any of the blocks."""
    for r in range(r0, r1 + 1):
        for c in range(c0, c1 + 1):
            if top[r * per_side + c] > level:
                return True
    return False


@njit(**BORROWING)
def _opened(n, place, begin, number, height, beneath, made_by, through_at):  # type: ignore[no-untyped-def]
    """Date the cells of a block that this step opened into a hollow below."""
    for j in range(n):
        i = begin + j
        open_now = made_by[place, i] == number and height[place, i] <= beneath[place, i]
        if open_now and through_at[place, i] < 0:
            through_at[place, i] = number


@njit(**BORROWING)
def cut_tile(  # type: ignore[no-untyped-def]
    tile_x,
    tile_y,
    place,
    entries,
    step_of,
    entry_of,
    steps,
    follows,
    first_step,
    cell_mm,
    shape,
    form,
    floor_mm,
    beneath,
    height,
    top,
    made_by,
    through_at,
    weighed,
    wall_of,
    walled,
    records,
    free,
    spans,
    lost,
    lanes,
    work,
    hits,
    polygons,
    volume,
    engagement,
):
    """Take the given steps, in order, out of one tile.

    Returns how many of them were taken: fewer than ``entries`` where the records ran out. Call it
    again for the rest, with more.

    Parameters
    ----------
    tile_x, tile_y : index of the tile; place : its place in the stores below.
    entries : how many steps touch it; step_of, entry_of : (entries,) their index in this window
        and the row that each writes in ``volume`` and ``engagement``.
    steps : (w, 6) x y z at begin and end, from the corner of the field. [mm]
    follows : (w,) true where a step begins where the one before ended, with the same cutter.
    first_step : number of the window's first step in the whole run.
    shape, form : of the cutter; see ``profile``.
    floor_mm : nothing is taken below it.
    beneath : (places, TILE²) underside of each cell where it is hollow from below, else (0, TILE²).
    height, made_by, through_at : (places, TILE²) by blocks; top : (places, blocks) highest wood.
    weighed : whether volumes are told by the share of each cell, and ``engagement`` is written.
    wall_of : (TILE²,) which record each cell of this tile has, 0 for none; walled : (blocks,) how
        many cells of each block have one; records : (r, RECORD), the first is never used; free :
        (r,) how many are free, and which. See ``walls``; may be empty as long as no wall is cut.
    spans, lost : (TILE², SPANS, 2) the tile's wood in spans and (1,) what is counted of them, see
        ``undercut``; None where each column is whole, as it must not be for an UNDERCUT.
    lanes : of the cutter, see ``engagement``.
    work : (WORK_ROWS, BLOCK²) float32, hits : (BLOCK²,) int32, polygons : (4, MOST_CORNERS)
        float64; worked in.
    volume : (rows,) sum of depths taken. [mm]; times the cell's area it is a volume.
    engagement : (rows, LANE_ROWS, ``row_length``) written where something was taken: by
        lanes, or by bins for a step straight down.
    """
    per_side = TILE // BLOCK
    n = BLOCK * BLOCK
    taken, scratch, under, wood, low, cells = work[0], work[1], work[2], work[3], work[4], work[5]
    along, across, px, py = work[6], work[7], work[8], work[9]
    per_lane = _f(lanes / (2.0 * form[RADIUS]))
    for j in range(n):
        px[j] = _f((j % BLOCK) * cell_mm)
        py[j] = _f((j // BLOCK) * cell_mm)
    cell = _f(cell_mm)
    per_block = 1.0 / (BLOCK * cell_mm)
    half = _f(0.5 * (BLOCK - 1) * cell_mm)
    reach = _f(0.5 * (BLOCK - 1) * cell_mm * 1.41422)
    origin_x, origin_y = tile_x * TILE * cell_mm, tile_y * TILE * cell_mm
    radius_mm = form[RADIUS]
    radius, radius2 = _f(radius_mm), _f(radius_mm) * _f(radius_mm)
    flank_, tip, bottom = _f(form[FLANK]), _f(form[DISC]), _f(floor_mm)
    rim = _f(rise(radius_mm, form))
    in_spans = spans is not None
    lows, highs = work[_PLAIN_ROWS : _PLAIN_ROWS + MOST_PIECES], work[_PLAIN_ROWS + MOST_PIECES :]
    if in_spans:
        for j in range(n):
            highs[0, j] = _FAR
    # Cells whose centre lies this far out are touched by the rim, and from there inwards whole.
    beyond = _CORNER * cell if weighed and not in_spans else _ZERO
    far, near = radius + beyond, max(radius - beyond, _ZERO)
    # Where the floor may be that of the board, the rim's height cannot be told from it.
    clipped = _FAR if beneath.shape[0] > 0 else bottom
    far2 = float(far) * float(far)
    beyond_block2 = (far + reach) * (far + reach)
    heights, made, tops_here = height[place], made_by[place], top[place]
    any_walls = weighed and walled.shape[0] > 0
    widened, inner_edge2 = radius2 - far * far, near * near
    for entry in range(entries):
        w = step_of[entry]
        row = entry_of[entry]
        x0, y0 = steps[w, 0] - origin_x, steps[w, 1] - origin_y
        x1, y1 = steps[w, 3] - origin_x, steps[w, 4] - origin_y
        dx, dy, dz = _f(x1 - x0), _f(y1 - y0), _f(steps[w, 5] - steps[w, 2])
        z = _f(steps[w, 2])
        length = np.sqrt(dx * dx + dy * dy)
        follow = follows[w]
        if length > _f(1e-6):
            ux, uy, m = dx / length, dy / length, dz / length
        else:
            # Straight down or up: a stamp at the lower end.
            ux, uy, m, length = _ONE, _ZERO, _ZERO, _ZERO
            z = min(z, z + dz)
            follow = False
        deepest = z + min(_ZERO, m * length)
        k, kappa, least, behind = _ZERO, _ZERO, -_FAR, -far
        side = _ONE if m < _ZERO else -_ONE
        if shape == BALL:
            k = m / np.sqrt(_ONE + m * m)
            if follow:
                least = _ZERO
                behind = min(_ZERO, k * radius)
        else:
            if follow and m >= _ZERO:
                least = _ZERO
                behind = _ZERO
            if shape == VEE:
                kappa = kappa_of(m, flank_)
        total = 0.0
        fresh = True
        number = np.int32(first_step + w)
        west, east, south, north = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
        c0 = max(0, int((west - far) * per_block))
        c1 = min(per_side - 1, int((east + far) * per_block))
        r0 = max(0, int((south - far) * per_block))
        r1 = min(per_side - 1, int((north + far) * per_block))
        rim_level = max(deepest + rim, bottom) if weighed and not in_spans else _FAR
        if weighed and not in_spans:
            # No more cells than these can get a wall by this step.
            most = int(2.0 * (2.0 * pi * radius_mm + 2.0 * float(length)) / cell_mm) + n
            short = free.shape[0] == 0 or free[0] < min(most, TILE * TILE)
            if short and _any_above(tops_here, per_side, c0, c1, r0, r1, rim_level + _NO_WALL):
                return entry
        turned, by_rows = False, abs(uy) > abs(ux)
        lowest = max(deepest, bottom)
        for r in range(r0, r1 + 1):
            yc = _f((r * BLOCK + 0.5) * cell_mm - y0)
            # No further along the row than this can a cell of it be under the cutter.
            gap = max(
                (r * BLOCK + 0.5) * cell_mm - north, south - ((r + 1) * BLOCK - 0.5) * cell_mm
            )
            gap = max(gap - 0.01 * cell_mm, 0.0)
            if gap >= far:
                continue
            wide = np.sqrt(far2 - gap * gap) + 0.01 * cell_mm
            c0 = max(0, int((west - wide) * per_block))
            c1 = min(per_side - 1, int((east + wide) * per_block))
            for c in range(c0, c1 + 1):
                block = r * per_side + c
                highest = tops_here[block]
                if highest <= lowest:
                    continue
                xc = _f((c * BLOCK + 0.5) * cell_mm - x0)
                xm, ym = xc + half, yc + half
                am, bm = xm * ux + ym * uy, ym * ux - xm * uy
                if am < behind - reach:
                    continue
                es = am - min(max(am, _ZERO), length)
                distance2 = es * es + bm * bm
                if distance2 > beyond_block2:
                    continue
                walls = any_walls and walled[block] > 0
                distance = np.sqrt(distance2)
                plain = not walls and (highest <= rim_level + _NO_WALL or distance + reach <= near)
                if plain and distance > radius + reach:
                    continue
                near_axis = distance - reach
                least_z = deepest
                if near_axis > _ZERO:
                    if shape == BALL:
                        q = radius2 - near_axis * near_axis
                        least_z = deepest + radius - np.sqrt(q if q > _ZERO else _ZERO)
                    elif shape == VEE:
                        lift = flank_ * (near_axis - tip)
                        least_z = deepest + min(max(_ZERO, lift), rim)
                    elif shape != FLAT:
                        least_z = deepest + _f(rise(min(near_axis, radius), form))
                least_z = max(least_z, bottom)
                if highest <= least_z:
                    continue
                if not turned:
                    for j in range(n):
                        along[j] = px[j] * ux + py[j] * uy
                        across[j] = py[j] * ux - px[j] * uy
                    turned = True
                begin = block * n
                outer = _ZERO if plain else widened
                a0, b0 = xc * ux + yc * uy, yc * ux - xc * uy
                if shape == BALL:
                    _ball(n, under, along, across, a0, b0, k, radius2,
                          z + radius, m, length, least, bottom, outer)  # fmt: skip
                elif shape == FLAT:
                    _flat(n, under, along, across, a0, b0, side, radius2, z, m,
                          length, least, bottom, outer)  # fmt: skip
                elif shape == VEE:
                    cone(n, under, along, across, a0, b0, kappa, side, radius2,
                         z, m, length, least, bottom, outer, flank_, tip)  # fmt: skip
                elif shape == ROUND:
                    under_round(n, under, taken, scratch, along, across, a0, b0, radius2, z, m,
                                length, least, bottom, outer, form)  # fmt: skip
                elif shape == OUTLINE:
                    under_polyline(n, under, scratch, along, across, a0, b0, near_axis, side, z, m,
                                   length, least, bottom, outer, form)  # fmt: skip
                if beneath.shape[0] > 0:
                    for j in range(n):
                        under[j] = max(under[j], beneath[place, begin + j])
                if spans is not None:  # said anew, so that without spans none of it is compiled
                    pieces = 1
                    if shape == UNDERCUT:
                        # Both ends of a span may lie where the step begins, save on a level one.
                        pieces = swept_spans(
                            n, lows, highs, along, across, a0, b0, near_axis, z, m, length,
                            least if m == _ZERO else -_FAR, form,
                        )  # fmt: skip
                    else:
                        _copy(n, under, lows[0])
                    here = take_spans(
                        n, begin, pieces, lows, highs, spans, bottom, number, height[place],
                        made_by[place], through_at[place], wood, taken, low, lost,
                    )  # fmt: skip
                    if here > _ZERO and weighed:
                        if fresh:
                            nothing(engagement[row])
                            fresh = False
                        if length > _ZERO:
                            above_path(n, low, along, a0, z, m, low)
                            into_lanes(n, wood, taken, low, across, (b0 + radius) * per_lane + _PAD,
                                       per_lane, by_rows, hits, engagement[row])  # fmt: skip
                        else:
                            into_bins(n, wood, taken, along, across, a0, b0, form, engagement[row])
                    total += float(here)
                    tops_here[block] = _highest(n, heights[begin : begin + n], scratch)
                    continue
                here_cells = heights[begin : begin + n]
                if walls:
                    tops(n, place, begin, height, wall_of, records, cells)
                elif not plain:
                    _copy(n, here_cells, cells)
                gone = _taken(n, here_cells if plain else cells, under, taken, scratch)
                if not gone > _ZERO:
                    continue
                if plain:
                    _lower(n, here_cells, made[begin : begin + n], under, number)
                    if deepest <= bottom:
                        _through(n, place, begin, taken, under, number, bottom, through_at)
                    here, parcels, left = float(gone), taken, here_cells
                else:
                    whole(n, begin, taken, wall_of, along, across, a0, b0, length, inner_edge2,
                          wood)  # fmt: skip
                    here = weigh(
                        n, place, block, taken, under, wood, number, bottom, height, made_by,
                        through_at, cells, wall_of, walled, records, free, polygons, along, across,
                        a0, b0, ux, uy, length, radius, inner_edge2, cell,
                        rim, rim_level, clipped, form,
                    )  # fmt: skip
                    parcels, left = wood, cells
                if beneath.shape[0] > 0:
                    _opened(n, place, begin, number, height, beneath, made_by, through_at)
                tops_here[block] = _highest(n, left, scratch)
                if not here > 0.0:
                    continue
                total += here
                if not weighed:
                    continue
                if fresh:
                    nothing(engagement[row])
                    fresh = False
                if length > _ZERO:
                    above_path(n, under, along, a0, z, m, low)
                    into_lanes(n, parcels, taken, low, across, (b0 + radius) * per_lane + _PAD,
                               per_lane, by_rows, hits, engagement[row])  # fmt: skip
                else:
                    into_bins(n, parcels, taken, along, across, a0, b0, form, engagement[row])
        volume[row] = total
    return entries


def cut_reference(
    height_mm: NDArray[np.float64],
    cell_mm: float,
    steps: NDArray[np.float64],
    form: NDArray[np.float64],
    samples: int = 400,
) -> NDArray[np.float64]:
    """The field after the steps, by setting the cutter down many times along each: the definition.

    ``height_mm`` (rows, columns), ``steps`` (k, 6) as in ``cut_tile``.
    """
    height = height_mm.copy()
    rows, columns = height.shape
    y, x = (np.mgrid[0:rows, 0:columns] + 0.5) * cell_mm
    for step in steps:
        for share in np.linspace(0.0, 1.0, samples):
            px, py, pz = step[:3] + share * (step[3:] - step[:3])
            surface = pz + profile_mm(np.hypot(x - px, y - py), form)
            height = np.minimum(height, surface)
    return height
