"""Where about the cutter a step's wood was taken: volume and heights in bins of angle.

Cells are too coarse to be binned one by one: at the side of a slot one cell spans 20 degrees. So
the wood of a step is gathered in lanes along its travel, about a cell wide, and a lane is shared
out between the bins by the cutter's outline. A lane at b beside the axis is passed first by the
front of the cutter, then by what lies behind it; the edge stands over it at e ahead of the axis
when the outline is at F(e) = f(sqrt(e² + b²)) - m e above the path (f: the outline, m: the path's
slope), so wood between F(e1) and F(e2) was taken at angles between atan2(b, e1) and atan2(b, e2).
Wood above the rim is taken by the upright wall, where the lane's own width is shared out.

Derived here. tests/kernels/test_engagement.py holds it against integrals over exact shapes.
"""

from math import cos, pi, sin, sqrt

import numpy as np
from numba import njit
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.profile import (
    ARC,
    ARC_END,
    ARC_TOP,
    DISC,
    FLANK,
    FORM_NUMBERS,
    RADIUS,
    plain_rise,
    profile_mm,
    rise,
    rise_and_slope,
)

BINS = 24  #: of the angle about the axis, 15 degrees each, from -pi
#: Rows of an engagement by bins: volume taken by the edge, lowest and highest place on the edge
#: that took it, volume taken by the disc at the cutter's end. One by lanes, of one step, has the
#: first three: depths taken, lowest and highest wood above the path at the wood's own place.
VOLUME, LOWEST, HIGHEST, FLOOR = 0, 1, 2, 3
ROWS = 4
LANE_ROWS = 3
MOST_LANES = 64
LANE_PAD = 2  #: places before the first lane and behind the last, for wood at the rim

_D = 2.0 * pi / BINS
_HALF_TURN = BINS // 2
_EDGES = _HALF_TURN + 2
FAR = float(np.float32(1e30))  #: height of no wood at all
_FAR = np.float32(FAR)
_TURN = np.arange(_EDGES) * _D
_COS, _SIN = np.cos(_TURN), np.sin(_TURN)


def lanes_for(radius_mm: float, cell_mm: float) -> int:
    """How many lanes, evenly over the cutter's width: none narrower than a cell."""
    return min(MOST_LANES, max(1, int(2.0 * radius_mm / cell_mm + 1e-6)))


def row_length(lanes: int) -> int:
    """Length of the rows of an engagement of one step, by lanes or by bins."""
    return max(lanes + 2 * LANE_PAD, BINS + 1)


@njit(inline="always", **BORROWING)
def rim_share(inside, nx, ny, cell):  # type: ignore[no-untyped-def]
    """Share of a square cell on the near side of a straight line.

    ``inside``: how far the line lies beyond the cell's centre; (nx, ny): its normal; all float32.
    """
    one = np.float32(1.0)
    half = np.float32(0.5)
    nx, ny = abs(nx), abs(ny)
    large = (nx if nx > ny else ny) * cell
    small = (ny if nx > ny else nx) * cell
    at = abs(inside)
    outer, inner = half * (large + small), half * (large - small)
    if at >= outer:
        beyond = np.float32(0.0)
    elif at <= inner:
        beyond = half - at / large
    else:
        beyond = half * (outer - at) * (outer - at) / (large * small)
    return one - beyond if inside > np.float32(0.0) else beyond


@njit(**BORROWING)
def nothing(engagement):  # type: ignore[no-untyped-def]
    """Set an engagement to one that took nothing."""
    for i in range(engagement.shape[1]):
        engagement[VOLUME, i] = np.float32(0.0)
        engagement[LOWEST, i] = _FAR
        engagement[HIGHEST, i] = -_FAR


@njit(inline="always", **BORROWING)
def put(out, b, volume, low, high):  # type: ignore[no-untyped-def]
    """Add wood between two places on the edge to a bin."""
    out[VOLUME, b] += volume
    if low < out[LOWEST, b]:
        out[LOWEST, b] = low
    if high > out[HIGHEST, b]:
        out[HIGHEST, b] = high


@njit(**BORROWING)
def spread_lanes(lanes, wood, heading, m, form, out):  # type: ignore[no-untyped-def]
    """Share wood gathered in lanes out between the bins.

    Parameters
    ----------
    lanes : how many, evenly over the cutter's width, from right to left of the travel.
    wood : (LANE_ROWS, >= lanes) as in an engagement by lanes; its lowest wood is far above its
        highest where none had its middle in the lane.
    heading, m : direction of travel in plan [rad]; slope.
    form : of the cutter, see ``profile``.
    out : (ROWS, BINS) added to.
    """
    radius = form[RADIUS]
    wide = 2.0 * radius / lanes
    turn = (heading + pi) / _D
    first = int(turn)
    part = turn - first
    # The nearest edge of a bin on either side of the heading, from the one before.
    ca_left, sa_left = cos(part * _D), sin(part * _D)
    ca_right, sa_right = cos((1.0 - part) * _D), sin((1.0 - part) * _D)
    rim = rise(radius, form)
    for j in range(lanes):
        taken = float(wood[VOLUME, j])
        if not taken > 0.0:
            continue
        lo, hi = float(wood[LOWEST, j]), float(wood[HIGHEST, j])
        for off in range(1, lanes):
            if lo <= hi:
                break
            near = j - off if j - off >= 0 and wood[LOWEST, j - off] < _FAR else j + off
            if near < lanes:
                lo, hi = float(wood[LOWEST, near]), float(wood[HIGHEST, near])
        if lo > hi:  # nothing but slivers along a wall
            lo, hi = 0.0, 1e-3
        hi = max(hi, lo + 1e-6)
        beside = (j + 0.5) * wide - radius
        side = 1 if beside >= 0.0 else -1
        b = abs(beside)
        ahead = sqrt(max(radius * radius - b * b, 0.0))
        density = taken / (hi - lo)
        at_rim = min(max(rim - m * ahead, lo), hi)
        walled = hi - at_rim > 1e-5 * (hi - lo)
        if walled:
            # The wall: across the lane the angle turns as asin(b / radius).
            wall = density * (hi - at_rim)
            low, high = max(at_rim + m * ahead, 0.0), hi + m * ahead
            middle = b < 0.499 * wide  # this lane has both sides
            for part_of in range(2 if middle else 1):
                begin, end, share, to = b - 0.5 * wide, b + 0.5 * wide, 1.0, side
                if middle:
                    to = side if part_of == 0 else -side
                    beyond = b if part_of == 0 else -b
                    begin, end, share = 0.0, 0.5 * wide + beyond, 0.5 + beyond / wide
                _spread_wall(
                    begin, end, wall * share, low, high, to, first, ca_left if to > 0 else ca_right,
                    sa_left if to > 0 else sa_right, radius, out,
                )  # fmt: skip
        else:
            at_rim = hi
        if at_rim - lo > 1e-5 * (hi - lo):
            _spread_under(
                b, wide, at_rim, lo, density, ahead, m, side, first,
                ca_left if side > 0 else ca_right, sa_left if side > 0 else sa_right, form, out,
            )  # fmt: skip


@njit(**BORROWING)
def _spread_under(  # type: ignore[no-untyped-def]
    b, wide, z, lo, density, ahead, m, side, first, ca, sa, form, out
):
    e_before = ahead
    inwards = max(b - 0.5 * wide, 0.0) / max(b, 1e-9)
    disc, arc, arc_end, arc_top = form[DISC], form[ARC], form[ARC_END], form[ARC_TOP]
    radius, flank, arc2 = form[RADIUS], form[FLANK], form[ARC] * form[ARC]
    polyline = form.shape[0] > FORM_NUMBERS
    for i in range(1, _EDGES):
        # Of the bin's edge, from the heading.
        sine, cosine = _SIN[i] * ca - _COS[i] * sa, _COS[i] * ca + _SIN[i] * sa
        last = i == _EDGES - 1 or (sine <= 1e-9 and cosine < 0.0)
        if not last and b * cosine >= ahead * sine:
            continue
        r = radius
        if not last:
            r = min(b / sine, radius)
        e = -ahead if last else max(r * cosine, -ahead)
        up, z_next = 0.0, lo
        if not last:
            # Whether the outline still comes down there, and how high it is.
            if polyline:
                up, slope = rise_and_slope(r, form)
                falls = slope * e >= m * r
            elif r <= disc:
                falls = m * r <= 0.0
            elif r < arc_end:
                upright = sqrt(max(arc2 - (r - disc) * (r - disc), 1e-12))
                up = arc - upright
                falls = (r - disc) * e >= m * r * upright
            else:
                up = arc_top + flank * (r - arc_end)
                falls = (flank if r < radius else 1e12) * e >= m * r
            if falls:
                z_next = min(max(up - m * e, lo), z)
        if z > z_next:
            bin_at = first + side * (i - 1)  # at most once round
            bin_at += BINS if bin_at < 0 else (-BINS if bin_at >= BINS else 0)
            if r <= disc and disc > 0.0:  # a point has no end that takes anything
                out[FLOOR, bin_at] += density * (z - z_next)
            else:
                # The lane reaches further in than its middle: so does the edge that passes it.
                at = r
                if z_next <= lo:
                    at = b
                    up = (
                        rise(b, form)
                        if polyline
                        else plain_rise(b, disc, arc, arc_end, arc_top, flank)
                    )
                at *= inwards
                inner = (
                    rise(at, form)
                    if polyline
                    else plain_rise(at, disc, arc, arc_end, arc_top, flank)
                )
                low = z_next + m * e - up + inner
                put(out, bin_at, density * (z - z_next), max(low, 0.0), z + m * e_before)
        z, e_before = z_next, e
        if z <= lo:
            return


@njit(**BORROWING)
def _spread_wall(b0, b1, taken, low, high, side, first, ca, sa, radius, out):  # type: ignore[no-untyped-def]
    per = taken / max(b1 - b0, 1e-9)
    for i in range(1, _EDGES):
        end = b1
        if _COS[i] * ca + _SIN[i] * sa > 1e-9:
            end = min(b1, radius * (_SIN[i] * ca - _COS[i] * sa))
        if end > b0:
            put(out, (first + side * (i - 1)) % BINS, per * (end - b0), low, high)
            b0 = end
        if end >= b1:
            return


def spread_reference(
    lanes: int, wood: NDArray[np.float64], heading: float, m: float, form: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Volume in each bin by following small parcels of each lane: the definition. (BINS,)

    Parcels lie evenly over a lane's heights; one below the rim is taken where the outline, coming
    from ahead, first reaches it over the lane's middle; one above it where the rim does, evenly
    over the lane's width.
    """
    radius = form[RADIUS]
    wide = 2.0 * radius / lanes
    out = np.zeros(BINS)
    for j in range(lanes):
        beside = (j + 0.5) * wide - radius
        ahead = np.sqrt(max(radius**2 - beside**2, 0.0))
        e = np.linspace(ahead, -ahead, 2001)
        outline = profile_mm(np.minimum(np.hypot(e, beside), radius), form) - m * e
        outline = np.minimum.accumulate(outline)
        parcels = (np.arange(400) + 0.5) / 400
        z = wood[LOWEST, j] + parcels * (wood[HIGHEST, j] - wood[LOWEST, j])
        first = np.minimum(np.searchsorted(-outline, -z), len(e) - 1)
        across = beside + np.linspace(-0.5, 0.5, 101) * wide * 0.999
        at_rim = np.arctan2(across, np.sqrt(np.maximum(radius**2 - across**2, 0.0)))
        angles = [np.arctan2(beside, e[first[z < outline[0]]]), at_rim]
        above = (z >= outline[0]).mean()
        for angle, share in zip(angles, (1.0 - above, above), strict=True):
            if share > 0.0:
                turned = np.mod(angle + heading + np.pi, 2.0 * np.pi)
                bins = np.minimum((turned / _D).astype(int), BINS - 1)
                part = np.bincount(bins, minlength=BINS) / len(bins)
                out += wood[VOLUME, j] * share * part
    return out
