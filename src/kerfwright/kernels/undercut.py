"""Wood in spans: columns of cells out of whose middle a cutter with an undercut took something.

A cell of such a tile keeps up to ``SPANS`` spans of wood, each from its underside to its top, the
highest first; an empty one has no height. A cutter is a stack of cones, disc on disc, each of which
is convex; so what one of them sweeps over a step takes one span out of a column, and its two ends
are the closed form of ``outline.cone``, once as it is and once upside down.

What no place is left for is filled in again where the gap is least, and counted.
"""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.outline import FAR, cone, kappa_of
from kerfwright.kernels.profile import CORNERS, MOST_CORNERS, UNDERSIDE, WHOLE

SPANS = 4
MOST_PIECES = MOST_CORNERS
_f = np.float32
_ZERO, _ONE = _f(0.0), _f(1.0)
#: Spans that come this close are one, and wood thinner than that is none. [mm]
_TOUCH = _f(5e-4)


@inner_kernel(**BORROWING)
def take_span(spans, low, high):  # type: ignore[no-untyped-def]
    """Take what lies between two heights out of one column.

    Parameters
    ----------
    spans : (SPANS, 2) underside and top of each span, the highest first; changed in place.
    low, high : what goes.

    Returns
    -------
    wood taken, its lowest and highest place; 1 if a gap had to be filled in again, else 0.
    """
    taken, lowest, highest, filled = _ZERO, FAR, -FAR, 0
    k = 0
    while k < SPANS:
        begin, end = spans[k, 0], spans[k, 1]
        if not end > begin or end <= low:
            break
        if begin >= high:
            k += 1
            continue
        b, t = max(begin, low), min(end, high)
        b = begin if b - begin < _TOUCH else b
        t = end if end - t < _TOUCH else t
        taken += t - b
        lowest, highest = min(lowest, b), max(highest, t)
        if t < end and b > begin:
            # Split: what lies below moves down by one place.
            lost = spans[SPANS - 1, 1] > spans[SPANS - 1, 0]
            if lost:
                filled = 1
                taken -= _make_room(spans, k, b, t)
            else:
                for i in range(SPANS - 1, k + 1, -1):
                    spans[i, 0], spans[i, 1] = spans[i - 1, 0], spans[i - 1, 1]
                spans[k, 0] = t
                spans[k + 1, 0], spans[k + 1, 1] = begin, b
            break
        if t < end:
            spans[k, 0] = t
            k += 1
        elif b > begin:
            spans[k, 1] = b
            break
        else:
            for i in range(k, SPANS - 1):
                spans[i, 0], spans[i, 1] = spans[i + 1, 0], spans[i + 1, 1]
            spans[SPANS - 1, 0] = spans[SPANS - 1, 1] = begin
    return taken, lowest, highest, filled


@inner_kernel(**BORROWING)
def _make_room(spans, k, b, t):  # type: ignore[no-untyped-def]
    """Split span k from b to t where all places are in use, and fill the least gap in again.

    Returns what was filled in.
    """
    least, at = t - b, -1
    for i in range(SPANS - 1):
        gap = spans[i, 0] - spans[i + 1, 1]
        if gap < least:
            least, at = gap, i
    if at < 0:  # the new gap itself
        return least
    begin = spans[k, 0]
    if at < k:
        spans[at, 0] = spans[at + 1, 0]
        for i in range(at + 1, k):
            spans[i, 0], spans[i, 1] = spans[i + 1, 0], spans[i + 1, 1]
        spans[k - 1, 0] = t
        spans[k, 0], spans[k, 1] = begin, b
        return least
    spans[at + 1, 1] = spans[at, 1]
    for i in range(at, k, -1):
        spans[i, 0], spans[i, 1] = spans[i - 1, 0], spans[i - 1, 1]
    spans[k, 0] = t
    spans[k + 1, 1] = b
    if at > k:
        spans[k + 1, 0] = begin
    return least


def take_span_reference(
    spans: NDArray[np.float64], low: float, high: float
) -> list[tuple[float, float]]:
    """The spans that are left, the highest first, without a limit to their number: the definition.

    ``spans`` (k, 2): underside and top.
    """
    left = []
    for begin, end in spans:
        left += [(max(begin, high), end), (begin, min(end, low))]
    return sorted([(b, t) for b, t in left if t > b], reverse=True)


@inner_kernel(**BORROWING)
def swept_spans(  # type: ignore[no-untyped-def]
    n, lows, highs, along, across, a0, b0, near, z, m, length, upright, least, form
):
    """What each piece of a cutter's outline sweeps of the columns of a block.

    ``lows`` and ``highs`` (pieces, n) are written, the lowest piece first; nothing where they
    stand far apart the wrong way round. ``upright``: how far a step straight down or up goes from
    ``z``, its lower end, upwards. Returns the number of pieces.
    """
    corners = form[CORNERS + 2 * int(form[UNDERSIDE]) :]
    side = _ONE if m < _ZERO else -_ONE
    pieces = 0
    last = int(form[WHOLE])
    for i in range(last):
        r0, z0 = _f(corners[2 * i]), _f(corners[2 * i + 1])
        r1, z1 = r0, _f(1e4)  # behind the last corner straight up, without an end
        if i < last - 1:
            r1, z1 = _f(corners[2 * i + 2]), _f(corners[2 * i + 3])
        widest = max(r0, r1)
        if not z1 > z0 or near > widest or not widest > _ZERO:
            continue
        lean = abs(r1 - r0) / (z1 - z0)
        flank = _ONE / lean if lean > _f(1e-9) else _ZERO
        up, down = (flank, _ZERO) if r1 > r0 else (_ZERO, flank)
        cone(n, lows[pieces], along, across, a0, b0, kappa_of(m, up), side, widest * widest,
             z + z0, m, length, least, -FAR, _ZERO, up, r0)  # fmt: skip
        cone(n, highs[pieces], along, across, a0, b0, kappa_of(m, down), -side, widest * widest,
             -(z + upright + z1), -m, length, least, -FAR, _ZERO, down, r1)  # fmt: skip
        for j in range(n):
            highs[pieces, j] = -highs[pieces, j]
        pieces += 1
    return pieces


@inner_kernel(**BORROWING)
def take_spans(  # type: ignore[no-untyped-def]
    n, begin, pieces, lows, highs, spans, floor, number, height, made_by, through_at,
    wood, taken, low, lost,
):  # fmt: skip
    """Take what a step sweeps out of the columns of a block.

    Parameters
    ----------
    begin : of the block's cells in the rows below.
    pieces, lows, highs : from ``swept_spans``.
    spans : (TILE², SPANS, 2). floor : height of a column of which nothing is left.
    height, made_by, through_at : (TILE²,) of the tile.
    wood, taken, low : (n,) written: taken of each column, from its lowest to its highest, and where
        that begins.
    lost : (1,) counts the gaps that were filled in again.

    Returns
    -------
    sum of ``wood``.
    """
    total = _ZERO
    for j in range(n):
        wood[j] = taken[j] = _ZERO
        lowest, highest, gone = FAR, -FAR, _ZERO
        cell = spans[begin + j]
        k = 0
        while k < pieces:
            a, b = lows[k, j], highs[k, j]
            k += 1
            if not b > a:
                continue
            while k < pieces and (
                not highs[k, j] > lows[k, j]
                or (lows[k, j] <= b + _TOUCH and highs[k, j] >= a - _TOUCH)
            ):
                if highs[k, j] > lows[k, j]:
                    a, b = min(a, lows[k, j]), max(b, highs[k, j])
                k += 1
            part, under, over, filled = take_span(cell, a, b)
            gone += part
            lowest, highest = min(lowest, under), max(highest, over)
            lost[0] += filled
        if not gone > _ZERO:
            continue
        wood[j], taken[j], low[j] = gone, highest - lowest, lowest
        total += gone
        i = begin + j
        top = cell[0, 1] if cell[0, 1] > cell[0, 0] else floor
        if top < height[i]:
            height[i] = top
            made_by[i] = number
            if top <= floor and through_at[i] == 0:
                through_at[i] = number + 1
    return total


def cut_columns_reference(
    x_mm: NDArray[np.float64],
    y_mm: NDArray[np.float64],
    z_mm: NDArray[np.float64],
    steps: NDArray[np.float64],
    corners_mm: NDArray[np.float64],
    samples: int = 400,
) -> NDArray[np.bool_]:
    """Where wood is left, by setting the cutter down many times along each step: the definition.

    Columns at ``x_mm``, ``y_mm`` (c,), looked at at the heights ``z_mm`` (h,), of wood that stood
    everywhere; ``corners_mm`` (k, 2) of the outline. (c, h)
    """
    wood = np.ones((len(x_mm), len(z_mm)), np.bool_)
    for step in steps:
        for share in np.linspace(0.0, 1.0, samples):
            px, py, pz = step[:3] + share * (step[3:] - step[:3])
            above = z_mm - pz
            radius = np.interp(above, corners_mm[:, 1], corners_mm[:, 0])
            radius[above < 0.0] = -1.0
            wood &= np.hypot(x_mm - px, y_mm - py)[:, None] > radius
    return wood
