"""What a cutter feels within one turn: the peak, the runout, which side of the travel is cut.

The arcs of ``edge_force`` say what the edge meets in each bin of angle about a millimetre of path.
Here a turn is taken in steps of ``STEP`` and each flute's edge is laid over them, lagging behind
its tip up the helix. The largest force of a cut along one wall comes where the edge lies flush with
the open end of its arc, which no step of the turn meets: it is taken there by itself. The closed
forms of ``physics.teeth`` say the same for single places; tests/kernels/test_turn.py holds both
together.
"""

from math import ceil, cos, floor, pi, sin, sqrt

import numpy as np

from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.edge_force import (
    ALONG,
    BIN_BEGIN,
    COS_END,
    COS_START,
    COVER,
    DISC_COVER,
    DISC_VOLUME,
    DOWN,
    END,
    FORWARD,
    SIN_END,
    SIN_START,
    START,
)
from kerfwright.kernels.engagement import BINS, HIGHEST, LOWEST, VOLUME
from kerfwright.kernels.profile import (
    DISC,
    DR,
    DZ,
    EDGE,
    OUT_OUT,
    OUT_UP,
    R_DR,
    R_DZ,
    UP_UP,
)

FINE = 3  #: steps of the turn within a bin
STEPS = FINE * BINS
STEP = 2.0 * pi / STEPS
#: Shape of the room that ``within_turn`` works in; the forces stand in ``[:3, :STEPS]``.
ROOM = 4, STEPS + FINE + 2
#: Behind the steps of a turn what a bin lays beyond them, then what holds before the first.
_BEFORE = STEPS + FINE + 1
# What an edge meets in a step of a bin: the covered share, the chip of a true cutter and one over
# it, the force by such a chip and that by rubbing.
_COVERED, _FACING, _PER_CHIP, _CHIP_X, _CHIP_Y, _CHIP_Z, _RUB_X, _RUB_Y, _RUB_Z = range(9)
_EDGE_NUMBERS = 9

# What ``within_turn`` tells: largest force in the plane and along each axis [N]; share of the
# volume taken that is cut up the travel; covered arc [rad]; thickest chip [mm].
PEAK, PEAK_X, PEAK_Y, PEAK_Z, UP, ARC, CHIP = range(7)
MOST_FLUTES = 24  #: a cutter file allows 12
#: The last places are for work.
TOLD = 7 + MOST_FLUTES

_D = 2.0 * pi / BINS
_SLIVER = 1e-9
_NEXT = np.uint64(1)
_OPEN = 0.2 * _D  #: wider gaps between two arcs are more than the grid's noise
_THIN = 0.05  #: of the feed per tooth: thinner chips at an end make no peak
_WHOLE = 1.0 - 1e-9  #: share of a step above which only rounding is lacking
_HAIR = 1e-7  #: a straight edge flush with the end of an arc lies so far inside it
_MIDDLE = -pi + (np.arange(STEPS) + 0.5) * STEP
_COS, _SIN = np.cos(_MIDDLE), np.sin(_MIDDLE)


@inner_kernel(**BORROWING)
def stands_out(flutes, runout, out):  # type: ignore[no-untyped-def]
    """How far each flute stands out at the worst phase of a runout. ``out`` (flutes,) [mm]"""
    for flute in range(flutes):
        out[flute] = 0.5 * runout * cos(2.0 * pi * flute / flutes)


@inner_kernel(**BORROWING)
def chip_of_flute(flute, facing, out):  # type: ignore[no-untyped-def]
    """Chip of one flute of a cutter that runs out, 0 if it is kept out of the wood. [mm]

    ``physics.teeth.uneven_chips`` for one angle; ``facing``: chip of a cutter that runs true;
    ``out`` from ``stands_out``.
    """
    flutes = len(out)
    least = flutes * facing
    for times in range(1, flutes):
        before = flute - times
        least = min(
            least, times * facing + out[flute] - out[before if before >= 0 else before + flutes]
        )
    return max(least, 0.0)


@inner_kernel(**INLINED)
def _lie(behind, width):  # type: ignore[no-untyped-def]
    """Where an edge whose tip stands at a step begins and ends: whole steps, parts, and rounds."""
    rounds = floor(width / STEPS)
    begin = 0.5 - behind - 0.5 * width
    end = begin + width - STEPS * rounds
    first, last = floor(begin), floor(end)
    return int(first), begin - first, int(last), end - last, rounds


@inner_kernel(**BORROWING)
def _chips(arc, per_way):  # type: ignore[no-untyped-def]
    """Chip along the edge of a bin: by forward travel, by downward, and whether upright.

    Upright, that is with no width to speak of, the first does not go by the cosine.
    """
    along = arc[ALONG:]
    whole = arc[END] - arc[START]
    alone = not whole > _SLIVER
    sines = arc[SIN_END] - arc[SIN_START]
    upright = alone or not sines > _SLIVER
    ahead = down = 0.0
    if arc[FORWARD] > 0.0:
        ahead = per_way * arc[FORWARD] / along[R_DZ]
        ahead /= (STEP if alone else whole) if upright else sines
    if arc[DOWN] != 0.0 and not alone:
        down = per_way * arc[DOWN] / along[R_DR] / whole
    return ahead, down, upright


@inner_kernel(inline="always", **BORROWING)
def _pressed(arc, forward, downward, edge_n, normal_chip, normal_edge):  # type: ignore[no-untyped-def]
    """Force of a whole edge in a bin: along its way, outwards, upwards; chips', then rubbing's."""
    along = arc[ALONG:]
    rub = edge_n * arc[COVER]
    return (
        forward * along[DZ] + downward * along[DR],
        normal_chip * (forward * along[OUT_OUT] + downward * along[OUT_UP]),
        normal_chip * (forward * along[OUT_UP] + downward * along[UP_UP]),
        rub * along[EDGE], normal_edge * rub * along[DZ], normal_edge * rub * along[DR],
    )  # fmt: skip


@inner_kernel(**BORROWING)
def _heights(wood, b):  # type: ignore[no-untyped-def]
    low = max(wood[LOWEST, b], 0.0) if wood[VOLUME, b] > 0.0 else 0.0
    return low, max(wood[HIGHEST, b], low + 1e-6)


@inner_kernel(**INLINED)
def _meet(  # type: ignore[no-untyped-def]
    b, arc, alone, upright, ahead, down, way_flat, lean, per_way, per_step, ch, sh, chip_n_per_mm2,
    edge_n_per_mm, normal_chip, normal_edge, axial, met,
):  # fmt: skip
    """What an edge meets in each step of a bin, into ``met``. Returns how many steps are covered.

    ``alone``: the arc has no width. What it holds is chips by the grid alone, and no edge rubs
    there: it counts as a whole step. ``per_step``: share of the edge that is felt at one step.
    """
    begin, end = arc[START], arc[END]
    in_all = 0.0
    for fine in range(FINE):
        a = arc[BIN_BEGIN] + fine * STEP
        middle, share = a + 0.5 * STEP, 0.0
        if alone:
            last = fine == FINE - 1
            if (begin >= a and (begin < a + STEP or last)) or (fine == 0 and begin < a):
                middle, share = begin, 1.0
        else:
            p, q = max(begin, a), min(end, a + STEP)
            if q > p:
                middle, share = 0.5 * (p + q), (q - p) / STEP
        edge = met[fine * _EDGE_NUMBERS : (fine + 1) * _EDGE_NUMBERS]
        edge[_COVERED] = share
        if share == 0.0:
            continue
        in_all += share
        ca, sa = _COS[b * FINE + fine], _SIN[b * FINE + fine]
        c = ca * ch + sa * sh
        if share < _WHOLE or alone:
            c, s = cos(middle), sin(middle)
            ca, sa = c * ch - s * sh, s * ch + c * sh
        side = 1 if middle < 0.0 else 0
        facing = (way_flat * c + lean) * per_way
        edge[_FACING], edge[_PER_CHIP] = facing, 1.0 / facing if facing > 0.0 else 0.0
        chip, chip_out, chip_up, rub, rub_out, rub_up = _pressed(
            arc, chip_n_per_mm2[side, b] * ahead * (1.0 if upright else c),
            chip_n_per_mm2[side, b] * down, 0.0 if alone else edge_n_per_mm[side, b],
            normal_chip, normal_edge,
        )  # fmt: skip
        per = share * per_step
        edge[_CHIP_X] = -per * (sa * chip + ca * chip_out)
        edge[_CHIP_Y] = per * (ca * chip - sa * chip_out)
        edge[_CHIP_Z] = per * (chip_up - axial * chip)
        edge[_RUB_X] = -per * (sa * rub + ca * rub_out)
        edge[_RUB_Y] = per * (ca * rub - sa * rub_out)
        edge[_RUB_Z] = per * (rub_up - axial * rub)
    return in_all


@inner_kernel(**INLINED)
def _lay(at, flute, runout, lies, stands, met, force):  # type: ignore[no-untyped-def]
    """Add what a flute meets in the steps of a bin, as changes from step to step of the turn.

    ``at``: the step that its tip stands at when its foot meets the first step of the bin;
    ``lies``: from ``_lie``. Returns how many steps it touched, and its thickest chip.
    """
    first, last = at + lies[0], at + lies[2]
    began, ended = first // STEPS, last // STEPS
    # Unsigned: the compiler need not ask whether an index counts from the end.
    k, j = np.uint64(first - began * STEPS), np.uint64(last - ended * STEPS)
    begin_part, end_part, rounds = lies[1], lies[3], lies[4] + (ended - began)
    touched = thickest = 0.0
    x = y = z = 0.0
    for fine in range(FINE + 1):
        # Of the step before, its part that lies beyond.
        begin_x, begin_y, begin_z = x * begin_part, y * begin_part, z * begin_part
        end_x, end_y, end_z = x * end_part, y * end_part, z * end_part
        x = y = z = 0.0
        if fine < FINE:
            edge = met[fine * _EDGE_NUMBERS : (fine + 1) * _EDGE_NUMBERS]
            share, facing = edge[_COVERED], edge[_FACING]
            if share > 0.0:
                own, times = facing, 1.0
                if runout > 0.0 and facing > 0.0:
                    own = chip_of_flute(flute, facing, stands)
                    times = own * edge[_PER_CHIP]
                thickest = max(thickest, own)
                if times > 0.0:
                    touched += share
                    x = edge[_CHIP_X] * times + edge[_RUB_X]
                    y = edge[_CHIP_Y] * times + edge[_RUB_Y]
                    z = edge[_CHIP_Z] * times + edge[_RUB_Z]
        force[0, k] += begin_x + x * (1.0 - begin_part)
        force[1, k] += begin_y + y * (1.0 - begin_part)
        force[2, k] += begin_z + z * (1.0 - begin_part)
        force[0, j] -= end_x + x * (1.0 - end_part)
        force[1, j] -= end_y + y * (1.0 - end_part)
        force[2, j] -= end_z + z * (1.0 - end_part)
        k, j = k + _NEXT, j + _NEXT
        if rounds != 0.0:
            force[0, _BEFORE] += rounds * x
            force[1, _BEFORE] += rounds * y
            force[2, _BEFORE] += rounds * z
    return touched, thickest


@inner_kernel(**INLINED)
def within_turn(  # type: ignore[no-untyped-def]
    wood, arcs, way_flat, way_down, way, heading, feed_per_tooth, form, flutes, chip_n_per_mm2,
    edge_n_per_mm, normal_chip, normal_edge, axial, runout, lag_rad_per_mm, force, rubs, out,
):  # fmt: skip
    """Force through a turn and what it tells.

    Parameters
    ----------
    wood : (ROWS, BINS) as in ``engagement``. arcs : (BINS, ARC_COLUMNS) from ``covered_arcs``.
    way_flat .. axial : as in ``edge_force.chip_force``.
    runout : total indicator reading; the flute that stands out most stands out by half. [mm]
    lag_rad_per_mm : of the edge behind its tip; below 0 for a down-cut helix.
    force : ``ROOM``, written: x, y, z with the tip of flute 0 at each step of the turn from -pi;
        what else there is is for work. [N]
    rubs : (BINS,) written: share of the flutes that touch wood in a bin.
    out : (TOLD,) written.

    Notes
    -----
    A ball's or V's edge counts as spread evenly over its height, with the lag of its widest place.
    """
    for axis in range(3):
        for k in range(_BEFORE + 1):
            force[axis, k] = 0.0
    met = force[3]
    total = upward = covered = thickest = 0.0
    ch, sh = cos(heading), sin(heading)
    stands = out[TOLD - MOST_FLUTES : TOLD - MOST_FLUTES + flutes]
    stands_out(flutes, runout, stands)
    per_way = feed_per_tooth / way
    # By how many steps each flute comes after the one before, to the nearest: halves are summed up.
    each, more = STEPS // flutes, 2 * (STEPS % flutes)
    for b in range(BINS):
        rubs[b] = 1.0
        arc = arcs[b]
        along = arc[ALONG:]
        taken = arc[FORWARD] + arc[DOWN]
        if not taken > 0.0:
            if arc[DISC_VOLUME] > 0.0:
                _lay_disc(b, arc, per_way, form, flutes, chip_n_per_mm2, edge_n_per_mm,
                          normal_chip, normal_edge, axial, force)  # fmt: skip
            continue
        low, high = _heights(wood, b)
        width = max(abs(lag_rad_per_mm) * (high - low) / STEP, 1.0)
        lies = _lie(0.5 * lag_rad_per_mm * (low + high) / STEP, width)
        begin, end = arc[START], arc[END]
        sines = arc[SIN_END] - arc[SIN_START]
        alone = not end - begin > _SLIVER
        ahead, down, upright = _chips(arc, per_way)
        lean = way_down * along[DR] / along[DZ] if along[DZ] > _SLIVER else 0.0
        share = _meet(b, arc, alone, upright, ahead, down, way_flat, lean, per_way, 1.0 / width, ch,
                      sh, chip_n_per_mm2, edge_n_per_mm, normal_chip, normal_edge, axial,
                      met)  # fmt: skip
        if not alone:
            covered += share * STEP * min(arc[COVER], 1.0)
        touching, touched = share * flutes, 0.0
        over = flutes
        at = b * FINE
        for flute in range(flutes):
            rubbed, chip = _lay(at, flute, runout, lies, stands, met, force)
            touched += rubbed
            thickest = max(thickest, chip)
            at, over = at - each, over + more
            if over >= 2 * flutes:
                at, over = at - 1, over - 2 * flutes
        if arc[DISC_VOLUME] > 0.0:
            _lay_disc(b, arc, per_way, form, flutes, chip_n_per_mm2, edge_n_per_mm,
                      normal_chip, normal_edge, axial, force)  # fmt: skip
        if touching > 0.0:
            rubs[b] = touched / touching
        share = 1.0 if begin >= 0.0 else 0.0
        if begin < 0.0 < end:
            share = arc[SIN_END] / sines
        total += taken
        upward += taken * share
    out[UP] = upward / total if total > 0.0 else 0.0
    out[ARC], out[CHIP] = covered, thickest
    _peaks(force, out)
    b, at_end = _open_end(arcs)
    if b >= 0:
        _flush(
            b, at_end, wood, arcs, way_flat, way_down, per_way, ch, sh, flutes, chip_n_per_mm2,
            edge_n_per_mm, normal_chip, normal_edge, axial, runout, lag_rad_per_mm, out,
        )  # fmt: skip


@inner_kernel(**BORROWING)
def _open_end(arcs):  # type: ignore[no-untyped-def]
    """Bin in which an arc begins or ends with nothing beside it, and whether it ends there.

    That with the thickest chip, -1 if there is none. Where the engagement ends at the cutter's own
    side the chip comes to nothing, and no step of the turn misses it.
    """
    open_bin, at_end, thickest = -1, False, _THIN
    for b in range(BINS):
        arc = arcs[b]
        if not arc[FORWARD] > 0.0 or not arc[END] - arc[START] > _SLIVER:
            continue
        if arc[COS_START] > thickest:
            beside = arcs[b - 1 if b > 0 else BINS - 1]
            if not beside[FORWARD] > 0.0 or arc[START] - beside[END] > _OPEN:
                open_bin, at_end, thickest = b, False, arc[COS_START]
        if arc[COS_END] > thickest:
            beside = arcs[b + 1 if b < BINS - 1 else 0]
            if not beside[FORWARD] > 0.0 or beside[START] - arc[END] > _OPEN:
                open_bin, at_end, thickest = b, True, arc[COS_END]
    return open_bin, at_end


@inner_kernel(**BORROWING)
def _flush(  # type: ignore[no-untyped-def]
    flush, at_end, wood, arcs, way_flat, way_down, per_way, ch, sh, flutes, chip_n_per_mm2,
    edge_n_per_mm, normal_chip, normal_edge, axial, runout, lag_rad_per_mm, out,
):  # fmt: skip
    """The largest forces in ``out`` and those with an edge flush with the end of a bin's arc.

    ``flush``, ``at_end``: from ``_open_end``. The part of an edge within a bin is felt as at its
    middle.
    """
    stands = out[TOLD - MOST_FLUTES : TOLD - MOST_FLUTES + flutes]
    low, high = _heights(wood, flush)
    low, high = lag_rad_per_mm * low, lag_rad_per_mm * high
    if at_end:
        tip = arcs[flush, END] - _HAIR - max(low, high)
    else:
        tip = arcs[flush, START] + _HAIR - min(low, high)
    fx = fy = fz = 0.0
    for b in range(BINS):
        arc = arcs[b]
        begin, end = arc[START], arc[END]
        if not arc[FORWARD] + arc[DOWN] > 0.0 or not end - begin > _SLIVER:
            continue
        low, high = _heights(wood, b)
        low, high = lag_rad_per_mm * low, lag_rad_per_mm * high
        low, high = min(low, high), max(low, high)
        width = high - low
        for flute in range(flutes):
            p = tip + 2.0 * pi * flute / flutes + low
            if p + width < begin or p > end:
                p += 2.0 * pi * ceil((begin - p - width) / (2.0 * pi))
            while p < end:
                q = p + width
                middle = 0.5 * (max(p, begin) + min(q, end))
                share = (min(q, end) - max(p, begin)) / width if width > _HAIR else 1.0
                p += 2.0 * pi
                c, s = cos(middle), sin(middle)
                along = arc[ALONG:]
                lean = way_down * along[DR] / along[DZ] if along[DZ] > _SLIVER else 0.0
                facing = (way_flat * c + lean) * per_way
                times = 1.0
                if runout > 0.0 and facing > 0.0:
                    times = chip_of_flute(flute, facing, stands) / facing
                if not times > 0.0:
                    continue
                side = 1 if middle < 0.0 else 0
                ahead, down, upright = _chips(arc, per_way)
                chip_n = chip_n_per_mm2[side, b]
                chip, chip_out, chip_up, rub, rub_out, rub_up = _pressed(
                    arc, chip_n * ahead * (1.0 if upright else c), chip_n * down,
                    edge_n_per_mm[side, b], normal_chip, normal_edge,
                )  # fmt: skip
                tangential = share * (chip * times + rub)
                outward = share * (chip_out * times + rub_out)
                ca, sa = c * ch - s * sh, s * ch + c * sh
                fx -= sa * tangential + ca * outward
                fy += ca * tangential - sa * outward
                fz += share * (chip_up * times + rub_up) - axial * tangential
    out[PEAK] = max(out[PEAK], sqrt(fx * fx + fy * fy))
    out[PEAK_X], out[PEAK_Y] = max(out[PEAK_X], abs(fx)), max(out[PEAK_Y], abs(fy))
    out[PEAK_Z] = max(out[PEAK_Z], abs(fz))


@inner_kernel(**BORROWING)
def _lay_disc(  # type: ignore[no-untyped-def]
    b, arc, per_way, form, flutes, chip_n_per_mm2, edge_n_per_mm, normal_chip, normal_edge,
    axial, force,
):  # fmt: skip
    """What the level edge at the end feels, from the axis out: all of it without a lag."""
    radius = form[DISC]
    for fine in range(FINE):
        middle = arc[BIN_BEGIN] + (fine + 0.5) * STEP
        side = 1 if middle < 0.0 else 0
        ca, sa = _COS[b * FINE + fine], _SIN[b * FINE + fine]
        cuts = chip_n_per_mm2[side, b] * per_way * arc[DISC_VOLUME] / (_D * 0.5 * radius)
        scrapes = edge_n_per_mm[side, b] * arc[DISC_COVER] * radius
        both = cuts + scrapes
        lift = normal_chip * cuts + normal_edge * scrapes - axial * both
        for flute in range(flutes):
            at = b * FINE + fine - (2 * STEPS * flute + flutes) // (2 * flutes)
            at -= STEPS * (at // STEPS)
            force[0, at] -= sa * both
            force[0, at + 1] += sa * both
            force[1, at] += ca * both
            force[1, at + 1] -= ca * both
            force[2, at] += lift
            force[2, at + 1] -= lift


@inner_kernel(**INLINED)
def _peaks(force, out):  # type: ignore[no-untyped-def]
    """Differences summed up to forces, in place, and the largest of them."""
    for axis in range(3):
        for k in range(FINE + 1):  # laid beyond the last step: the turn goes round
            beyond = force[axis, STEPS + k]
            force[axis, k] += beyond
            force[axis, _BEFORE] -= beyond
    x, y, z = force[0, _BEFORE], force[1, _BEFORE], force[2, _BEFORE]
    plane = most_x = most_y = most_z = 0.0
    for k in range(STEPS):
        x += force[0, k]
        y += force[1, k]
        z += force[2, k]
        force[0, k], force[1, k], force[2, k] = x, y, z
        plane = max(plane, x * x + y * y)
        most_x, most_y, most_z = max(most_x, abs(x)), max(most_y, abs(y)), max(most_z, abs(z))
    out[PEAK], out[PEAK_X], out[PEAK_Y], out[PEAK_Z] = sqrt(plane), most_x, most_y, most_z
