"""Shares wood gathered in lanes out between the bins of angle.

A lane at b beside the axis is passed first by the front of the cutter, then by what lies behind it;
the edge stands over it at e ahead of the axis when the outline is at F(e) = f(sqrt(e² + b²)) - m e
above the path (f: the outline, m: the path's slope), so wood between F(e1) and F(e2) was taken at
angles between atan2(b, e1) and atan2(b, e2). Wood above the rim is taken by the upright wall, where
the lane's own width is shared out.

Derived here. tests/kernels/test_engagement.py and test_parts_and_ramps.py hold it against integrals
over exact shapes.
"""

from math import cos, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.engagement import (
    BIN_RAD,
    BINS,
    COS_EDGES,
    EDGES,
    FAR,
    FLOOR,
    HIGHEST,
    LOWEST,
    SIN_EDGES,
    VOLUME,
    put,
)
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
from kerfwright.kernels.stack import comes_in, spread_stack

_FAR = np.float32(FAR)
_NEAR = 1e-4  #: heights that differ by rounding [mm]
#: So far up its wood the outline over a lane's middle may be for the wood to end there: of one
#: lane, or of some told as one, whose lowest wood may stand anywhere in them.
_ONE_LANE, _SOME_LANES = 0.5, 0.9
_LEVEL = 1e-3  #: slope below which a way is level


@inner_kernel(**INLINED)
def lowest_of(b, m, form):  # type: ignore[no-untyped-def]
    """Lowest place of the outline above the path over a lane, and how far ahead of the axis.

    ``b``: how far beside the axis, up to the radius. [mm]; m: slope of the path.
    """
    if m == 0.0:
        if form.shape[0] > FORM_NUMBERS:
            return rise(b, form), 0.0
        return (
            plain_rise(b, form[DISC], form[ARC], form[ARC_END], form[ARC_TOP], form[FLANK]),
            0.0,
        )
    steep, sign = abs(m), 1.0 if m > 0.0 else -1.0
    radius, disc, arc = form[RADIUS], form[DISC], form[ARC]
    ahead = sqrt(max(radius * radius - b * b, 0.0))
    if form.shape[0] == FORM_NUMBERS and disc == 0.0:
        # A ball or a sharp V: where the outline is as steep as the path.
        longer = sqrt(1.0 + m * m)
        upright = sqrt(max(arc * arc - b * b, 0.0))
        e = steep * upright / longer
        if b * b + e * e <= form[ARC_END] * form[ARC_END]:
            return arc - upright * longer, sign * e
        flank = form[FLANK]
        e = min(steep * b / sqrt(flank * flank - m * m), ahead) if flank > steep else ahead
        r = min(sqrt(b * b + e * e), radius)
        up = plain_rise(r, disc, arc, form[ARC_END], form[ARC_TOP], flank)
        return up - steep * e, sign * e
    low, high = sqrt(max(disc * disc - b * b, 0.0)), ahead
    for _ in range(10):
        e = 0.5 * (low + high)
        r = sqrt(b * b + e * e)
        if rise_and_slope(r, form)[1] * e < steep * r:
            low = e
        else:
            high = e
    e = sign * low
    return rise(min(sqrt(b * b + low * low), radius), form) - m * e, e


@inner_kernel(**INLINED)
def _meets(z, b, m, ahead, at_under, form):  # type: ignore[no-untyped-def]
    """How far ahead of the axis the outline over a lane is at a height above the sloping path."""
    if form.shape[0] == FORM_NUMBERS and form[DISC] == 0.0:
        # Of a ball, (1 + m²) e² - 2 m q e + q² + b² - arc² = 0; of a flank much the same.
        arc, q = form[ARC], form[ARC] - z
        square = m * m * q * q - (1.0 + m * m) * (q * q + b * b - arc * arc)
        e = (m * q + sqrt(max(square, 0.0))) / (1.0 + m * m)
        flank2 = form[FLANK] * form[FLANK]
        if sqrt(b * b + e * e) > form[ARC_END] and flank2 > m * m:
            q = z - form[ARC_TOP] + form[FLANK] * form[ARC_END]
            square = m * m * q * q - (flank2 - m * m) * (flank2 * b * b - q * q)
            e = (m * q + sqrt(max(square, 0.0))) / (flank2 - m * m)
        return min(max(e, -ahead), ahead)
    low, high = max(at_under, -ahead), ahead
    for _ in range(8):
        e = 0.5 * (low + high)
        if rise(sqrt(b * b + e * e), form) - m * e < z:
            low = e
        else:
            high = e
    return high


@inner_kernel(**INLINED)
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

    Notes
    -----
    Cells are lowered to the cutter's outline, so wood that ends anywhere within its rise over the
    lane ends on it: there its lowest place is that of the outline, not of the nearest cell.
    """
    turn = (heading + pi) / BIN_RAD
    first = int(turn)
    part = turn - first
    # The nearest edge of a bin on either side of the heading, from the one before.
    ca_left, sa_left = cos(part * BIN_RAD), sin(part * BIN_RAD)
    ca_right, sa_right = cos((1.0 - part) * BIN_RAD), sin((1.0 - part) * BIN_RAD)
    rim = rise(form[RADIUS], form)
    j = 0
    while j < lanes:
        if not wood[VOLUME, j] > 0.0:
            j += 1
            continue
        end = j + 1
        while end < lanes and wood[VOLUME, end] > 0.0:
            end += 1
        wide = 2.0 * form[RADIUS] / lanes
        head, head_wide = _open_end(j, end, 1, lanes, wood, m, form)
        tail, tail_wide = _open_end(end - 1, j - 1, -1, lanes, wood, m, form)
        if head + tail > end - j - 1:
            head = tail = 0
        for k in range(j, end):
            begin, after, width = k, k + 1, wide
            beside = (k + 0.5) * wide - form[RADIUS]
            if k < j + head:
                begin, after, width = j, j + head, head_wide
                beside = after * wide - form[RADIUS] - 0.5 * width
                if k > begin:
                    continue
            elif k >= end - tail:
                begin, after, width = end - tail, end, tail_wide
                beside = begin * wide - form[RADIUS] + 0.5 * width
                if k > begin:
                    continue
            left = beside >= 0.0
            _spread_lane(
                begin, after, abs(beside), width, 1 if left else -1, lanes, wood, m, first,
                ca_left, sa_left, ca_right, sa_right, rim, form, out,
            )  # fmt: skip
        j = end


@inner_kernel(**BORROWING)
def _open_end(first, end, way, lanes, wood, m, form):  # type: ignore[no-untyped-def]
    """How many lanes at an end of a stretch with wood are filled in part, and their whole width.

    Where wood ends beside the axis before the cutter does, cells and lanes smear its end over two
    lanes or three. How full they are, against the next one, tells where it was.

    ``first``: lane at the end; ``end``: first one without wood beyond the other end; ``way``: 1 or
    -1 from here to there.
    """
    radius = form[RADIUS]
    wide = 2.0 * radius / lanes
    beyond = first - way
    if beyond < 0 or beyond >= lanes or way * (end - first) < 4:
        return 0, 0.0
    # The outermost may have no more than a share of cells whose middles lie in the next.
    high = max(float(wood[HIGHEST, first]), float(wood[HIGHEST, first + way]))
    if lowest_of(abs((beyond + 0.5) * wide - radius), m, form)[0] >= high - _NEAR:
        return 0, 0.0  # the cutter's own end at that depth
    full = _filled(first + 3 * way, -FAR, wide, wood, m, form)
    filled = 0.0
    for k in range(3):
        share = _filled(first + k * way, high, wide, wood, m, form) / full
        if share > 0.98 or not share > 0.0:
            return (k, filled * wide) if k > 0 else (0, 0.0)
        filled += share
    return 3, filled * wide


@inner_kernel(**BORROWING)
def _filled(lane, high, wide, wood, m, form):  # type: ignore[no-untyped-def]
    """Volume of a lane for each mm of height; ``high``: its top, where it does not tell."""
    lo, hi = float(wood[LOWEST, lane]), float(wood[HIGHEST, lane])
    under = lowest_of(abs((lane + 0.5) * wide - form[RADIUS]), m, form)[0]
    if lo > hi:
        lo, hi = under, high
    elif under < lo + _ONE_LANE * (hi - lo):
        lo = under
    return wood[VOLUME, lane] / (hi - lo) if hi > lo else 0.0


@inner_kernel(**INLINED)
def _spread_lane(  # type: ignore[no-untyped-def]
    begin, end, b, wide, side, lanes, wood, m, first, ca_left, sa_left, ca_right, sa_right, rim,
    form, out,
):  # fmt: skip
    """Share the wood of some lanes, told as one, out between the bins.

    ``b``, ``wide``: how far its middle lies beside the axis, and how wide it is. [mm] ``side``: 1
    to the left of the travel, else -1.
    """
    radius = form[RADIUS]
    taken, lo, hi = 0.0, FAR, -FAR
    for j in range(begin, end):
        taken += float(wood[VOLUME, j])
        lo, hi = min(lo, float(wood[LOWEST, j])), max(hi, float(wood[HIGHEST, j]))
    for off in range(1, lanes):
        if lo <= hi:
            break
        near = begin - off if begin - off >= 0 and wood[LOWEST, begin - off] < _FAR else begin + off
        if near < lanes:
            lo, hi = float(wood[LOWEST, near]), float(wood[HIGHEST, near])
    if lo > hi:  # nothing but slivers along a wall
        lo, hi = 0.0, 1e-3
    if (
        abs(m) < _LEVEL
        and comes_in(form)
        and spread_stack(
            b, wide, lo, hi, taken, side, first, ca_left, sa_left, ca_right, sa_right, form, out
        )
    ):
        return
    hi = max(hi, lo + 1e-6)
    ahead = sqrt(max(radius * radius - b * b, 0.0))
    under, at_under = lowest_of(b, m, form)
    reach = 2.0 * radius / lanes * (end - begin)
    most = _ONE_LANE if end - begin == 1 else _SOME_LANES
    ends = under < lo + most * (hi - lo)
    if ends and lo > under + _NEAR:
        ends = lo <= lowest_of(min(b + reach, radius), m, form)[0] + _NEAR
    elif ends and lo < under - _NEAR:
        ends = lo >= lowest_of(max(b - reach, 0.0), m, form)[0] - _NEAR
    if ends:
        lo = under
    else:
        at_under = -ahead
    density = taken / (hi - lo)
    at_rim = min(max(rim - m * ahead, lo), hi)
    walled = hi - at_rim > 1e-5 * (hi - lo)
    if walled:
        # The wall: across the lane the angle turns as asin(b / radius).
        wall = density * (hi - at_rim)
        low, high = max(at_rim + m * ahead, 0.0), hi + m * ahead
        middle = b < 0.499 * wide  # this lane has both sides
        for part_of in range(2 if middle else 1):
            near, far, share, to = b - 0.5 * wide, b + 0.5 * wide, 1.0, side
            if middle:
                to = side if part_of == 0 else -side
                beyond = b if part_of == 0 else -b
                near, far, share = 0.0, 0.5 * wide + beyond, 0.5 + beyond / wide
            _spread_wall(
                near, far, wall * share, low, high, to, first, ca_left if to > 0 else ca_right,
                sa_left if to > 0 else sa_right, radius, out,
            )  # fmt: skip
    else:
        at_rim = hi
    if at_rim - lo > 1e-5 * (hi - lo):
        _spread_under(
            b, wide, at_rim, lo, density, ahead, at_under, walled, m, side, first,
            ca_left if side > 0 else ca_right, sa_left if side > 0 else sa_right, form, out,
        )  # fmt: skip


@inner_kernel(**INLINED)
def _spread_under(  # type: ignore[no-untyped-def]
    b, wide, z, lo, density, ahead, at_under, walled, m, side, first, ca, sa, form, out
):
    e_before = ahead if walled or m == 0.0 else _meets(z, b, m, ahead, at_under, form)
    inwards = max(b - 0.5 * wide, 0.0) / max(b, 1e-9)
    disc, arc, arc_end, arc_top = form[DISC], form[ARC], form[ARC_END], form[ARC_TOP]
    radius, flank, arc2 = form[RADIUS], form[FLANK], form[ARC] * form[ARC]
    polyline = form.shape[0] > FORM_NUMBERS
    # Where the edge gives way to the disc at the end; a point has none that takes anything.
    e_disc = sqrt(max(disc * disc - b * b, 0.0))
    for i in range(1, EDGES):
        # Of the bin's edge, from the heading.
        sine, cosine = SIN_EDGES[i] * ca - COS_EDGES[i] * sa, COS_EDGES[i] * ca + SIN_EDGES[i] * sa
        last = i == EDGES - 1 or (sine <= 1e-9 and cosine < 0.0)
        if not last and b * cosine >= ahead * sine:
            continue
        r = radius
        if not last:
            r = min(b / sine, radius)
        e = -ahead if last else max(r * cosine, -ahead)
        up, z_next = 0.0, lo
        if not last and e > at_under:
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
            begins = e_before
            if e_disc > 0.0 and e < e_disc and e_before > -e_disc:
                # What the edge ahead of the disc took, what the disc did, and what is left of it.
                z_disc = z if e_before <= e_disc else min(max(-m * e_disc, z_next), z)
                if z > z_disc:
                    put(out, bin_at, density * (z - z_disc), 0.0, z + m * e_before)
                z = z_next if e >= -e_disc else min(max(m * e_disc, z_next), z_disc)
                out[FLOOR, bin_at] += density * (z_disc - z)
                begins = -e_disc
            if z > z_next:
                # The lane reaches further in than its middle: so does the edge that passes it.
                at = r
                if z_next <= lo:
                    at = b
                    up = (
                        rise(b, form)
                        if polyline
                        else plain_rise(b, disc, arc, arc_end, arc_top, flank)
                    )
                    if at_under > -ahead:  # on the outline, where that is lowest
                        at = sqrt(b * b + at_under * at_under)
                        up = lo + m * e
                at *= inwards
                inner = (
                    rise(at, form)
                    if polyline
                    else plain_rise(at, disc, arc, arc_end, arc_top, flank)
                )
                low = z_next + m * e - up + inner
                put(out, bin_at, density * (z - z_next), max(low, 0.0), z + m * begins)
        z, e_before = z_next, min(e, e_before)
        if z <= lo:
            return


@inner_kernel(**INLINED)
def _spread_wall(b0, b1, taken, low, high, side, first, ca, sa, radius, out):  # type: ignore[no-untyped-def]
    per = taken / max(b1 - b0, 1e-9)
    for i in range(1, EDGES):
        end = b1
        if COS_EDGES[i] * ca + SIN_EDGES[i] * sa > 1e-9:
            end = min(b1, radius * (SIN_EDGES[i] * ca - COS_EDGES[i] * sa))
        if end > b0:
            put(out, (first + side * (i - 1)) % BINS, per * (end - b0), low, high)
            b0 = end
        if end >= b1:
            return


def told_lanes(
    lanes: int, wood: NDArray[np.float64], m: float, form: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Lanes as they are shared out: middle beside the axis, width, volume, lowest, highest. (k, 5)

    Lanes of a stretch's open ends are told as one, as wide as they are filled, next to the first
    one that is full.
    """
    radius = form[RADIUS]
    wide = 2.0 * radius / lanes
    beside = (np.arange(lanes) + 0.5) * wide - radius
    under = np.array([_outline(abs(b), m, form).min() for b in beside])
    bounds = np.flatnonzero(np.diff(np.concatenate([[False], wood[VOLUME, :lanes] > 0.0, [False]])))
    out = []
    for begin, end in bounds.reshape(-1, 2):
        stretch = np.arange(begin, end)
        head, tail = (_open_lanes(order, wood, under, lanes) for order in (stretch, stretch[::-1]))
        if len(head) + len(tail) > len(stretch) - 1:
            head = tail = np.zeros(0)
        for share, first, sign in ((head, begin, 1), (tail, end - 1, -1)):
            if len(share) > 0:
                some = first + sign * np.arange(len(share))
                full = beside[some[-1]] + sign * 0.5 * wide
                filled = wide * share.sum()
                out.append((full - sign * 0.5 * filled, filled, some))
        out += [(beside[k], wide, np.array([k])) for k in range(begin + len(head), end - len(tail))]
    told = []
    for middle, width, some in out:
        b, reach = abs(middle), wide * len(some)
        low, high = wood[LOWEST, some].min(), wood[HIGHEST, some].max()
        near = [_outline(np.clip(at, 0.0, radius), m, form).min() for at in (b - reach, b + reach)]
        lowest = _outline(b, m, form).min()
        most = _ONE_LANE if len(some) == 1 else _SOME_LANES
        if near[0] - _NEAR <= low <= near[1] + _NEAR and lowest < low + most * (high - low):
            low = lowest
        told.append((middle, width, wood[VOLUME, some].sum(), low, high))
    return np.array(told)


def _outline(b: float, m: float, form: NDArray[np.float64]) -> NDArray[np.float64]:
    """The outline above the path along a lane, from the cutter's front backwards. (4001,)"""
    e = np.linspace(1.0, -1.0, 4001) * np.sqrt(max(form[RADIUS] ** 2 - b**2, 0.0))
    up = profile_mm(np.minimum(np.hypot(e, b), form[RADIUS]), form)
    return np.asarray(up - m * e)


def _open_lanes(
    order: NDArray[np.int64], wood: NDArray[np.float64], under: NDArray[np.float64], lanes: int
) -> NDArray[np.float64]:
    """How full the lanes at the begin of a stretch are that its end runs through. (0 to 3,)"""
    beyond = order[0] - (1 if len(order) < 2 or order[1] > order[0] else -1)
    if len(order) < 4 or not 0 <= beyond < lanes:
        return np.zeros(0)
    if under[beyond] >= wood[HIGHEST, order[:2]].max() - _NEAR:
        return np.zeros(0)
    low, high = wood[LOWEST, order[:4]], wood[HIGHEST, order[:4]]
    low = np.where(under[order[:4]] < low + _ONE_LANE * (high - low), under[order[:4]], low)
    filled = wood[VOLUME, order[:4]] / (high - low)
    share = filled[:3] / filled[3]
    return np.asarray(share[: int(np.argmax(np.append(share > 0.98, True)))])


def spread_reference(
    lanes: int, wood: NDArray[np.float64], heading: float, m: float, form: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Volume in each bin by following small parcels of each lane: the definition. (BINS,)

    Parcels lie evenly over a lane's heights; one below the rim is taken where the outline, coming
    from ahead, first reaches it over the lane's middle; one above it where the rim does, evenly
    over the lane's width. Every lane of ``wood`` with volume must tell its heights.
    """
    radius = form[RADIUS]
    out = np.zeros(BINS)
    for beside, wide, volume, low, high in told_lanes(lanes, wood, m, form):
        e = np.linspace(1.0, -1.0, 4001) * np.sqrt(max(radius**2 - beside**2, 0.0))
        outline = np.minimum.accumulate(_outline(abs(beside), m, form))
        z = low + (np.arange(400) + 0.5) / 400 * (high - low)
        first = np.minimum(np.searchsorted(-outline, -z), len(e) - 1)
        across = beside + np.linspace(-0.5, 0.5, 101) * wide * 0.999
        at_rim = np.arctan2(across, np.sqrt(np.maximum(radius**2 - across**2, 0.0)))
        angles = [np.arctan2(beside, e[first[z < outline[0]]]), at_rim]
        above = (z >= outline[0]).mean()
        for angle, share in zip(angles, (1.0 - above, above), strict=True):
            if share > 0.0:
                turned = np.mod(angle + heading + np.pi, 2.0 * np.pi)
                bins = np.minimum((turned / BIN_RAD).astype(int), BINS - 1)
                part = np.bincount(bins, minlength=BINS) / len(bins)
                out += volume * share * part
    return out
