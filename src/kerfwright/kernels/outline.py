"""Lowest place under cutters of any outline, for the 64 cells of a block.

A cone with a flat point is closed form, see ``removal``: with no point it is a V, with no flank a
disc. A polyline that hides nothing from below is a stack of such cones, each of which reaches from
its own flat point up, so the lowest of them counts.

Under a disc with an arc and a flank the height is convex in where the cutter stands, so that place
is found by halving what is left of the step; on a level step it is the nearest one.
"""

from math import ceil, log2

import numpy as np

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.profile import ARC, ARC_END, ARC_TOP, CORNERS, DISC, FLANK, UNDERSIDE

_f = np.float32
_ZERO, _HALF, _ONE = _f(0.0), _f(0.5), _f(1.0)
FAR = _f(1e30)
#: Where the cutter stands over a cell is found to this; the height is off by its square. [mm]
_NEAR_MM = 5e-4


@inner_kernel(**BORROWING)
def cone(  # type: ignore[no-untyped-def]
    n, under, along, across, a0, b0, kappa, side, radius2, z, m, length,
    least, bottom, outer, flank, tip,
):  # fmt: skip
    """Under a cone of slope ``flank`` with a flat point of radius ``tip``; see ``removal``."""
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
        r2 = e * e + b2
        r2 = r2 if r2 < radius2 else radius2
        lift = flank * (np.sqrt(r2) - tip)
        g = z + m * s + (lift if lift > _ZERO else _ZERO)
        g = g if g > bottom else bottom
        q = w2 - off * off
        inside = (q >= outer) & (a > least)
        under[j] = g if inside else FAR


@inner_kernel(inline="always", **BORROWING)
def kappa_of(m, flank):  # type: ignore[no-untyped-def]
    """How far ahead of the axis a cone is lowest, for each mm beside it."""
    if abs(m) < flank:
        return abs(m) / np.sqrt(flank * flank - m * m)
    return _f(1e6)


@inner_kernel(**BORROWING)
def under_polyline(  # type: ignore[no-untyped-def]
    n, under, other, along, across, a0, b0, near, side, z, m, length, least, bottom, outer, form,
):  # fmt: skip
    """Under a polyline. ``near``: no cell is nearer to the axis' way. ``other`` (n,): worked in."""
    corners = form[CORNERS:]
    for j in range(n):
        under[j] = FAR
    last = int(form[UNDERSIDE]) - 1
    for i in range(last):
        tip, radius = _f(corners[2 * i]), _f(corners[2 * i + 2])
        rim = i == last - 1
        if not radius > tip or (near > radius and not rim):
            continue
        low = _f(corners[2 * i + 1])
        flank = (_f(corners[2 * i + 3]) - low) / (radius - tip)
        cone(n, other, along, across, a0, b0, kappa_of(m, flank), side, radius * radius, z + low,
             m, length, least, bottom, outer if rim else _ZERO, flank, tip)  # fmt: skip
        for j in range(n):
            under[j] = other[j] if other[j] < under[j] else under[j]


@inner_kernel(**BORROWING)
def under_round(  # type: ignore[no-untyped-def]
    n, under, begin, end, along, across, a0, b0, radius2, z, m, length, least, bottom, outer, form,
):  # fmt: skip
    """Under a disc with an arc and a flank. ``begin`` and ``end`` (n,) are worked in."""
    disc, arc, arc_end = _f(form[DISC]), _f(form[ARC]), _f(form[ARC_END])
    arc_top, flank = _f(form[ARC_TOP]), _f(form[FLANK])
    for j in range(n):
        a = a0 + along[j]
        b = b0 + across[j]
        w2 = radius2 - b * b
        w = np.sqrt(w2 if w2 > _ZERO else _ZERO) if m != _ZERO else _ZERO
        s = a - w if a - w > _ZERO else _ZERO
        begin[j] = s if s < length else length
        s = a + w if a + w > _ZERO else _ZERO
        end[j] = s if s < length else length
    rounds = 0
    if m != _ZERO:
        longest = min(length, _f(2.0) * np.sqrt(radius2))
        rounds = max(1, ceil(log2(max(longest / _NEAR_MM, 1.0))))
    arc2 = arc * arc
    for _ in range(rounds):
        for j in range(n):
            s = _HALF * (begin[j] + end[j])
            b = b0 + across[j]
            e = a0 + along[j] - s
            d = np.sqrt(e * e + b * b)
            out = d - disc
            q = arc2 - out * out
            slope = out / np.sqrt(q if q > _f(1e-12) else _f(1e-12))
            slope = slope if out > _ZERO else _ZERO
            slope = slope if d < arc_end else flank
            # The height still falls along the step where the outline does not come down as fast.
            falls = m * d < slope * e
            begin[j] = s if falls else begin[j]
            end[j] = end[j] if falls else s
    radius = np.sqrt(radius2)
    for j in range(n):
        s = _HALF * (begin[j] + end[j])
        a = a0 + along[j]
        b = b0 + across[j]
        e = a - s
        d = np.sqrt(e * e + b * b)
        d = d if d < radius else radius
        out = d - disc
        out = out if out > _ZERO else _ZERO
        q = arc2 - out * out
        lift = arc - np.sqrt(q if q > _ZERO else _ZERO)
        lift = lift if d < arc_end else arc_top + flank * (d - arc_end)
        g = z + m * s + lift
        g = g if g > bottom else bottom
        nearest = a if a > _ZERO else _ZERO
        nearest = nearest if nearest < length else length
        off = a - nearest
        inside = (radius2 - b * b - off * off >= outer) & (a > least)
        under[j] = g if inside else FAR
