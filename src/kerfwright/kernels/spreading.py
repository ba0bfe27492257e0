"""Shares wood gathered in lanes out between the bins of angle.

A lane at b beside the axis is passed first by the front of the cutter, then by what lies behind it:
the outline stands at F(e) over it, see ``over_lane``. So wood between F(e1) and F(e2) was taken at
angles between atan2(b, e1) and atan2(b, e2). Wood above the rim is taken by the upright wall, where
the lane's own width is shared out.

Derived here. tests/kernels/test_engagement.py and test_parts_and_ramps.py hold it against integrals
over exact shapes.
"""

from itertools import pairwise
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
    MOST_LANES,
    SIN_EDGES,
    VOLUME,
    put,
)
from kerfwright.kernels.heights import STEEP
from kerfwright.kernels.lane_ends import NEAR, ONE_LANE, SOME_LANES, open_end, open_lanes
from kerfwright.kernels.over_lane import lowest_of, meets_at, outline_over
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
#: Shape of what ``spread_lanes`` works in: sines and cosines of the bins' edges, to the left and to
#: the right; then the lowest place of the outline over each lane, and how far ahead that is.
WORK = 6, MOST_LANES
_UNDER, _AT_UNDER = 4, 5
_LEVEL = 1e-3  #: slope below which a way is level
_NO_PART = 1e-9  #: of a lane
#: Wood is thin where the outline meets its top no further ahead than so many lanes: beside the axis
#: a whole lane then is too wide to be told by its middle, and so much of it is told by itself.
_FAR_AHEAD, _NEAREST = 4.0, 1.0 / 3.0
_NOISE = 0.25  #: of a lane: so far off the place may be where wood ends beside the axis


@inner_kernel(**INLINED)
def spread_lanes(lanes, wood, way, heading, m, form, work, out):  # type: ignore[no-untyped-def]
    """Share wood gathered in lanes out between the bins.

    Parameters
    ----------
    lanes : how many, evenly over the cutter's width, from right to left of the travel.
    wood : (LANE_ROWS, >= lanes) as in an engagement by lanes; its lowest wood is far above its
        highest where none had its middle in the lane.
    way : how far the travel went in plan. [mm]
    heading, m : direction of travel in plan [rad]; slope.
    form : of the cutter, see ``profile``.
    work : ``WORK``, worked in.
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
    # Sine and cosine of the bins' edges from the heading, to its left and to its right.
    for i in range(EDGES):
        s, c = SIN_EDGES[i], COS_EDGES[i]
        work[0, i], work[1, i] = s * ca_left - c * sa_left, c * ca_left + s * sa_left
        work[2, i], work[3, i] = s * ca_right - c * sa_right, c * ca_right + s * sa_right
    wide = 2.0 * form[RADIUS] / lanes
    rim = rise(form[RADIUS], form)
    film = rise(min(_FAR_AHEAD * wide, form[RADIUS]), form)
    j = 0
    while j < lanes:
        if not wood[VOLUME, j] > 0.0:
            j += 1
            continue
        end = j + 1
        while end < lanes and wood[VOLUME, end] > 0.0:
            end += 1
        for k in range(max(j - 1, 0), min(end + 1, lanes)):
            beside = abs((k + 0.5) * wide - form[RADIUS])
            work[_UNDER, k], work[_AT_UNDER, k] = lowest_of(beside, m, form)
        head, head_wide = open_end(j, end, 1, lanes, wood, work[_UNDER], form)
        tail, tail_wide = open_end(end - 1, j - 1, -1, lanes, wood, work[_UNDER], form)
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
            _spread_both_sides(
                begin, after, beside, width, film, way, lanes, wood, m, first, ca_left, sa_left,
                ca_right, sa_right, rim, form, work, out,
            )  # fmt: skip
        j = end


@inner_kernel(**INLINED)
def _spread_both_sides(  # type: ignore[no-untyped-def]
    begin, end, beside, width, film, way, lanes, wood, m, first, ca_left, sa_left, ca_right,
    sa_right, rim, form, work, out,
):  # fmt: skip
    """Share some lanes, told as one, out between the bins: what lies on either side of the axis.

    ``beside``: of their middle, to the left [mm]; ``film``: wood lower than this is thin, see
    ``_FAR_AHEAD``.
    """
    # Where several are told as one, what reaches beyond the axis may be the grid's noise.
    noise = _NOISE * 2.0 * form[RADIUS] / lanes if end - begin > 1 else 0.0
    for side in (-1, 1):
        near, beyond = side * beside - 0.5 * width, side * beside + 0.5 * width
        if near < -noise:
            near = 0.0
        if beyond <= max(noise, _NO_PART * width):
            continue
        thin = near == 0.0 and abs(m) < STEEP and wood[HIGHEST, begin] < film
        for part in range(0 if thin else 1, 2):
            far = beyond if part == 1 else _NEAREST * beyond
            _spread_lane(
                begin, end, 0.5 * (near + far), far - near, (far - near) / width, way, side, lanes,
                wood, m, first, ca_left, sa_left, ca_right, sa_right, rim, form, work, out,
            )  # fmt: skip
            near = far


@inner_kernel(**INLINED)
def _spread_lane(  # type: ignore[no-untyped-def]
    begin, end, b, wide, share, way, side, lanes, wood, m, first, ca_left, sa_left, ca_right,
    sa_right, rim, form, work, out,
):  # fmt: skip
    """Share the wood of some lanes, told as one, out between the bins.

    ``b``, ``wide``: how far its middle lies beside the axis, and how wide it is [mm]; ``share``: of
    the lanes, that lies on this side. ``side``: 1 to the left of the travel, else -1.
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
    taken *= share
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
    reach = 2.0 * radius / lanes * (end - begin)
    whole = share == 1.0 and end - begin == 1
    inner, outer = begin - side, begin + side
    if whole:
        under, at_under = work[_UNDER, begin], work[_AT_UNDER, begin]
    else:
        under, at_under = lowest_of(b, m, form)
    most = ONE_LANE if end - begin == 1 else SOME_LANES
    ends = under < lo + most * (hi - lo)
    if ends and lo > under + NEAR:
        if whole and 0 <= outer < lanes:
            ends = lo <= work[_UNDER, outer] + NEAR
        else:
            ends = lo <= lowest_of(min(b + reach, radius), m, form)[0] + NEAR
    elif ends and lo < under - NEAR:
        if whole and b > reach:
            ends = lo >= work[_UNDER, inner] - NEAR
        else:
            ends = lo >= lowest_of(max(b - reach, 0.0), m, form)[0] - NEAR
    if not ends:
        at_under = -ahead
    else:
        lo = under
        if end - begin == 1 and abs(m) < STEEP:
            hi = _mean_top(begin, lo, hi, taken / (wide * way), lanes, wood)
    density = taken / (hi - lo)
    at_rim = min(max(rim - m * ahead, lo), hi)
    walled = hi - at_rim > 1e-5 * (hi - lo)
    if walled:
        # The wall: across the lane the angle turns as asin(b / radius).
        _spread_wall(
            b - 0.5 * wide, b + 0.5 * wide, density * (hi - at_rim), max(at_rim + m * ahead, 0.0),
            hi + m * ahead, side, first, ca_left if side > 0 else ca_right,
            sa_left if side > 0 else sa_right, radius, out,
        )  # fmt: skip
    else:
        at_rim = hi
    if at_rim - lo > 1e-5 * (hi - lo):
        _spread_under(
            b, wide, at_rim, lo, density, ahead, at_under, walled, m, side, first,
            work[0:2] if side > 0 else work[2:4], form, out,
        )  # fmt: skip


@inner_kernel(**BORROWING)
def _mean_top(lane, lo, hi, thick, lanes, wood):  # type: ignore[no-untyped-def]
    """How high the wood over a lane's middle stood, of which ``hi`` is the highest anywhere in it.

    Where a cutter went before the wood's top slopes across the lane. How far, its neighbours tell;
    in between, how thick the wood was: ``thick``, the mean over the lane.
    """
    before = lane > 0 and wood[LOWEST, lane - 1] < _FAR
    after = lane + 1 < lanes and wood[LOWEST, lane + 1] < _FAR
    one = float(wood[HIGHEST, lane - 1]) if before else hi
    other = float(wood[HIGHEST, lane + 1]) if after else hi
    falls = abs(other - one) * (0.5 if before and after else 1.0)
    return max(min(lo + thick, hi), hi - falls)


@inner_kernel(**INLINED)
def _spread_under(  # type: ignore[no-untyped-def]
    b, wide, z, lo, density, ahead, at_under, walled, m, side, first, edges, form, out
):
    e_before = ahead if walled or m == 0.0 else meets_at(z, b, m, ahead, at_under, form)
    inwards = max(b - 0.5 * wide, 0.0) / max(b, 1e-9)
    disc, arc, arc_end, arc_top = form[DISC], form[ARC], form[ARC_END], form[ARC_TOP]
    radius, flank, arc2 = form[RADIUS], form[FLANK], form[ARC] * form[ARC]
    polyline = form.shape[0] > FORM_NUMBERS
    # Where the edge gives way to the disc at the end; a point has none that takes anything.
    e_disc = sqrt(max(disc * disc - b * b, 0.0))
    for i in range(1, EDGES):
        # Of the bin's edge, from the heading.
        sine, cosine = edges[0, i], edges[1, i]
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
    lanes: int, wood: NDArray[np.float64], way: float, m: float, form: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Lanes as they are shared out: middle beside the axis, width, volume, lowest, highest. (k, 5)

    Lanes of a stretch's open ends are told as one, as wide as they are filled, next to the first
    one that is full. What lies to the right of the axis and to its left is told by itself.
    """
    radius = form[RADIUS]
    wide = 2.0 * radius / lanes
    beside = (np.arange(lanes) + 0.5) * wide - radius
    under = np.array([outline_over(abs(b), m, form).min() for b in beside])
    film = profile_mm(np.array([min(_FAR_AHEAD * wide, radius)]), form)[0]
    bounds = np.flatnonzero(np.diff(np.concatenate([[False], wood[VOLUME, :lanes] > 0.0, [False]])))
    out = []
    for begin, end in bounds.reshape(-1, 2):
        stretch = np.arange(begin, end)
        head, tail = (open_lanes(order, wood, under, lanes) for order in (stretch, stretch[::-1]))
        if len(head) + len(tail) > len(stretch) - 1:
            head = tail = np.zeros(0)
        for share, first, sign in ((head, begin, 1), (tail, end - 1, -1)):
            if len(share) > 0:
                some = first + sign * np.arange(len(share))
                full = beside[some[-1]] + sign * 0.5 * wide
                filled = wide * share.sum()
                out.append((full - sign * 0.5 * filled, filled, np.sort(some)))
        out += [(beside[k], wide, np.array([k])) for k in range(begin + len(head), end - len(tail))]
    told = []
    for middle, width, some in out:
        thin = bool(abs(m) < STEEP and wood[HIGHEST, some[0]] < film)
        for part, of_it in _on_both_sides(middle, width, _NOISE * wide * (len(some) > 1), thin):
            volume = of_it * wood[VOLUME, some].sum()
            b, broad, reach = abs(part.mean()), part[1] - part[0], wide * len(some)
            low, high = float(wood[LOWEST, some].min()), float(wood[HIGHEST, some].max())
            near = [
                outline_over(np.clip(at, 0.0, radius), m, form).min()
                for at in (b - reach, b + reach)
            ]
            lowest = float(outline_over(b, m, form).min())
            most = ONE_LANE if len(some) == 1 else SOME_LANES
            if near[0] - NEAR <= low <= near[1] + NEAR and lowest < low + most * (high - low):
                low = lowest
                if len(some) == 1 and abs(m) < STEEP:
                    tops = [
                        wood[HIGHEST, k] for k in (some[0] - 1, some[0] + 1)
                        if 0 <= k < lanes and wood[LOWEST, k] < FAR
                    ]  # fmt: skip
                    falls = abs(tops[-1] - (tops[0] if len(tops) == 2 else high)) if tops else 0.0
                    thick = volume / (broad * way)
                    high = max(min(low + thick, high), high - falls / max(len(tops), 1))
            told.append((part.mean(), broad, volume, low, high))
    return np.array(told)


def _on_both_sides(
    middle: float, width: float, noise: float, thin: bool
) -> list[tuple[NDArray[np.float64], float]]:
    """Parts of a stretch of lanes on one side of the axis each, and which share of it they are."""
    begin, end = middle - 0.5 * width, middle + 0.5 * width
    if begin >= -noise or end <= noise:
        cuts = [begin, end]
    else:
        cuts = [begin, 0.0, end]
    if thin:
        cuts += [_NEAREST * at for at in (begin, end) if len(cuts) == 3 or 0.0 in (begin, end)]
    cuts = sorted(cuts)
    return [(np.array([a, b]), (b - a) / width) for a, b in pairwise(cuts) if b > a]


def spread_reference(
    lanes: int,
    wood: NDArray[np.float64],
    way: float,
    heading: float,
    m: float,
    form: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Volume in each bin by following small parcels of each lane: the definition. (BINS,)

    Parcels lie evenly over a lane's heights; one below the rim is taken where the outline, coming
    from ahead, first reaches it over the lane's middle; one above it where the rim does, evenly
    over the lane's width. Every lane of ``wood`` with volume must tell its heights.
    """
    radius = form[RADIUS]
    out = np.zeros(BINS)
    for beside, wide, volume, low, high in told_lanes(lanes, wood, way, m, form):
        e = np.linspace(1.0, -1.0, 4001) * np.sqrt(max(radius**2 - beside**2, 0.0))
        outline = np.minimum.accumulate(outline_over(abs(beside), m, form))
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
