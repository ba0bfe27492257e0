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
    lower_of_both,
    only_inside,
    taken_of,
    under_ball,
    under_flat,
)
from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel, kernel
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
from kerfwright.kernels.stepping import MOST_IN_GROUP
from kerfwright.kernels.tiles import BLOCK, TILE
from kerfwright.kernels.undercut import MOST_PIECES, swept_spans, take_spans
from kerfwright.kernels.weighing import above_path, into_bins, into_lanes, tops, weigh, whole

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)
_PAD = _f(LANE_PAD - 0.5)
_NO_WALL = _f(1e-4)  #: wood above the rim that is but rounding [mm]
_PLAIN_ROWS = 11
_SPAN_ROWS = _PLAIN_ROWS + MOST_PIECES
_PART_ROWS = _SPAN_ROWS + MOST_PIECES
WORK_ROWS = _PART_ROWS + MOST_IN_GROUP  #: see ``cut_tile``
_CORNER = _f(0.7072)  #: from the centre of a cell to its corner, in cells


# Numbers of one part of a run, float32: where it begins along the run's line and left of it; height
# of the tip there, slope, length; from where along it cells count, and from where they may; its
# lowest tip; what of the slope the outline asks for.
_START, _ASIDE, _TIP, _SLOPE, _LENGTH, _LEAST, _BEHIND, _DEEPEST, _LEAN = range(9)
PART_NUMBERS = 9


@inner_kernel(**INLINED)
def _number_part(part, follows, x0, y0, ux, uy, goes, shape, radius, far, flank_, out):  # type: ignore[no-untyped-def]
    """Write the numbers of one part, for a run that begins at (x0, y0) towards (ux, uy)."""
    dx, dy = part[3] - part[0], part[4] - part[1]
    x, y = part[0] - x0, part[1] - y0
    out[_START], out[_ASIDE] = _f(x * ux + y * uy), _f(y * ux - x * uy)
    z, dz = _f(part[2]), _f(part[5] - part[2])
    if goes:
        length = _f(np.sqrt(dx * dx + dy * dy))
        m = dz / length
    else:  # straight down or up: a stamp at the lower end
        length, m = _ZERO, _ZERO
        z = min(z, z + dz)
    lean, least, behind = _ZERO, -FAR, -far
    if shape == BALL:
        lean = m / np.sqrt(_ONE + m * m)
        if follows and goes:
            least = _ZERO
            behind = min(_ZERO, lean * radius)
    else:
        if follows and goes and m >= _ZERO:
            least = _ZERO
            behind = _ZERO
        if shape == VEE:
            lean = kappa_of(m, flank_)
    out[_TIP], out[_SLOPE], out[_LENGTH], out[_LEAST], out[_BEHIND] = z, m, length, least, behind
    out[_DEEPEST], out[_LEAN] = z + min(_ZERO, m * length), lean


@inner_kernel(inline="always", **BORROWING)
def _least_z(shape, near_axis, deepest, radius, radius2, flank_, tip, rim, form):  # type: ignore[no-untyped-def]
    """No lower than this is the cutter anywhere so far from its axis."""
    if not near_axis > _ZERO or shape == FLAT:
        return deepest
    if shape == BALL:
        q = radius2 - near_axis * near_axis
        return deepest + radius - np.sqrt(q if q > _ZERO else _ZERO)
    if shape == VEE:
        return deepest + min(max(_ZERO, flank_ * (near_axis - tip)), rim)
    return deepest + _f(rise(min(near_axis, radius), form))


@inner_kernel(**INLINED)
def _under(  # type: ignore[no-untyped-def]
    n, out, taken, scratch, along, across, a0, b0, numbers, near_axis, shape, radius, radius2,
    bottom, outer, flank_, tip, form,
):  # fmt: skip
    """How low the cutter comes over the cells of a block along one part; FAR where it does not."""
    z, m, length = numbers[_TIP], numbers[_SLOPE], numbers[_LENGTH]
    least, lean = numbers[_LEAST], numbers[_LEAN]
    side = _ONE if m < _ZERO else -_ONE
    if shape == BALL:
        under_ball(n, out, along, across, a0, b0, lean, radius2, z + radius, m, length, least,
                   bottom, outer)  # fmt: skip
    elif shape == FLAT:
        under_flat(n, out, along, across, a0, b0, side, radius2, z, m, length, least, bottom,
                   outer)  # fmt: skip
    elif shape == VEE:
        cone(n, out, along, across, a0, b0, lean, side, radius2, z, m, length, least, bottom,
             outer, flank_, tip)  # fmt: skip
    elif shape == ROUND:
        under_round(n, out, taken, scratch, along, across, a0, b0, radius2, z, m, length, least,
                    bottom, outer, form)  # fmt: skip
    elif shape == OUTLINE:
        under_polyline(n, out, scratch, along, across, a0, b0, near_axis, side, z, m, length,
                       least, bottom, outer, form)  # fmt: skip


@kernel(**BORROWING)
def cut_tile(  # type: ignore[no-untyped-def]
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
        lanes, or by bins for a run straight down.
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
    heights, made_here, tops_here = height[place], made_by[place], top[place]
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
                _number_part(part[p], part_follows[p], x0, y0, ux, uy, goes, shape, radius, far,
                             flank_, numbers)  # fmt: skip
                deepest = min(deepest, numbers[_DEEPEST])
                behind = min(behind, numbers[_START] + numbers[_BEHIND])
            # The run's line as a whole, from which heights above the path are told.
            z = numbers_of[0, _TIP]
            m = _f(part[after - 1, 5] - part[first, 2]) / length if goes else _ZERO
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
                    least_z = _least_z(shape, near_axis, deepest, radius, radius2, flank_, tip,
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
                    met = 0
                    for p in range(first, after):
                        numbers = numbers_of[p - first]
                        if after - first > 1:
                            at = am - numbers[_START]
                            if at < numbers[_BEHIND] - reach:
                                continue
                            if shape == BALL and p + 1 < after:
                                # What lies so far ahead is cut lower by the next part.
                                lean = max(
                                    abs(numbers[_LEAN]), abs(numbers_of[p - first + 1, _LEAN])
                                )
                                ahead = numbers[_LENGTH] + lean * radius + _HALF * cell
                                if at - reach > ahead:
                                    continue
                            es = at - min(max(at, _ZERO), numbers[_LENGTH])
                            distance2 = es * es + bm * bm
                            if distance2 > beyond_block2:
                                continue
                            near_axis = np.sqrt(distance2) - reach
                            if plain and near_axis > radius:
                                continue
                            least_z = _least_z(shape, near_axis, numbers[_DEEPEST], radius,
                                               radius2, flank_, tip, rim, form)  # fmt: skip
                            if highest <= max(least_z, bottom):
                                continue
                        _under(n, other if met > 0 else under, taken, scratch, along, across,
                               a0 - numbers[_START], b0 - numbers[_ASIDE], numbers, near_axis,
                               shape, radius, radius2, bottom, outer, flank_, tip,
                               form)  # fmt: skip
                        if after - first > 1 and not plain:
                            only_inside(n, other if met > 0 else under, along, across, a0, b0,
                                        numbers[_START], numbers[_ASIDE], numbers[_LENGTH],
                                        length, radius2)  # fmt: skip
                        if met > 0:
                            lower_of_both(n, under, other, np.int32(first_step + part_number[p]),
                                          made)  # fmt: skip
                        else:
                            for j in range(n):
                                made[j] = first_step + part_number[p]
                        met += 1
                    if met == 0:
                        continue
                    if beneath.shape[0] > 0:
                        for j in range(n):
                            under[j] = max(under[j], beneath[place, begin + j])
                    if spans is not None:  # said anew, so that without spans none of it is compiled
                        pieces = 1
                        if shape == UNDERCUT:
                            # Both ends of a span may lie where the step begins, save on a level
                            # one.
                            pieces = swept_spans(
                                n, lows, highs, along, across, a0, b0, near_axis, z, m, length,
                                numbers_of[0, _LEAST] if m == _ZERO else -FAR, form,
                            )  # fmt: skip
                        else:
                            copy(n, under, lows[0])
                        here = take_spans(
                            n, begin, pieces, lows, highs, spans, bottom, made[0], height[place],
                            made_by[place], through_at[place], wood, taken, low, lost,
                        )  # fmt: skip
                        if here > _ZERO and weighed:
                            if fresh:
                                nothing(engagement[row])
                                fresh = False
                            if goes:
                                above_path(n, low, along, a0, z, m, low)
                                into_lanes(n, wood, taken, low, across,
                                           (b0 + radius) * per_lane + _PAD, per_lane, by_rows,
                                           hits, scratch, engagement[row])  # fmt: skip
                            else:
                                into_bins(n, wood, taken, along, across, a0, b0, form,
                                          engagement[row])  # fmt: skip
                        total += float(here)
                        tops_here[block] = highest_of(n, heights[begin : begin + n], scratch)
                        continue
                    here_cells = heights[begin : begin + n]
                    if walls:
                        tops(n, place, begin, height, wall_of, records, cells)
                    elif not plain:
                        copy(n, here_cells, cells)
                    gone = taken_of(n, here_cells if plain else cells, under, taken, scratch)
                    if not gone > _ZERO:
                        continue
                    if plain:
                        lower(n, here_cells, made_here[begin : begin + n], under, made)
                        if deepest <= bottom:
                            date_through(n, place, begin, taken, under, made, bottom, through_at)
                        here, parcels, left = float(gone), taken, here_cells
                    else:
                        whole(n, begin, taken, wall_of, along, across, a0, b0, length, inner_edge2,
                              wood)  # fmt: skip
                        here = weigh(
                            n, place, block, taken, under, wood, made, bottom, height, made_by,
                            through_at, cells, wall_of, walled, records, free, polygons, along,
                            across, a0, b0, ux, uy, length, radius, inner_edge2, cell,
                            rim, rim_level, clipped, form,
                        )  # fmt: skip
                        parcels, left = wood, cells
                    if beneath.shape[0] > 0:
                        date_opened(n, place, begin, made, height, beneath, made_by, through_at)
                    tops_here[block] = highest_of(n, left, scratch)
                    if not here > 0.0:
                        continue
                    total += here
                    if not weighed:
                        continue
                    if fresh:
                        nothing(engagement[row])
                        fresh = False
                    if goes:
                        above_path(n, under, along, a0, z, m, low)
                        into_lanes(n, parcels, taken, low, across, (b0 + radius) * per_lane + _PAD,
                                   per_lane, by_rows, hits, scratch, engagement[row])  # fmt: skip
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
