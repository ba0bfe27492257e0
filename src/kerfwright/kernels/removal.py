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

Derived here; tests/kernels/test_removal.py checks them by dense sampling and by closed volumes.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

FLAT, BALL, VEE = 0, 1, 2
TILE = 128
BLOCK = 8
BINS = 24  #: of the angle of a cell seen from the middle of the step, 15 degrees each, from -pi
VOLUME, LOWEST, HIGHEST = 0, 1, 2  #: rows of an engagement

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)
_FAR = _f(1e30)
_PI, _HALF_PI = _f(np.pi), _f(np.pi / 2)
_BINS_PER_RAD = _f((BINS - 0.001) / (2 * np.pi))
# Odd polynomial for atan on 0..1, fitted here: off by less than 1e-3 rad, a hundredth of a bin.
_ATAN_1, _ATAN_3, _ATAN_5 = _f(0.9992), _f(-0.3211), _f(0.1073)


@njit(cache=True, nogil=True, error_model="numpy")
def _ball(n, height, taken, along, across, a0, b0, k, radius2, centre_z, m, length, least, floor):  # type: ignore[no-untyped-def]
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
        g = g if g > floor else floor
        d = height[j] - g
        inside = (q > _ZERO) & (u > least) & (d > _ZERO)
        taken[j] = d if inside else _ZERO


@njit(cache=True, nogil=True, error_model="numpy")
def _flat(n, height, taken, along, across, a0, b0, side, radius2, z, m, length, least, floor):  # type: ignore[no-untyped-def]
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
        g = g if g > floor else floor
        d = height[j] - g
        inside = (off * off <= w2) & (a > least) & (d > _ZERO)
        taken[j] = d if inside else _ZERO


@njit(cache=True, nogil=True, error_model="numpy")
def _vee(  # type: ignore[no-untyped-def]
    n,
    height,
    taken,
    along,
    across,
    a0,
    b0,
    kappa,
    side,
    radius2,
    z,
    m,
    length,
    least,
    floor,
    flank,
    tip,
):
    tip2 = tip * tip
    for j in range(n):
        a = a0 + along[j]
        b = b0 + across[j]
        nearest = a if a > _ZERO else _ZERO
        nearest = nearest if nearest < length else length
        off = a - nearest
        b2 = b * b
        w2 = radius2 - b2
        w = np.sqrt(w2 if w2 > _ZERO else _ZERO)
        e = kappa * abs(b)
        flat2 = tip2 - b2
        flat = np.sqrt(flat2 if flat2 > _ZERO else _ZERO)
        e = e if e > flat else flat
        e = e if e < w else w
        s = a + side * e
        s = s if s > _ZERO else _ZERO
        s = s if s < length else length
        e = a - s
        rise = flank * (np.sqrt(e * e + b2) - tip)
        g = z + m * s + (rise if rise > _ZERO else _ZERO)
        g = g if g > floor else floor
        d = height[j] - g
        inside = (off * off <= w2) & (a > least) & (d > _ZERO)
        taken[j] = d if inside else _ZERO


@njit(cache=True, nogil=True, error_model="numpy")
def _fold(n, values, scratch, largest):  # type: ignore[no-untyped-def]
    """Sum or largest of 64 values by halving: the same order, so the same bits, everywhere."""
    half = n >> 1
    for j in range(half):
        x, y = values[j], values[j + half]
        scratch[j] = (x if x > y else y) if largest else x + y
    half = n >> 2
    for j in range(half):
        x, y = scratch[j], scratch[j + half]
        scratch[j] = (x if x > y else y) if largest else x + y
    half = n >> 3
    for j in range(half):
        x, y = scratch[j], scratch[j + half]
        scratch[j] = (x if x > y else y) if largest else x + y
    total = scratch[0]
    for j in range(1, half):
        x = scratch[j]
        if largest:
            total = x if x > total else total
        else:
            total += x
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def _bins(n, bins, px, py, x, y):  # type: ignore[no-untyped-def]
    for j in range(n):
        dx = x + px[j]
        dy = y + py[j]
        ax = abs(dx)
        ay = abs(dy)
        small = ax if ax < ay else ay
        large = ax if ax > ay else ay
        q = small / (large + _f(1e-12))
        q2 = q * q
        r = q * (_ATAN_1 + q2 * (_ATAN_3 + q2 * _ATAN_5))
        r = _HALF_PI - r if ay > ax else r
        r = _PI - r if dx < _ZERO else r
        r = -r if dy < _ZERO else r
        bins[j] = np.int32((r + _PI) * _BINS_PER_RAD)


@njit(cache=True, nogil=True, error_model="numpy")
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
    radius_mm,
    flank,
    tip_mm,
    floor_mm,
    height,
    top,
    made_by,
    through_at,
    engaged,
    volume,
    engagement,
):
    """Take the given steps, in order, out of one tile.

    Parameters
    ----------
    tile_x, tile_y : index of the tile; place : its place in the stores below.
    entries : how many steps touch it; step_of, entry_of : (entries,) their index in this window
        and the row that each writes in ``volume`` and ``engagement``.
    steps : (w, 6) x y z at begin and end, from the corner of the field. [mm]
    follows : (w,) true where a step begins where the one before ended, with the same cutter.
    first_step : number of the window's first step in the whole run.
    shape, radius_mm, flank, tip_mm : of the cutter; see the module.
    floor_mm : nothing is taken below it.
    height, made_by, through_at : (places, TILE²) by blocks; top : (places, blocks) highest cell.
    engaged : whether to write ``engagement`` (rows, 3, BINS): sum of depths, and lowest and highest
        wood that was touched, above the tip at the middle of the step. [mm]
    volume : (rows,) sum of depths taken. [mm]; times the cell's area it is a volume.
    """
    per_side = TILE // BLOCK
    n = BLOCK * BLOCK
    taken, scratch = np.empty(n, _f), np.empty(n, _f)
    along, across = np.empty(n, _f), np.empty(n, _f)
    px, py = np.empty(n, _f), np.empty(n, _f)
    bins = np.empty(n, np.int32)
    for j in range(n):
        px[j] = _f((j % BLOCK) * cell_mm)
        py[j] = _f((j // BLOCK) * cell_mm)
    block_mm = BLOCK * cell_mm
    half = _f(0.5 * (BLOCK - 1) * cell_mm)
    reach = _f(0.5 * (BLOCK - 1) * cell_mm * 1.41422)
    origin_x, origin_y = tile_x * TILE * cell_mm, tile_y * TILE * cell_mm
    radius, radius2 = _f(radius_mm), _f(radius_mm) * _f(radius_mm)
    flank_, tip, floor = _f(flank), _f(tip_mm), _f(floor_mm)
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
        low = z + min(_ZERO, m * length)
        tip_z = z + _HALF * m * length
        k, kappa, least, behind = _ZERO, _ZERO, -_FAR, -radius
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
                kappa = _f(1e6)
                if abs(m) < flank_:
                    kappa = abs(m) / np.sqrt(flank_ * flank_ - m * m)
        if engaged:
            for b in range(BINS):
                engagement[row, VOLUME, b] = _ZERO
                engagement[row, LOWEST, b] = _FAR
                engagement[row, HIGHEST, b] = -_FAR
        total = _ZERO
        c0 = max(0, int((min(x0, x1) - radius_mm) / block_mm))
        c1 = min(per_side - 1, int((max(x0, x1) + radius_mm) / block_mm))
        r0 = max(0, int((min(y0, y1) - radius_mm) / block_mm))
        r1 = min(per_side - 1, int((max(y0, y1) + radius_mm) / block_mm))
        turned = False
        for r in range(r0, r1 + 1):
            yc = _f((r * BLOCK + 0.5) * cell_mm - y0)
            for c in range(c0, c1 + 1):
                xc = _f((c * BLOCK + 0.5) * cell_mm - x0)
                xm, ym = xc + half, yc + half
                am, bm = xm * ux + ym * uy, ym * ux - xm * uy
                if am < behind - reach:
                    continue
                es = am - min(max(am, _ZERO), length)
                distance = np.sqrt(es * es + bm * bm)
                if distance > radius + reach:
                    continue
                inner = distance - reach
                least_z = low
                if inner > _ZERO:
                    if shape == BALL:
                        q = radius2 - inner * inner
                        least_z = low + radius - np.sqrt(q if q > _ZERO else _ZERO)
                    elif shape == VEE:
                        least_z = low + max(_ZERO, flank_ * (inner - tip))
                least_z = max(least_z, floor)
                block = r * per_side + c
                if top[place, block] <= least_z:
                    continue
                if not turned:
                    for j in range(n):
                        along[j] = px[j] * ux + py[j] * uy
                        across[j] = py[j] * ux - px[j] * uy
                    turned = True
                begin = block * n
                cells = height[place, begin : begin + n]
                a0, b0 = xc * ux + yc * uy, yc * ux - xc * uy
                if shape == BALL:
                    _ball(
                        n,
                        cells,
                        taken,
                        along,
                        across,
                        a0,
                        b0,
                        k,
                        radius2,
                        z + radius,
                        m,
                        length,
                        least,
                        floor,
                    )
                elif shape == FLAT:
                    _flat(
                        n,
                        cells,
                        taken,
                        along,
                        across,
                        a0,
                        b0,
                        side,
                        radius2,
                        z,
                        m,
                        length,
                        least,
                        floor,
                    )
                else:
                    _vee(
                        n,
                        cells,
                        taken,
                        along,
                        across,
                        a0,
                        b0,
                        kappa,
                        side,
                        radius2,
                        z,
                        m,
                        length,
                        least,
                        floor,
                        flank_,
                        tip,
                    )
                s = _fold(n, taken, scratch, False)
                if not s > _ZERO:
                    continue
                total += s
                if engaged:
                    _bins(n, bins, px, py, xc - _HALF * dx, yc - _HALF * dy)
                number = np.int32(first_step + w)
                for j in range(n):
                    d = taken[j]
                    if d > _ZERO:
                        before = cells[j]
                        after = before - d
                        cells[j] = after
                        made_by[place, begin + j] = number
                        if after <= floor and through_at[place, begin + j] < 0:
                            through_at[place, begin + j] = number
                        if engaged:
                            b = bins[j]
                            engagement[row, VOLUME, b] += d
                            if after - tip_z < engagement[row, LOWEST, b]:
                                engagement[row, LOWEST, b] = after - tip_z
                            if before - tip_z > engagement[row, HIGHEST, b]:
                                engagement[row, HIGHEST, b] = before - tip_z
                top[place, block] = _fold(n, cells, scratch, True)
        volume[row] = total


@njit(cache=True, nogil=True)
def touched_tiles(steps, count, reach_mm, cell_mm, tiles_x, tiles_y, rectangle, entry_of):  # type: ignore[no-untyped-def]
    """Which tiles each step may touch, as a rectangle, and how many entries that makes.

    ``rectangle`` (count, 4): first and last tile in x and in y. ``entry_of`` (count + 1,): where
    the entries of each step begin. Returns the number of entries.
    """
    entries = 0
    side = TILE * cell_mm
    for i in range(count):
        if min(steps[i, 2], steps[i, 5]) >= 0.0:
            # Above the board: a long move would else touch every tile that it crosses.
            rectangle[i, 0], rectangle[i, 1], rectangle[i, 2], rectangle[i, 3] = 0, -1, 0, -1
            entry_of[i] = entries
            continue
        c0 = int(max(0.0, np.floor((min(steps[i, 0], steps[i, 3]) - reach_mm) / side)))
        c1 = int(min(tiles_x - 1.0, np.floor((max(steps[i, 0], steps[i, 3]) + reach_mm) / side)))
        r0 = int(max(0.0, np.floor((min(steps[i, 1], steps[i, 4]) - reach_mm) / side)))
        r1 = int(min(tiles_y - 1.0, np.floor((max(steps[i, 1], steps[i, 4]) + reach_mm) / side)))
        rectangle[i, 0], rectangle[i, 1], rectangle[i, 2], rectangle[i, 3] = c0, c1, r0, r1
        entry_of[i] = entries
        if c1 >= c0 and r1 >= r0:
            entries += (c1 - c0 + 1) * (r1 - r0 + 1)
    entry_of[count] = entries
    return entries


@njit(cache=True, nogil=True)
def sort_by_tile(count, rectangle, entry_of, tiles_x, many, start, touched, step_of, row_of):  # type: ignore[no-untyped-def]
    """Counting sort of the entries by tile, the program's order kept within each tile.

    ``many`` and ``start`` (tiles,): entries of each tile and where they begin; ``many`` must come
    in as zeros. Returns how many tiles are touched; their indices stand in ``touched``.
    """
    tiles = 0
    for i in range(count):
        for ty in range(rectangle[i, 2], rectangle[i, 3] + 1):
            for tx in range(rectangle[i, 0], rectangle[i, 1] + 1):
                t = ty * tiles_x + tx
                if many[t] == 0:
                    touched[tiles] = t
                    tiles += 1
                many[t] += 1
    total = 0
    for j in range(tiles):
        t = touched[j]
        start[t] = total
        total += many[t]
    for i in range(count):
        row = entry_of[i]
        for ty in range(rectangle[i, 2], rectangle[i, 3] + 1):
            for tx in range(rectangle[i, 0], rectangle[i, 1] + 1):
                t = ty * tiles_x + tx
                step_of[start[t]] = i
                row_of[start[t]] = row
                start[t] += 1
                row += 1
    for j in range(tiles):
        start[touched[j]] -= many[touched[j]]
    return tiles


def profile_mm(
    distance_mm: NDArray[np.float64], shape: int, radius_mm: float, flank: float, tip_mm: float
) -> NDArray[np.float64]:
    """Height of the cutter's surface above its tip, at a distance from the axis; inf outside."""
    if shape == BALL:
        rise = radius_mm - np.sqrt(np.maximum(radius_mm**2 - distance_mm**2, 0.0))
    elif shape == VEE:
        rise = np.maximum(0.0, flank * (distance_mm - tip_mm))
    else:
        rise = np.zeros_like(distance_mm)
    return np.where(distance_mm <= radius_mm, rise, np.inf)


def cut_reference(
    height_mm: NDArray[np.float64],
    cell_mm: float,
    steps: NDArray[np.float64],
    shape: int,
    radius_mm: float,
    flank: float = 0.0,
    tip_mm: float = 0.0,
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
            surface = pz + profile_mm(np.hypot(x - px, y - py), shape, radius_mm, flank, tip_mm)
            height = np.minimum(height, surface)
    return height
