"""Force of the wood on a cutter, from the engagement of about a millimetre of path.

Angles are counted from the heading. What is known in each bin is the volume that the edge took,
between which heights, and the volume that the disc at the cutter's end took. Against what a full
bin would have swept this tells which part of the bin's arc is covered: ``covered_arcs``.
A flute at the angle psi then feels, along each bit dl of its edge in there,

    dF_t = (K_c f_z (cos(psi) n_out way_flat + n_up way_down) / way + K_e) dl

with n the outward normal, and shares of it along the normal; see docs/models/cutting.md. The chip
part is scaled to the volume taken, so that its work is K_c times the volume, whatever the grid.
"""

from math import acos, asin, cos, floor, hypot, pi, sin

import numpy as np

from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.engagement import BINS, FLOOR, HIGHEST, LOWEST, STEEP_UP, VOLUME
from kerfwright.kernels.heights import STEEP, mean_heights
from kerfwright.kernels.profile import (
    DISC,
    DR,
    DZ,
    EDGE,
    INTEGRALS,
    OUT_OUT,
    OUT_UP,
    R_DEDGE,
    R_DR,
    R_DZ,
    RADIUS,
    RIM,
    UP_UP,
    along_edge,
    along_upper_edge,
)
from kerfwright.kernels.stack import comes_in

# Columns of the arcs: where the bin begins; covered angles, by which share; volume taken by forward
# and by downward travel, and by the disc with the share of the bin that it covers; then integrals
# along the edge, and room to work in.
BIN_BEGIN, START, END, COVER, FORWARD, DOWN, DISC_VOLUME, DISC_COVER = range(8)
ALONG = 8
#: Sine and cosine of where the covered arc begins and ends.
SIN_START, COS_START, SIN_END, COS_END = range(ALONG + INTEGRALS, ALONG + INTEGRALS + 4)
_FULL, _SIDE, _SHARE, _REACH, _FRONT, _SLANT = range(COS_END + 1, COS_END + 7)
_LESS = _SLANT + 1  #: integrals along the edge where a bin is short
ARC_COLUMNS = _LESS + INTEGRALS

_D = 2.0 * pi / BINS
_EDGE = -pi + np.arange(BINS + 1) * _D
_SIN_EDGE, _COS_EDGE = np.sin(_EDGE), np.cos(_EDGE)
_QUARTER = 0.5 * pi
_MOST = 1.1  # cover is not cut off at 1: the grid's noise would bias the mean downwards
_NOTHING = 1e-12
_EVEN = 0.02  #: difference of the edge's length across a bin that does not count
_BOTH = 2.0  #: an outermost bin that is covered evenly
_ALIKE = 1e-3  #: of its wood, that its lowest place may differ from its neighbour's
_SMEARED = 0.3  #: covered share of the last bin, below which it may be its neighbour's wood
_LEAST_PART = 0.3  #: of a chip that is left of it on the way up


@inner_kernel(inline="always", **BORROWING)
def _front(way_flat, way_down, along, least):  # type: ignore[no-untyped-def]
    """How far from the heading the edge still faces the way it goes. [rad]

    Where cos psi n_out plan + n_up down, with the edge's mean normal, comes to nothing: beyond a
    quarter turn on the way down, short of it on the way up. Half a turn where it does all over the
    bin: ``least`` is the cosine at that edge of it which is farther from the heading.
    """
    if not way_flat > 0.0:
        return pi
    if way_down == 0.0 or along[DR] == 0.0:
        return _QUARTER
    lean = way_down * along[DR]
    most = way_flat * along[DZ]
    if lean >= most or least * most > -lean:
        return pi
    return acos(-lean / most) if -lean < most else _QUARTER


@inner_kernel(inline="always", **BORROWING)
def _alike(wood, b, beside):  # type: ignore[no-untyped-def]
    """Whether the wood of two bins begins equally high, as that of an upright flank does."""
    low = wood[LOWEST, b]
    return abs(low - wood[LOWEST, beside]) <= _ALIKE * (wood[HIGHEST, b] - low)


@inner_kernel(**INLINED)
def covered_arcs(wood, way_flat, way_down, heading, form, arcs):  # type: ignore[no-untyped-def]
    """Which part of each bin is covered, and by what.

    Parameters
    ----------
    wood : (ROWS, BINS) as in ``engagement``: volumes [mm³], heights above the tip [mm].
    way_flat, way_down : length of the path in plan, downwards. [mm]
    heading : direction of travel in plan. [rad]
    form : of the cutter, see ``profile``.
    arcs : (BINS, ARC_COLUMNS) written; START and END in rad from the heading, rising; the other
        columns are 0 where nothing was taken.
    """
    sinking = max(way_down, 0.0)
    disc = form[DISC]
    ch, sh = cos(heading), sin(heading)
    # A falling outline with a slope cuts behind its widest place too.
    behind = sinking > 0.0 and disc < form[RADIUS]
    # Cells under an undercut are cut whole or not at all: their noise is shared out evenly.
    upright = not comes_in(form)
    lifting = not upright and -way_down > STEEP_UP * hypot(way_flat, way_down)
    # A sloping edge takes less on the way up than one that goes level.
    rising = min(way_down, 0.0) if way_flat > 0.0 or lifting else 0.0
    # On steep ways the wood's height changes along them, more than from angle to angle.
    sloping = form[RIM] > 0.0 and upright and abs(way_down) < STEEP * way_flat
    full, side = arcs[:, _FULL], arcs[:, _SIDE]
    share, reach, front = arcs[:, _SHARE], arcs[:, _REACH], arcs[:, _FRONT]
    for b in range(BINS):
        arc = arcs[b]
        for k in range(_LESS):
            arc[k] = 0.0
        begin = -pi + b * _D - heading
        begin -= 2.0 * pi * floor((begin + 0.5 * _D + pi) / (2.0 * pi))
        arc[BIN_BEGIN], arc[START], arc[END] = begin, begin, begin + _D
        side[b], under = wood[VOLUME, b], wood[FLOOR, b]
        taller = shorter = 0.0
        low = max(wood[LOWEST, b], 0.0) if side[b] > 0.0 else 0.0
        short = high = max(wood[HIGHEST, b], low + 1e-6)
        along, less = arc[ALONG:], arc[_LESS:]
        sp = _SIN_EDGE[b] * ch - _COS_EDGE[b] * sh
        sq = _SIN_EDGE[b + 1] * ch - _COS_EDGE[b + 1] * sh
        if side[b] > 0.0:
            if sloping:
                low, short, high, taller, shorter = mean_heights(
                    wood, b, low, high, begin, sp, sq, form
                )
                if short < high:
                    along_edge(low, short, form, less)
            if lifting:
                along_upper_edge(low, high, way_flat > 0.0, form, along)
            else:
                along_edge(low, high, form, along)
            if (
                not way_flat > 0.0 and disc > 0.0 and not lifting
            ):  # straight down: edge and disc were not told apart
                swept = 0.5 * disc * disc
                under = side[b] * swept / (swept + along[R_DR])
                side[b] -= under
        if sinking > 0.0 and under > 0.0:
            arc[DISC_VOLUME] = under
            arc[DISC_COVER] = min(_MOST, under / (sinking * _D * 0.5 * disc * disc))
        elif under > 0.0:  # on the whole it rose
            side[b] += under
            short = high
            along_edge(0.0, high, form, along)
        if not side[b] > 0.0:
            continue
        cp = _COS_EDGE[b] * ch + _SIN_EDGE[b] * sh
        cq = _COS_EDGE[b + 1] * ch + _SIN_EDGE[b + 1] * sh
        front[b] = _front(way_flat, way_down, along, min(cp, cq))
        p, q = begin, begin + _D
        if p < -front[b]:
            p, sp = -front[b], -sin(front[b])
        if q > front[b]:
            q, sq = front[b], sin(front[b])
        ahead, down = 0.0, 0.0
        if q > p:
            ahead, down = way_flat * (sq - sp), (sinking + rising) * (q - p)
        facing = ahead * along[R_DZ] + down * along[R_DR]
        if short < high:
            # Tall in a part of the bin, short in the rest: as much of each as its volume tells.
            least = ahead * less[R_DZ] + down * less[R_DR]
            part = min(max((side[b] - least) / max(facing - least, _NOTHING), 0.0), 1.0)
            facing = least + part * (facing - least)
            for k in range(INTEGRALS):
                along[k] = less[k] + part * (along[k] - less[k])
        full[b] = max(facing, _NOTHING)
        # Where there is more of the edge the chip is another: both go hand in hand.
        off = way_flat * shorter * taller * along[R_DZ]
        share[b] = max(side[b] - off, 0.0) / full[b]
        arc[_SLANT] = taller
    for b in range(BINS):
        # The grid cannot tell the little that the outermost bin sweeps from nothing: where it is
        # half full the wall is reached, and what it has too much or too little is its neighbour's.
        begin = arcs[b, BIN_BEGIN]
        inwards = 0
        if front[b] < pi and full[b] > 0.0:
            if begin + _D >= front[b] - 1e-6 and begin <= front[b] + 1e-6:
                inwards = -1
            elif begin <= -front[b] + 1e-6 and begin + _D >= -front[b] - 1e-6:
                inwards = 1
        reach[b] = 0.0
        if inwards == 0:
            continue
        inner = (b + inwards) % BINS
        alone = not full[inner] > 0.0
        reach[b] = -inwards
        if alone or not share[b] > 0.5:
            reach[b] = -inwards if alone else _BOTH
            continue
        over = side[b] - full[b]
        if upright and _alike(wood, b, inner) and side[inner] + over > 0.0:
            side[b], side[inner] = full[b], side[inner] + over
            share[b], share[inner] = 1.0, side[inner] / full[inner]
        else:
            share[b], reach[b] = (side[b] + side[inner]) / (full[b] + full[inner]), _BOTH
    for b in range(BINS):
        # Nor can it tell how the wood at its other end is shared out between the last two bins.
        if not share[b] > 0.0 or share[b] > _SMEARED or reach[b] != 0.0:
            continue
        for inwards in (-1, 1):
            inner, outer = (b + inwards) % BINS, (b - inwards) % BINS
            if share[outer] > 0.0 or not share[inner] > 0.0 or not _alike(wood, b, inner):
                continue
            fits = min(side[b], full[inner] - side[inner])
            side[inner], side[b] = side[inner] + fits, side[b] - fits
            share[inner], share[b] = side[inner] / full[inner], side[b] / full[b]
            break
    for b in range(BINS):
        arc = arcs[b]
        taken = side[b]
        if not taken > 0.0:
            continue
        along = arc[ALONG:]
        begin, end = arc[START], arc[END]
        s0, c0 = _SIN_EDGE[b] * ch - _COS_EDGE[b] * sh, _COS_EDGE[b] * ch + _SIN_EDGE[b] * sh
        s1 = _SIN_EDGE[b + 1] * ch - _COS_EDGE[b + 1] * sh
        c1 = _COS_EDGE[b + 1] * ch + _SIN_EDGE[b + 1] * sh
        if begin < -front[b]:
            begin, s0, c0 = -front[b], -sin(front[b]), cos(front[b])
        if end > front[b]:
            end, s1, c1 = front[b], sin(front[b]), cos(front[b])
        if end <= begin:  # by the grid only: counted where the front ends
            begin = end = front[b] if arc[START] > 0.0 else -front[b]
            s0 = s1 = sin(begin)
            c0 = c1 = cos(begin)
        before = 1.0 if reach[b] == -1.0 or reach[b] == _BOTH else share[(b - 1) % BINS]
        after = 1.0 if reach[b] >= 1.0 else share[(b + 1) % BINS]
        covered = min(share[b], _MOST)
        lean = min(after, 1.0) - min(before, 1.0)
        if covered < 1.0 and abs(lean) > 0.0:
            # At an end of the engagement the covered part lies beside the neighbour that is full.
            whole = end - begin
            width = covered * whole
            if s1 > s0 and not behind:
                part = covered * (s1 - s0)
                if lean > 0.0:
                    width = end - asin(min(max(s1 - part, -1.0), 1.0))
                else:
                    width = asin(min(max(s0 + part, -1.0), 1.0)) - begin
            width = abs(lean) * width + (1.0 - abs(lean)) * covered * whole
            middle = 0.5 * (begin + end) + 0.5 * lean * (whole - width)
            begin, end = middle - 0.5 * width, middle + 0.5 * width
            s0, c0, s1, c1 = sin(begin), cos(begin), sin(end), cos(end)
            covered = 1.0
        slant = arc[_SLANT]
        if abs(slant) > _EVEN and end > begin:
            # More of the edge lies towards one side of what it covers.
            off = abs(slant) / 6.0 * (end - begin)
            covered *= (end - begin) / (end - begin - off)
            # Sine and cosine of so small an angle by their series.
            s_off, c_off = off - off**3 / 6.0, 1.0 - off * off * (0.5 - off * off / 24.0)
            if slant > 0.0:
                begin += off
                s0, c0 = s0 * c_off + c0 * s_off, c0 * c_off - s0 * s_off
            else:
                end -= off
                s1, c1 = s1 * c_off - c1 * s_off, c1 * c_off + s1 * s_off
        arc[START], arc[END], arc[COVER] = begin, end, covered
        arc[SIN_START], arc[COS_START], arc[SIN_END], arc[COS_END] = s0, c0, s1, c1
        sines = arc[SIN_END] - arc[SIN_START]
        forward = max(way_flat * along[R_DZ] * sines, 0.0)
        down = (sinking + rising) * along[R_DR] * (end - begin)
        if forward + down < _LEAST_PART * forward:
            down = 0.0
        part = forward / (forward + down) if forward + down > 0.0 else 1.0
        arc[FORWARD] = taken * part
        arc[DOWN] = taken * (1.0 - part)


@inner_kernel(inline="always", **BORROWING)
def _beyond(arc, side):  # type: ignore[no-untyped-def]
    """Whether all of a covered arc lies on the other side of the heading than this."""
    return arc[START] >= 0.0 if side == 1 else arc[END] <= 0.0 and arc[START] < 0.0


@inner_kernel(inline="always", **BORROWING)
def _on_side(arc, side):  # type: ignore[no-untyped-def]
    """The part of a covered arc that is cut up (0) or down (1) the travel.

    How far it goes round, sine and cosine of where it begins and of where it ends; whether it is an
    arc of no width on this side.
    """
    begin = min(arc[START], 0.0) if side == 1 else max(arc[START], 0.0)
    end = min(arc[END], 0.0) if side == 1 else max(arc[END], 0.0)
    s0 = arc[SIN_START] if begin == arc[START] else 0.0
    c0 = arc[COS_START] if begin == arc[START] else 1.0
    s1 = arc[SIN_END] if end == arc[END] else 0.0
    c1 = arc[COS_END] if end == arc[END] else 1.0
    alone = arc[END] <= arc[START] and (arc[START] < 0.0) == (side == 1)
    return end - begin, s0, c0, s1, c1, alone


@inner_kernel(inline="always", **BORROWING)
def _end_on_side(arc, side):  # type: ignore[no-untyped-def]
    """The same of the bin at the cutter's end: how far round, and differences of sine, cosine."""
    begin, end = arc[BIN_BEGIN], arc[BIN_BEGIN] + _D
    begin = min(begin, 0.0) if side == 1 else max(begin, 0.0)
    end = min(end, 0.0) if side == 1 else max(end, 0.0)
    if not end > begin:
        return 0.0, 0.0, 0.0
    return end - begin, sin(end) - sin(begin), cos(begin) - cos(end)


@inner_kernel(inline="always", **BORROWING)
def _told(ahead, left, up, torque, heading, flutes, out):  # type: ignore[no-untyped-def]
    """Sums over the turn as a mean over it, x and y in the machine's directions."""
    per = flutes / (2.0 * pi)
    ch, sh = per * cos(heading), per * sin(heading)
    out[0], out[1] = ahead * ch - left * sh, ahead * sh + left * ch
    out[2], out[3] = per * up, per * torque


@inner_kernel(**BORROWING)
def chip_force(  # type: ignore[no-untyped-def]
    arcs, way, heading, feed_per_tooth, form, flutes, chip_n_per_mm2, normal_chip, axial, out
):
    """What the chips make of the mean force on the cutter over a turn.

    Parameters
    ----------
    arcs : (BINS, ARC_COLUMNS) from ``covered_arcs``.
    way : length of the path. [mm]
    heading : direction of travel in plan. [rad]
    feed_per_tooth : along the path. [mm]
    form, flutes : of the cutter.
    chip_n_per_mm2 : (2, BINS) of wood cut up (0) and down (1) the travel, for an edge in each bin.
        [N/mm²]
    normal_chip : normal force as a share of the tangential. axial : downward pull of a helix as a
        share of the tangential.
    out : (4,) written: force on the cutter x, y, z [N]; torque [N mm].
    """
    ahead = left = up = torque = 0.0
    per_way = feed_per_tooth / way
    for b in range(BINS):
        arc = arcs[b]
        along = arc[ALONG:]
        taken = arc[FORWARD] + arc[DOWN] > 0.0
        disc = arc[DISC_VOLUME] > 0.0
        if not taken and not disc:
            continue
        for side in (1, 0):  # the law differs between the two sides of the heading
            if not disc and _beyond(arc, side):
                continue
            chip = chip_n_per_mm2[side, b] * per_way
            span, s0, c0, s1, c1, alone = _on_side(arc, side)
            if taken and (span > 0.0 or alone):
                whole = arc[END] - arc[START]
                sines, cosines = s1 - s0, c0 - c1
                if arc[FORWARD] > 0.0:
                    all_sines = arc[SIN_END] - arc[SIN_START] if span < whole else sines
                    per = chip * arc[FORWARD] / along[R_DZ]
                    if alone or not all_sines > 1e-9:
                        x, y, per = c0, s0, per * (1.0 if alone else span / whole)
                    else:
                        x = 0.5 * (span + s1 * c1 - s0 * c0) / sines
                        y = 0.5 * (s1 + s0)
                        per *= sines / all_sines if span < whole else 1.0
                    tangential, outward = per * along[DZ], per * along[OUT_OUT] * normal_chip
                    ahead += -y * tangential - x * outward
                    left += x * tangential - y * outward
                    up += per * along[OUT_UP] * normal_chip - axial * tangential
                    torque += per * along[R_DZ]
                if arc[DOWN] != 0.0 and span > 0.0:
                    per = chip * arc[DOWN] / along[R_DR] / whole
                    tangential, outward = per * along[DR], per * along[OUT_UP] * normal_chip
                    ahead += -cosines * tangential - sines * outward
                    left += sines * tangential - cosines * outward
                    up += span * (per * along[UP_UP] * normal_chip - axial * tangential)
                    torque += span * per * along[R_DR]
            if disc:
                span, sines, cosines = _end_on_side(arc, side)
                per = chip * arc[DISC_VOLUME] / (_D * 0.5 * form[DISC])
                ahead -= cosines * per
                left += sines * per
                up += span * (normal_chip - axial) * per
                torque += span * 0.5 * form[DISC] * per
    _told(ahead, left, up, torque, heading, flutes, out)


@inner_kernel(**BORROWING)
def rubbing_force(  # type: ignore[no-untyped-def]
    arcs, heading, form, flutes, edge_n_per_mm, normal_edge, axial, out
):
    """What rubbing makes of the mean force, which no feed changes.

    Parameters
    ----------
    edge_n_per_mm : (2, BINS) as ``chip_n_per_mm2`` of ``chip_force``. [N/mm]
    normal_edge : normal force as a share of the tangential.
    arcs .. out : as in ``chip_force``.
    """
    ahead = left = up = torque = 0.0
    for b in range(BINS):
        arc = arcs[b]
        along = arc[ALONG:]
        taken = arc[FORWARD] + arc[DOWN] > 0.0
        disc = arc[DISC_VOLUME] > 0.0
        if not taken and not disc:
            continue
        for side in (1, 0):
            if not disc and _beyond(arc, side):
                continue
            edge = edge_n_per_mm[side, b]
            span, s0, c0, s1, c1, _ = _on_side(arc, side)
            if taken and span > 0.0:
                rub = edge * arc[COVER]
                tangential, outward = rub * along[EDGE], rub * along[DZ] * normal_edge
                ahead -= (c0 - c1) * tangential + (s1 - s0) * outward
                left += (s1 - s0) * tangential - (c0 - c1) * outward
                up += span * (rub * along[DR] * normal_edge - axial * tangential)
                torque += span * rub * along[R_DEDGE]
            if disc:
                span, sines, cosines = _end_on_side(arc, side)
                rub = edge * arc[DISC_COVER] * form[DISC]
                ahead -= cosines * rub
                left += sines * rub
                up += span * (normal_edge - axial) * rub
                torque += span * 0.5 * form[DISC] * rub
    _told(ahead, left, up, torque, heading, flutes, out)
