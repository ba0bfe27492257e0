"""What a step does to one block of 8 x 8 cells that lie one after another in memory.

Each loop is so plain that the compiler takes several cells at a time.
"""

import numpy as np

from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)
FAR = _f(1e30)  #: height of no cutter at all


@inner_kernel(ready=True, **INLINED)
def under_ball(  # type: ignore[no-untyped-def]
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
        under[j] = g if inside else FAR


@inner_kernel(ready=True, **BORROWING)
def under_flat(  # type: ignore[no-untyped-def]
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
        under[j] = g if inside else FAR


@inner_kernel(ready=True, **BORROWING)
def only_inside(  # type: ignore[no-untyped-def]
    n, under, along, across, a0, b0, start, aside, part_length, length, radius2
):
    """Leave out cells at the rim of one part alone, which lie well inside the rim of the run.

    ``a0``, ``b0``, ``length``: of the run; ``start``, ``aside``, ``part_length``: of the part.
    """
    for j in range(n):
        a, b = a0 + along[j], b0 + across[j]
        near = a if a > _ZERO else _ZERO
        near = near if near < length else length
        off = a - near
        x, y = a - start, b - aside
        near = x if x > _ZERO else _ZERO
        near = near if near < part_length else part_length
        x -= near
        at_rim = (x * x + y * y > radius2) & (off * off + b * b <= radius2)
        under[j] = FAR if at_rim else under[j]


@inner_kernel(ready=True, **INLINED)
def taken_of(n, height, under, taken, scratch):  # type: ignore[no-untyped-def]
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


@inner_kernel(ready=True, **INLINED)
def copy(n, values, out):  # type: ignore[no-untyped-def]
    for j in range(n):
        out[j] = values[j]


@inner_kernel(ready=True, **INLINED)
def highest_of(n, values, scratch):  # type: ignore[no-untyped-def]
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
    highest = -FAR
    for j in range(half):
        x, y = scratch[j], scratch[j + half]
        x = x if x > y else y
        highest = x if x > highest else highest
    return highest


@inner_kernel(ready=True, **INLINED)
def lower(n, height, made_by, under, made):  # type: ignore[no-untyped-def]
    """Lower the cells of a block that stand above the cutter."""
    for j in range(n):
        h, g = height[j], under[j]
        old, new = made_by[j], made[j]
        below = g < h
        height[j] = g if below else h
        made_by[j] = new if below else old


@inner_kernel(ready=True, **INLINED)
def lower_of_both(n, under, other, number, made):  # type: ignore[no-untyped-def]
    """Keep what is lower, and who made it."""
    for j in range(n):
        g, h, old = other[j], under[j], made[j]
        below = g < h
        under[j] = g if below else h
        made[j] = number if below else old


@inner_kernel(ready=True, **BORROWING)
def date_through(n, place, begin, taken, under, made, bottom, through_at):  # type: ignore[no-untyped-def]
    """Date the cells of a block of which nothing is left."""
    for j in range(n):
        i = begin + j
        if taken[j] > _ZERO and under[j] <= bottom and through_at[place, i] == 0:
            through_at[place, i] = made[j] + 1


@inner_kernel(ready=True, **BORROWING)
def any_above(top, per_side, c0, c1, r0, r1, level):  # type: ignore[no-untyped-def]
    """Whether wood stands above a level in any of the blocks."""
    for r in range(r0, r1 + 1):
        for c in range(c0, c1 + 1):
            if top[r * per_side + c] > level:
                return True
    return False


@inner_kernel(ready=True, **BORROWING)
def date_opened(n, place, begin, made, height, beneath, made_by, through_at):  # type: ignore[no-untyped-def]
    """Date the cells of a block that this step opened into a hollow below."""
    for j in range(n):
        i = begin + j
        open_now = made_by[place, i] == made[j] and height[place, i] <= beneath[place, i]
        if open_now and through_at[place, i] == 0:
            through_at[place, i] = made[j] + 1
