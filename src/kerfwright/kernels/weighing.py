"""The wood that a step takes from a block of cells, by the share of each cell, and where it goes.

An upright wall runs through the middle of cells. A cell at the cutter's rim is lowered by the share
of it that lies within; so that the next pass along the wall finds just what was left, each cell
keeps, beside its height, the highest wood that stands in it and its mean height.
"""

from math import atan2, pi, sqrt

import numpy as np
from numba import njit

from kerfwright.kernels.engagement import BINS, HIGHEST, LOWEST, VOLUME, put, rim_share
from kerfwright.kernels.profile import RADIUS, rise

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)
_SLIVER = _f(0.2)  #: of a cell: less, along a wall, is no tall wood
_NO_WALL = _f(1e-4)  #: wood above the rim that is but rounding [mm]


@njit(cache=True, nogil=True, inline="always", error_model="numpy")
def wood_in_cell(stand, height, mean, under, share):  # type: ignore[no-untyped-def]
    """Depth, averaged over the cell, that goes when ``share`` of it is cut to ``under``.

    A cell holds two levels at most: ``height`` in the part cut before and ``stand`` beside it.
    Cuts that reach into it overlap, from the same wall: the larger share counts, not the sum.
    Returns also the share that was cut for the first time.
    """
    if stand > height:
        before = (stand - mean) / (stand - height)
        deeper = height - under
        fresh = stand - (under if under > height else height)
    else:
        # The part cut before, if any, lies beside the centre: taken to be as deep as this cut.
        before = (stand - mean) / (stand - under)
        deeper = _ZERO
        fresh = stand - under
    more = share - before
    wood = fresh * more if more > _ZERO else _ZERO
    return (wood + share * deeper if deeper > _ZERO else wood), more


@njit(cache=True, nogil=True, error_model="numpy")
def whole(n, taken, stand, mean, along, across, a0, b0, length, edge2, whole):  # type: ignore[no-untyped-def]
    """Mark the cells that the rim does not touch and no wall runs through."""
    for j in range(n):
        a = a0 + along[j]
        b = b0 + across[j]
        near = a if a > _ZERO else _ZERO
        near = near if near < length else length
        off = a - near
        plain = (taken[j] > _ZERO) & (off * off + b * b <= edge2) & (mean[j] == stand[j])
        whole[j] = taken[j] if plain else _ZERO


@njit(cache=True, nogil=True, error_model="numpy")
def above_path(n, under, along, a0, z, m, low):  # type: ignore[no-untyped-def]
    for j in range(n):
        low[j] = under[j] - (z + m * (a0 + along[j]))


@njit(cache=True, nogil=True, error_model="numpy")
def into_lanes(n, wood, taken, low, across, first, per_lane, engagement):  # type: ignore[no-untyped-def]
    for j in range(n):
        if not wood[j] > _ZERO:
            continue
        at = across[j] * per_lane + first
        k = np.int64(at)
        part = at - _f(k)
        put = wood[j] * part
        engagement[VOLUME, k] += wood[j] - put
        engagement[VOLUME, k + 1] += put
        if not taken[j] > _ZERO:
            continue
        if part >= _HALF:
            k += 1
        if low[j] < engagement[LOWEST, k]:
            engagement[LOWEST, k] = low[j]
        high = low[j] + taken[j]
        if high > engagement[HIGHEST, k]:
            engagement[HIGHEST, k] = high


@njit(cache=True, nogil=True, error_model="numpy")
def into_bins(n, wood, taken, along, across, a0, b0, form, engagement):  # type: ignore[no-untyped-def]
    """Wood of a step straight down; behind the bins stands how tall it was."""
    radius = form[RADIUS]
    for j in range(n):
        if wood[j] > _ZERO:
            a, b = a0 + along[j], b0 + across[j]
            k = min(int((atan2(b, a) + pi) * (BINS / (2.0 * pi))), BINS - 1)
            up = _f(rise(min(sqrt(a * a + b * b), radius), form))
            put(engagement, k, wood[j], up, up)
            if taken[j] + up > engagement[HIGHEST, BINS]:
                engagement[HIGHEST, BINS] = taken[j] + up


@njit(cache=True, nogil=True, error_model="numpy")
def weigh(  # type: ignore[no-untyped-def]
    n, place, begin, taken, under, wood, number, bottom, height, made_by, through_at, stand, mean,
    along, across, a0, b0, ux, uy, length, radius, edge2, cell, form, rim,
):  # fmt: skip
    """Lowers a block as ``removal`` does, with the cells at the rim taken by their share.

    ``wood`` comes from ``whole``; what of each cell was taken is written there. Returns its sum.
    """
    total = _ZERO
    radius2 = radius * radius
    for j in range(n):
        if not taken[j] > _ZERO:
            continue
        i = begin + j
        g = under[j]
        if wood[j] > _ZERO:
            total += wood[j]
            height[place, i] = g
            stand[place, i] = g
            mean[place, i] = g
            made_by[place, i] = number
            if g <= bottom and through_at[place, i] < 0:
                through_at[place, i] = number
            continue
        a, b = a0 + along[j], b0 + across[j]
        near = a if a > _ZERO else _ZERO
        near = near if near < length else length
        off = a - near
        inner = radius2 - b * b - off * off
        centre = inner >= _ZERO
        away2 = off * off + b * b
        top, h = stand[place, i], height[place, i]
        share = _ONE
        if away2 > edge2:
            # Only where wood stands above the rim is there a wall through the cell.
            away = np.sqrt(away2)
            over = top - g
            if centre:
                over -= rim - _f(rise(min(away, radius), form))
            if over > _NO_WALL:
                per = _ONE / away
                nx = (off * ux - b * uy) * per
                ny = (off * uy + b * ux) * per
                share = rim_share(radius - away, nx, ny, cell)
            elif not centre:
                continue
        gone, more = wood_in_cell(top, h, mean[place, i], g, share)
        mean[place, i] -= gone
        if centre and g < h:
            height[place, i] = g
            made_by[place, i] = number
            if g <= bottom and through_at[place, i] < 0:
                through_at[place, i] = number
        if share >= _ONE:
            stand[place, i] = g
            if height[place, i] == g:
                mean[place, i] = g
        if gone > _ZERO:
            wood[j] = gone
            total += gone
            if not centre or more < _SLIVER:
                # A sliver along a wall counts by its volume; it is no tall wood.
                taken[j] = h - g if centre else -_ONE
    return total
