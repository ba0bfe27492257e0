"""The wood that a step takes from a block of cells, by the share of each cell, and where it goes.

An upright wall runs through the middle of cells. A cell at the cutter's rim is lowered by the part
of it that lies within, and what stands beyond is kept in its record; see ``walls``.
"""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.blocks import FAR
from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.engagement import (
    BINS,
    COS_EDGES,
    HIGHEST,
    LANE_ROWS,
    LOWEST,
    SIN_EDGES,
    VOLUME,
    put,
    rim_share,
)
from kerfwright.kernels.profile import ARC_END, DISC, RADIUS, profile_mm, rise
from kerfwright.kernels.tiles import BLOCK
from kerfwright.kernels.walls import COUNT, CUTS, MEAN, SHARE, TOP, cover, settle

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)
_NO_WALL = _f(1e-4)  #: wood above the rim that is but rounding [mm]
# Unsigned: the compiler need not ask whether an index counts from the end.
_LINE = np.uint64(BLOCK)
_ALIKE = _f(0.05)  #: of a lane, that the cells of one row may lie apart across the travel
_SMALLEST = _f(1e-5)  #: of a cell: less is rounding
#: Depths below the rim, as shares of what is covered, at which the outline is asked for, and their
#: weights: Gauss's rule for 2 x f(x²), so exact for a corner's upright end, as sqrt(depth).
_DEPTH = np.array([0.212340538, 0.590533136, 0.911412040], np.float32) ** 2
_WEIGHT = np.array([0.139653, 0.458482, 0.401865], np.float32)
_PLACES = 3
_SIXTH, _EIGHT = _f(1.0 / 6.0), _f(8.0)
_THIN = _f(1e-3)  #: of a cell: over less, all of it is as wide as it is
_SLIVER = _f(0.2)  #: of a cell: less, along a wall, is no tall wood


@inner_kernel(ready=True, **INLINED)
def tops(n, place, begin, height, wall_of, records, cells):  # type: ignore[no-untyped-def]
    """Highest wood in each cell of a block through which walls run."""
    for j in range(n):
        w = wall_of[begin + j]
        top, plain = records[w, TOP], height[place, begin + j]
        cells[j] = plain if w == 0 else top


@inner_kernel(ready=True, **INLINED)
def whole(n, begin, taken, wall_of, along, across, a0, b0, length, edge2, wood):  # type: ignore[no-untyped-def]
    """Mark the cells that the rim does not touch and no wall runs through."""
    for j in range(n):
        a = a0 + along[j]
        b = b0 + across[j]
        near = a if a > _ZERO else _ZERO
        near = near if near < length else length
        off = a - near
        plain = (taken[j] > _ZERO) & (off * off + b * b <= edge2) & (wall_of[begin + j] == 0)
        wood[j] = taken[j] if plain else _ZERO


@inner_kernel(ready=True, **INLINED)
def above_path(n, under, along, a0, z, m, low):  # type: ignore[no-untyped-def]
    for j in range(n):
        low[j] = under[j] - (z + m * (a0 + along[j]))


@inner_kernel(ready=True, **INLINED)
def _tall(n, wood, taken, low, high):  # type: ignore[no-untyped-def]
    """From where to where the wood of each cell stood; nowhere where there is none but a sliver."""
    for j in range(n):
        down, up = low[j], low[j] + taken[j]
        tall = (taken[j] > _ZERO) & (wood[j] > _ZERO)
        low[j] = down if tall else FAR
        high[j] = up if tall else -FAR


@inner_kernel(ready=True, **INLINED)
def _fold_rows(n, wood, low, high):  # type: ignore[no-untyped-def]
    """All rows of a block into its first."""
    half = n >> 1
    while half >= BLOCK:
        for j in range(half):
            wood[j] += wood[j + half]
        for j in range(half):
            x, y = low[j], low[j + half]
            low[j] = x if x < y else y
        for j in range(half):
            x, y = high[j], high[j + half]
            high[j] = x if x > y else y
        half >>= 1


@inner_kernel(ready=True, **INLINED)
def _fold_columns(rows, wood, low, high):  # type: ignore[no-untyped-def]
    """All columns of a block into one, which is written where its first row stood."""
    for r in range(rows):
        total = _ZERO
        for c in range(_LINE):
            total += wood[r * _LINE + c]
        wood[r] = total
    for r in range(rows):
        lowest = FAR
        for c in range(_LINE):
            x = low[r * _LINE + c]
            lowest = x if x < lowest else lowest
        low[r] = lowest
    for r in range(rows):
        highest = -FAR
        for c in range(_LINE):
            x = high[r * _LINE + c]
            highest = x if x > highest else highest
        high[r] = highest


@inner_kernel(**INLINED)
def _lines_into_lanes(n, wood, low, high, first, step, engagement):  # type: ignore[no-untyped-def]
    """Wood of the rows or columns of a block, which lie in lanes from ``first`` on, by ``step``."""
    volume, lowest, highest = engagement[VOLUME], engagement[LOWEST], engagement[HIGHEST]
    for i in range(n):
        if wood[i] > _ZERO:
            at = first + _f(i) * step
            lane = np.uint32(at)
            after = lane + np.uint32(1)
            part = at - _f(lane)
            put = wood[i] * part
            volume[lane] += wood[i] - put
            volume[after] += put
            nearest = after if part >= _HALF else lane
            lowest[nearest] = min(lowest[nearest], low[i])
            highest[nearest] = max(highest[nearest], high[i])


@inner_kernel(**INLINED)
def into_lanes(  # type: ignore[no-untyped-def]
    n, wood, taken, low, across, first, per_lane, by_rows, hits, high, engagement
):
    """Wood of a step along its travel. ``hits``, ``high`` (n,) are worked in, others written over.

    ``by_rows``: cells are taken row by row, else column by column; the lane of one is then seldom
    that of the one before, whose sum would have to be waited for.
    """
    # Where the travel is along the grid, all cells of a row or of a column lie in one lane.
    drift = (across[n - BLOCK] if by_rows else across[BLOCK - 1]) - across[0]
    if abs(drift) * per_lane < _ALIKE:
        _tall(n, wood, taken, low, high)
        if by_rows:
            _fold_rows(n, wood, low, high)
        else:
            _fold_columns(np.uint64(n) // _LINE, wood, low, high)
        step = (across[1] if by_rows else across[BLOCK]) - across[0]
        first += (across[0] + _HALF * drift) * per_lane
        _lines_into_lanes(n // BLOCK, wood, low, high, first, step * per_lane, engagement)
        return
    many = 0
    for i in range(n):
        j = i if by_rows else (i % BLOCK) * BLOCK + i // BLOCK
        hits[many] = j
        many += 1 if wood[j] > _ZERO else 0
    volume, lowest, highest = engagement[VOLUME], engagement[LOWEST], engagement[HIGHEST]
    for i in range(many):
        j = hits[i]
        at = across[j] * per_lane + first
        k = np.uint32(at)
        after = k + np.uint32(1)
        part = at - _f(k)
        put = wood[j] * part
        volume[k] += wood[j] - put
        volume[after] += put
        if not taken[j] > _ZERO:
            continue
        if part >= _HALF:
            k = np.uint32(after)
        if low[j] < lowest[k]:
            lowest[k] = low[j]
        high = low[j] + taken[j]
        if high > highest[k]:
            highest[k] = high


def lanes_reference(
    wood: NDArray[np.float64],
    taken: NDArray[np.float64],
    low: NDArray[np.float64],
    at: NDArray[np.float64],
    places: int,
) -> NDArray[np.float64]:
    """``into_lanes``, cell by cell: the definition. (LANE_ROWS, places)

    ``at`` (n,): where the middle of each cell lies, in lanes; each shares its wood between the two
    next to it, and has its heights in the nearer one.
    """
    out = np.zeros((LANE_ROWS, places))
    out[LOWEST], out[HIGHEST] = FAR, -FAR
    for j in np.flatnonzero(wood > 0.0):
        lane = int(at[j])
        out[VOLUME, lane : lane + 2] += wood[j] * np.array([lane + 1 - at[j], at[j] - lane])
        if taken[j] > 0.0:
            nearest = int(at[j] + 0.5)
            out[LOWEST, nearest] = min(out[LOWEST, nearest], low[j])
            out[HIGHEST, nearest] = max(out[HIGHEST, nearest], low[j] + taken[j])
    return out


@inner_kernel(**BORROWING)
def into_bins(n, wood, taken, along, across, a0, b0, cell, form, engagement):  # type: ignore[no-untyped-def]
    """Wood of a step straight down; behind the bins stands how tall it was.

    A cell belongs to a bin by the share of it that lies there: what two half planes through the
    axis leave of it. Of the cell over the axis they tell no more than by how much the share of a
    bin exceeds that of the one across; the rest is even.
    """
    radius, half = form[RADIUS], _HALF * cell
    for j in range(n):
        if not wood[j] > _ZERO:
            continue
        a, b = a0 + along[j], b0 + across[j]
        x, y = max(abs(a) - half, _ZERO), max(abs(b) - half, _ZERO)
        away, near = np.sqrt(a * a + b * b), np.sqrt(x * x + y * y)
        low = _f(rise(min(near, radius), form))
        high = _f(rise(min(away + cell, radius), form))
        tall = _f(rise(min(away, radius), form)) + max(taken[j], _ZERO)
        engagement[HIGHEST, BINS] = max(engagement[HIGHEST, BINS], tall)
        _share_out(wood[j], a, b, cell, low, high, engagement)


@inner_kernel(**BORROWING)
def into_bins_up(n, wood, taken, low, along, across, a0, b0, z, up, cell, engagement):  # type: ignore[no-untyped-def]
    """``into_bins`` of a step straight up, by a cutter with wood above its wide part.

    ``z``, ``up``: where its tip starts, how far it goes; ``low`` (n,): from where each column was
    taken. The flank that cut there stood at the lower end of the wood when the step began and at
    its upper end when it ended.
    """
    for j in range(n):
        if not wood[j] > _ZERO:
            continue
        high = max(low[j] + taken[j] - z - up, _ZERO)
        engagement[HIGHEST, BINS] = max(engagement[HIGHEST, BINS], high)
        _share_out(wood[j], a0 + along[j], b0 + across[j], cell, min(low[j] - z, high), high,
                   engagement)  # fmt: skip


@inner_kernel(**BORROWING)
def _share_out(wood, a, b, cell, low, high, engagement):  # type: ignore[no-untyped-def]
    """Put the wood of one cell into the bins that it lies in."""
    before, rest = rim_share(b, _ZERO, _ONE, cell), _ONE
    for k in range(BINS // 2):
        s, c = _f(SIN_EDGES[k + 1]), _f(COS_EDGES[k + 1])
        share = rim_share(c * b - s * a, s, c, cell)
        more = share - before
        before = share
        rest -= abs(more)
        if more > _ZERO:
            put(engagement, k, wood * more, low, high)
        elif more < _ZERO:
            put(engagement, k + BINS // 2, -wood * more, low, high)
    if rest > _SMALLEST:
        for k in range(BINS):
            put(engagement, k, wood * rest * _f(1.0 / BINS), low, high)


def bins_reference(
    wood: NDArray[np.float64], a: NDArray[np.float64], b: NDArray[np.float64], cell: float
) -> NDArray[np.float64]:
    """Volume in each bin by many places in every cell: what ``into_bins`` comes near to. (BINS,)

    ``a``, ``b`` (n,): middles of the cells, from the axis. Only of cells that lie over the axis may
    bins that lie across from one another have more or less than this, both alike.
    """
    out = np.zeros(BINS)
    y, x = (np.mgrid[0:200, 0:200] + 0.5) / 200 * cell - 0.5 * cell
    for j in np.flatnonzero(wood > 0.0):
        at = (np.arctan2(y + b[j], x + a[j]) + np.pi) * (BINS / (2.0 * np.pi))
        places = np.minimum(at.astype(int), BINS - 1).ravel()
        out += wood[j] / places.size * np.bincount(places, minlength=BINS)
    return out


@inner_kernel(inline="always", **BORROWING)
def _keep(wall_of, walled, records, free, i, block, height):  # type: ignore[no-untyped-def]
    """A record for a cell that had none; 0 if there is no more room."""
    left = free[0]
    if left == 0:
        return 0
    w = free[left]
    free[0] = left - 1
    wall_of[i] = w
    walled[block] += 1
    records[w, TOP] = height
    records[w, MEAN] = height
    records[w, SHARE] = _ONE
    records[w, COUNT] = _ZERO
    records[w, CUTS + 3] = height
    return w


@inner_kernel(inline="always", **BORROWING)
def _let_go(wall_of, walled, free, i, block):  # type: ignore[no-untyped-def]
    free[0] += 1
    free[free[0]] = wall_of[i]
    wall_of[i] = 0
    walled[block] -= 1


@inner_kernel(**BORROWING)
def floor_within(away, inside, nx, ny, cell, form):  # type: ignore[no-untyped-def]
    """By how much the floor of a rim cell's covered part is above the outline at its middle. [mm]

    ``away``: of the middle from the axis [mm]; ``inside``: how far beyond it the rim lies, in
    cells. It is the outline's mean, from places that lie closer together towards the rim, where a
    corner ends upright; and what the next cells, told by their middles, miss of its bend: over all
    places of the rim on the grid, an eighth of a cell by the outline's fall over a third of one.
    """
    radius = form[RADIUS]
    nx, ny = abs(nx), abs(ny)
    extent, edge = _HALF * (nx + ny), max(min(nx, ny), _THIN)
    total, weights = 0.0, _ZERO
    for k in range(_PLACES):
        u = inside - (inside + extent) * _DEPTH[k]
        weight = min(extent - abs(u), edge) * _WEIGHT[k]  # as wide as the cell is there
        total += weight * rise(min(max(away + u * cell, _ZERO), radius), form)
        weights += weight
    near, far = radius - (extent - _SIXTH) * cell, radius - (extent + _SIXTH) * cell
    bend = (rise(max(near, 0.0), form) - rise(max(far, 0.0), form)) / (_EIGHT * extent)
    return total / weights + bend - rise(min(away, radius), form)


def floor_reference(
    away: float, inside: float, nx: float, ny: float, cell: float, form: NDArray[np.float64]
) -> float:
    """``floor_within`` by many places in the cell: the definition. [mm]"""

    def outline(depth: NDArray[np.float64]) -> NDArray[np.float64]:
        """So many cells within the rim."""
        return profile_mm(np.clip(form[RADIUS] - depth * cell, 0.0, form[RADIUS]), form)

    y, x = (np.mgrid[0:200, 0:200] + 0.5) / 200 - 0.5
    u = np.sort((x * abs(nx) + y * abs(ny)).ravel())
    covered = outline((form[RADIUS] - away) / cell - u[u <= inside]).mean()
    # Cells whose middle lies further in than this are told by it. A place so far from there towards
    # the rim lies in one of them as often as one as far behind lies in a rim cell.
    extent = 0.5 * (abs(nx) + abs(ny))
    off = (np.arange(1000) + 0.5) / 1000 * extent
    often = np.searchsorted(u, -off) / len(u)
    bend = (often * (outline(extent - off) - outline(extent + off))).mean()
    return float(covered + bend - outline(np.array((form[RADIUS] - away) / cell)))


@inner_kernel(**INLINED)
def weigh(  # type: ignore[no-untyped-def]
    n, place, block, taken, under, wood, made, bottom, height, made_by, through_at, cells,
    wall_of, walled, records, free, polygons, along, across, a0, b0, ux, uy, length, radius,
    edge2, cell, rim, rim_level, clipped, form,
):  # fmt: skip
    """Lowers a block as ``removal`` does, with the cells at the rim cut on one side of a line.

    ``wood`` comes from ``whole``; what of each cell was taken is written there, a mean over the
    cell, and the highest wood that is left in ``cells``. Returns the sum of ``wood``.
    """
    total = 0.0
    begin = block * n
    # An arc lies on the near side of its tangent, by this much on average over a cell.
    bulge = cell / (_f(24.0) * radius)
    # A flat cutter has nothing to mend; the middles serve the ball, of which reliefs are made.
    bends = rim > _ZERO and (form[DISC] > 0.0 or form[ARC_END] < form[RADIUS])
    for j in range(n):
        if not taken[j] > _ZERO:
            continue
        i = begin + j
        g = under[j]
        if wood[j] > _ZERO:
            total += float(wood[j])
            cells[j] = g
            height[place, i] = g
            made_by[place, i] = made[j]
            if g <= bottom and through_at[place, i] == 0:
                through_at[place, i] = made[j] + 1
            continue
        a, b = a0 + along[j], b0 + across[j]
        near = a if a > _ZERO else _ZERO
        near = near if near < length else length
        off = a - near
        away2 = off * off + b * b
        centre = radius * radius - b * b - off * off >= _ZERO
        h, top, w = height[place, i], cells[j], wall_of[i]
        floor, part = g, False
        nx = ny = inside = _ZERO
        if away2 > edge2:
            # Only where wood stands above the rim is there a wall through the cell.
            away = np.sqrt(away2)
            level = rim_level
            if g > clipped:
                level = g + (rim - _f(rise(float(away), form))) if centre else g
            if top > level + _NO_WALL:
                per = _ONE / away
                nx = (off * ux - b * uy) * per
                ny = (off * uy + b * ux) * per
                to_rim = (radius - away) / cell
                inside = to_rim - bulge if off != _ZERO else to_rim
                extent = _HALF * (abs(nx) + abs(ny))
                if inside <= -extent:
                    continue
                part = inside < extent
                if part and bends and g > clipped:
                    off_middle = floor_within(away, min(to_rim, extent), nx, ny, cell, form)
                    floor = min(_f(max(g + off_middle, clipped)), top)
            elif not centre:
                continue
        if part and w == 0:
            w = _keep(wall_of, walled, records, free, i, block, h)
            part = w > 0
        if centre and g < h:
            height[place, i] = g
            made_by[place, i] = made[j]
            if g <= bottom and through_at[place, i] == 0:
                through_at[place, i] = made[j] + 1
        fresh = _ONE  # share of the cell whose highest wood goes
        if w == 0:
            if centre:
                gone = h - g
                cells[j] = g
            else:
                gone = _ZERO
        else:
            record = records[w]
            fresh = record[SHARE]
            if part:
                mean = cover(record, nx, ny, inside, floor, polygons)
            else:
                record[TOP] = min(record[TOP], g)
                if record[CUTS + 3] >= record[TOP]:
                    record[COUNT] = _ZERO
                mean = settle(record, polygons) if record[COUNT] > _ZERO else float(record[TOP])
            if not record[COUNT] > _ZERO and height[place, i] == record[TOP]:
                gone = record[MEAN] - record[TOP]
                cells[j] = record[TOP]
                _let_go(wall_of, walled, free, i, block)
            else:
                before = record[MEAN]
                record[MEAN] = min(before, _f(mean))
                gone = before - record[MEAN]
                cells[j] = record[TOP]
            if part and record[TOP] == top:
                fresh -= record[SHARE]
        if gone > _ZERO:
            wood[j] = gone
            total += float(gone)
            if not centre or fresh < _SLIVER:
                # A sliver along a wall counts by its volume; it is no tall wood.
                taken[j] = h - g if centre else -_ONE
    return total
