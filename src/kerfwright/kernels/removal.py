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
that ended there (``follows``), so it is left out. Steps in one line are taken together, see
``runs``: where several lower a cell, the lowest counts, and it is the first of them that made it.

Where loads are wanted the volume must be truer than the centres tell: an upright wall runs through
the middle of cells. So with ``weighed`` a cell at the cutter's rim is cut on one side of a line,
and what stands beyond is kept in a record of its own until it is gone: see ``walls``. Where no wood
stands above the rim, as in the finishing pass of a ball, there is no wall and no record.

Derived here; tests/kernels/test_removal.py checks them by dense sampling and by closed volumes.
"""

from math import pi

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.blocks import (
    FAR,
    any_above,
    copy,
    date_opened,
    date_through,
    highest_of,
    lower,
    taken_of,
)
from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel, kernel
from kerfwright.kernels.engagement import LANE_PAD, nothing
from kerfwright.kernels.parts import (
    BEHIND,
    DEEPEST,
    LEAST,
    START,
    TIP,
    least_z_of,
    number_part,
    under_parts,
)
from kerfwright.kernels.profile import (
    DISC,
    FLANK,
    RADIUS,
    UNDERCUT,
    profile_mm,
    rise,
)
from kerfwright.kernels.stepping import MOST_IN_GROUP
from kerfwright.kernels.tiles import BLOCK, TILE
from kerfwright.kernels.undercut import MOST_PIECES, swept_spans, take_spans
from kerfwright.kernels.weighing import (
    above_path,
    into_bins,
    into_bins_up,
    into_lanes,
    tops,
    weigh,
    whole,
)

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)
_PAD = _f(LANE_PAD - 0.5)
_NO_WALL = _f(1e-4)  #: wood above the rim that is but rounding [mm]
_PLAIN_ROWS = 11
_SPAN_ROWS = _PLAIN_ROWS + MOST_PIECES
_PART_ROWS = _SPAN_ROWS + MOST_PIECES
WORK_ROWS = _PART_ROWS + MOST_IN_GROUP  #: see ``_cut_tile``
_CORNER = _f(0.7072)  #: from the centre of a cell to its corner, in cells


@inner_kernel(**INLINED)
def _gather(  # type: ignore[no-untyped-def]
    n, in_lanes, up, wood, taken, under, low, along, across, a0, b0, z, m, radius, per_lane,
    by_rows, hits, high, cell, form, engagement,
):  # fmt: skip
    """Add what was taken from a block to a run's engagement: by lanes, or by bins straight down.

    ``up``: how far a cutter that undercuts goes up where its wood is put in bins.
    """
    if in_lanes:
        above_path(n, under, along, a0, z, m, low)
        into_lanes(n, wood, taken, low, across, (b0 + radius) * per_lane + _PAD, per_lane, by_rows,
                   hits, high, engagement)  # fmt: skip
    elif up > _ZERO:
        into_bins_up(n, wood, taken, low, along, across, a0, b0, z, up, cell, engagement)
    else:
        into_bins(n, wood, taken, along, across, a0, b0, cell, form, engagement)


@inner_kernel(**INLINED)
def _cut_spans(  # type: ignore[no-untyped-def]
    n, begin, lows, highs, under, along, across, a0, b0, near_axis, z, m, length, upright, least,
    shape, form, spans, bottom, number, height, made_by, through_at, wood, taken, low, lost,
):  # fmt: skip
    """Take one part of a run out of a block whose wood is kept in spans. Returns what was taken."""
    pieces = 1
    if shape == UNDERCUT:
        # Both ends of a span may lie where the step begins, save on a level one.
        pieces = swept_spans(
            n, lows, highs, along, across, a0, b0, near_axis, z, m, length, upright,
            least if m == _ZERO else -FAR, form,
        )  # fmt: skip
    else:
        copy(n, under, lows[0])
    return take_spans(
        n, begin, pieces, lows, highs, spans, bottom, number, height,
        made_by, through_at, wood, taken, low, lost,
    )  # fmt: skip


@inner_kernel(**INLINED)
def _cut_cells(  # type: ignore[no-untyped-def]
    n, place, block, plain, walls, deepest, bottom, under, made, taken, wood, cells, scratch, along,
    across, a0, b0, ux, uy, length, radius, inner_edge2, cell, rim, rim_level, clipped, form,
    beneath, height, here_cells, made_by, through_at, wall_of, walled, records, free, polygons, top,
):  # fmt: skip
    """Lower the cells of a block to ``under``. Returns the sum of what was taken.

    How tall it stood is written in ``taken``; its mean over each cell too where the block is
    ``plain``, else in ``wood``.
    """
    begin = block * n
    if walls:
        tops(n, place, begin, height, wall_of, records, cells)
    elif not plain:
        copy(n, here_cells, cells)
    gone = taken_of(n, here_cells if plain else cells, under, taken, scratch)
    if not gone > _ZERO:
        return 0.0
    if plain:
        lower(n, here_cells, made_by[place, begin : begin + n], under, made)
        if deepest <= bottom:
            date_through(n, place, begin, taken, under, made, bottom, through_at)
        here, left = float(gone), here_cells
    else:
        whole(n, begin, taken, wall_of, along, across, a0, b0, length, inner_edge2,
              wood)  # fmt: skip
        here = weigh(
            n, place, block, taken, under, wood, made, bottom, height, made_by,
            through_at, cells, wall_of, walled, records, free, polygons, along,
            across, a0, b0, ux, uy, length, radius, inner_edge2, cell,
            rim, rim_level, clipped, form,
        )  # fmt: skip
        left = cells
    if beneath.shape[0] > 0:
        date_opened(n, place, begin, made, height, beneath, made_by, through_at)
    top[block] = highest_of(n, left, scratch)
    return here


@inner_kernel(**BORROWING)
def _cut_tile(  # type: ignore[no-untyped-def]
    tile_x,
    tile_y,
    place,
    entries,
    run_of,
    entry_of,
    part,
    part_follows,
    part_number,
    run_first,
    goes_along,
    in_lanes,
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
    made,
    polygons,
    volume,
    engagement,
):
    """Take the given runs of steps, in order, out of one tile.

    Returns how many of them were taken: fewer than ``entries`` where the records ran out. Call it
    again for the rest, with more.

    Parameters
    ----------
    tile_x, tile_y : index of the tile; place : its place in the stores below.
    entries : how many runs touch it; run_of, entry_of : (entries,) their index in this window
        and the row that each writes in ``volume`` and ``engagement``.
    part .. goes_along : from ``runs.make_runs``, in mm from the corner of the field; a part that
        ``follows`` begins where the one before ended, with the same cutter.
    in_lanes : of each run, whether its wood is gathered in lanes; else in bins.
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
    work : (WORK_ROWS, BLOCK²) float32, hits, made : (BLOCK²,) uint32, int32, polygons :
        (4, MOST_CORNERS) float64; worked in.
    volume : (rows,) sum of depths taken. [mm]; times the cell's area it is a volume.
    engagement : (rows, LANE_ROWS, ``row_length``) written where something was taken: by
        lanes, or by bins for a run straight down or steeply up.
    """
    per_side = TILE // BLOCK
    n = work.shape[1]  # told to the compiler as a constant, loops of 64 are not vectorised
    taken, scratch, under, wood, low, cells = work[0], work[1], work[2], work[3], work[4], work[5]
    along, across, px, py, other = work[6], work[7], work[8], work[9], work[10]
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
    lows, highs = work[_PLAIN_ROWS : _PLAIN_ROWS + MOST_PIECES], work[_SPAN_ROWS:_PART_ROWS]
    numbers_of = work[_PART_ROWS:]
    if in_spans:
        for j in range(n):
            highs[0, j] = FAR
    # Cells whose centre lies this far out are touched by the rim, and from there inwards whole.
    beyond = _CORNER * cell if weighed and not in_spans else _ZERO
    far, near = radius + beyond, max(radius - beyond, _ZERO)
    # Where the floor may be that of the board, the rim's height cannot be told from it.
    clipped = FAR if beneath.shape[0] > 0 else bottom
    far2 = float(far) * float(far)
    beyond_block2 = (far + reach) * (far + reach)
    heights, tops_here = height[place], top[place]
    any_walls = weighed and walled.shape[0] > 0
    widened, inner_edge2 = radius2 - far * far, near * near
    for entry in range(entries):
        run, row = run_of[entry], entry_of[entry]
        goes = goes_along[run]
        total = 0.0
        fresh, turned = True, False
        begin_part, end_part = run_first[run], run_first[run + 1]
        # Spans are cut part by part: each may leave several of them.
        for first in range(begin_part, end_part if in_spans else begin_part + 1):
            after = first + 1 if in_spans else end_part
            x0, y0 = part[first, 0], part[first, 1]
            dx, dy = part[after - 1, 3] - x0, part[after - 1, 4] - y0
            if goes:
                length_mm = np.sqrt(dx * dx + dy * dy)
                ux, uy = _f(dx / length_mm), _f(dy / length_mm)
            else:
                length_mm = 0.0
                ux, uy = _ONE, _ZERO
            length = _f(length_mm)
            deepest, behind = FAR, FAR
            for p in range(first, after):
                numbers = numbers_of[p - first]
                number_part(part[p], part_follows[p], x0, y0, ux, uy, goes, shape, radius, far,
                             flank_, numbers)  # fmt: skip
                deepest = min(deepest, numbers[DEEPEST])
                behind = min(behind, numbers[START] + numbers[BEHIND])
            # The run's line as a whole, from which heights above the path are told.
            z = numbers_of[0, TIP]
            m = _f(part[after - 1, 5] - part[first, 2]) / length if goes else _ZERO
            up = _f(part[after - 1, 5] - part[first, 2])
            upright = _ZERO if goes else abs(up)
            x0, y0 = x0 - origin_x, y0 - origin_y
            x1, y1 = x0 + dx, y0 + dy
            if not goes:
                x1, y1 = x0, y0
            west, east, south, north = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
            c0 = max(0, int((west - far) * per_block))
            c1 = min(per_side - 1, int((east + far) * per_block))
            r0 = max(0, int((south - far) * per_block))
            r1 = min(per_side - 1, int((north + far) * per_block))
            rim_level = max(deepest + rim, bottom) if weighed and not in_spans else FAR
            if weighed and not in_spans:
                # No more cells than these can get a wall by this run.
                most = int(2.0 * (2.0 * pi * radius_mm + 2.0 * length_mm) / cell_mm) + n
                short = free.shape[0] == 0 or free[0] < min(most, TILE * TILE)
                if short and any_above(tops_here, per_side, c0, c1, r0, r1, rim_level + _NO_WALL):
                    return entry
            by_rows = abs(uy) > abs(ux)
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
                    plain = not walls and (
                        highest <= rim_level + _NO_WALL or distance + reach <= near
                    )
                    if plain and distance > radius + reach:
                        continue
                    near_axis = distance - reach
                    least_z = least_z_of(shape, near_axis, deepest, radius, radius2, flank_, tip,
                                       rim, form)  # fmt: skip
                    if highest <= max(least_z, bottom):
                        continue
                    if not turned:
                        for j in range(n):
                            along[j] = px[j] * ux + py[j] * uy
                            across[j] = py[j] * ux - px[j] * uy
                        turned = True
                    begin = block * n
                    outer = _ZERO if plain else widened
                    a0, b0 = xc * ux + yc * uy, yc * ux - xc * uy
                    met = under_parts(
                        n, under, other, taken, scratch, along, across, a0, b0, am, bm, near_axis,
                        numbers_of, after - first, part_number[first:after], first_step, plain,
                        highest, length, shape, radius, radius2, bottom, outer, flank_, tip, rim,
                        form, reach, cell, beyond_block2, made,
                    )  # fmt: skip
                    if met == 0:
                        continue
                    if beneath.shape[0] > 0:
                        for j in range(n):
                            under[j] = max(under[j], beneath[place, begin + j])
                    if spans is not None:  # said anew, so that without spans none of it is compiled
                        here = _cut_spans(
                            n, begin, lows, highs, under, along, across, a0, b0, near_axis, z, m,
                            length, upright, numbers_of[0, LEAST], shape, form, spans, bottom,
                            made[0], height[place], made_by[place], through_at[place], wood, taken,
                            low, lost,
                        )  # fmt: skip
                        if here > _ZERO and weighed:
                            if fresh:
                                nothing(engagement[row])
                                fresh = False
                            at = a0 if in_lanes[run] else a0 - _HALF * length
                            _gather(
                                n, in_lanes[run], up if shape == UNDERCUT else _ZERO, wood, taken,
                                low, low, along, across, at, b0, z, m, radius, per_lane, by_rows,
                                hits, scratch, cell, form, engagement[row],
                            )  # fmt: skip
                        total += float(here)
                        tops_here[block] = highest_of(n, heights[begin : begin + n], scratch)
                        continue
                    here = _cut_cells(
                        n, place, block, plain, walls, deepest, bottom, under, made, taken, wood,
                        cells, scratch, along, across, a0, b0, ux, uy, length, radius, inner_edge2,
                        cell, rim, rim_level, clipped, form, beneath, height,
                        heights[begin : begin + n], made_by, through_at, wall_of, walled, records,
                        free, polygons, tops_here,
                    )  # fmt: skip
                    if not here > 0.0:
                        continue
                    total += here
                    if not weighed:
                        continue
                    if fresh:
                        nothing(engagement[row])
                        fresh = False
                    _gather(n, goes, _ZERO, taken if plain else wood, taken, under, low, along,
                            across, a0, b0, z, m, radius, per_lane, by_rows, hits, scratch, cell,
                            form, engagement[row])  # fmt: skip
        volume[row] = total
    return entries


@kernel(**BORROWING)
def cut_tiles(  # type: ignore[no-untyped-def]
    tiles, taken, tiles_x, places, starts, many, run_of, entry_of, part, part_follows, part_number,
    run_first, goes_along, in_lanes, first_step, cell_mm, shape, form, floor_mm, beneath, height,
    top, made_by, through_at, dated, weighed, wall_of, walled, records, free, spans, lost, lanes,
    work, hits, made, polygons, volume, engagement,
):  # fmt: skip
    """Take the runs of steps of a window out of some tiles, one tile after another.

    Returns the index in ``tiles`` of one whose records ran out, and how many of its runs were
    taken: call it again with those from there on and more records. Or the number of tiles, and 0.

    Parameters
    ----------
    tiles : (k,) int64; taken : how many runs of the first were taken before; tiles_x : in a row.
    places : (all tiles,) of each tile in the stores below.
    starts, many : (all tiles,) where in ``run_of`` and ``entry_of`` the runs of each tile begin,
        and how many there are.
    dated : whether ``made_by`` and ``through_at`` are kept; else they are (1, TILE²) to work in.
    wall_of, walled, records, free : of each of the tiles, in tuples of one length, k at least.
    spans, lost : of the one tile, if it is kept in spans.
    All others : see ``_cut_tile``.
    """
    for j in range(tiles.shape[0]):
        tile = tiles[j]
        a, b = starts[tile], starts[tile] + many[tile]
        if j == 0:
            a += taken
        p = places[tile]
        d = p if dated else 0
        done = _cut_tile(
            tile % tiles_x, tile // tiles_x, 0, b - a, run_of[a:b], entry_of[a:b], part,
            part_follows, part_number, run_first, goes_along, in_lanes, first_step, cell_mm, shape,
            form, floor_mm, beneath[p : p + 1], height[p : p + 1], top[p : p + 1],
            made_by[d : d + 1], through_at[d : d + 1], weighed, wall_of[j], walled[j], records[j],
            free[j], spans, lost, lanes, work, hits, made, polygons, volume, engagement,
        )  # fmt: skip
        if done < b - a:
            return j, a + done - starts[tile]
    return tiles.shape[0], 0


def cut_reference(
    height_mm: NDArray[np.float64],
    cell_mm: float,
    steps: NDArray[np.float64],
    form: NDArray[np.float64],
    samples: int = 400,
) -> NDArray[np.float64]:
    """The field after the steps, by setting the cutter down many times along each: the definition.

    ``height_mm`` (rows, columns), ``steps`` (k, 6) as in ``_cut_tile``.
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
