"""What a cutter feels within one turn: the peak, the runout, which side of the travel is cut.

The arcs of ``edge_force`` say what the edge meets in each bin of angle about a millimetre of path.
Here a turn is taken in steps of ``STEP`` and each flute's edge is laid over them, lagging behind
its tip up the helix. The closed forms of ``physics.teeth`` say the same for single places;
tests/kernels/test_turn.py holds both together.
"""

from math import cos, floor, hypot, pi, sin

import numpy as np
from numba import njit

from kerfwright.kernels.edge_force import (
    ALONG,
    BIN_BEGIN,
    COVER,
    DISC_COVER,
    DISC_VOLUME,
    DOWN,
    END,
    FORWARD,
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

# What ``within_turn`` tells: largest force in the plane and along each axis [N]; share of the
# volume taken that is cut up the travel; covered arc [rad]; thickest chip [mm].
PEAK, PEAK_X, PEAK_Y, PEAK_Z, UP, ARC, CHIP = range(7)
TOLD = 7

_D = 2.0 * pi / BINS
_SLIVER = 1e-9


@njit(cache=True, nogil=True, error_model="numpy")
def stands_out(flutes, runout, out):  # type: ignore[no-untyped-def]
    """How far each flute stands out at the worst phase of a runout. ``out`` (flutes,) [mm]"""
    for flute in range(flutes):
        out[flute] = 0.5 * runout * cos(2.0 * pi * flute / flutes)


@njit(cache=True, nogil=True, error_model="numpy")
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


@njit(cache=True, nogil=True, error_model="numpy")
def _lay(force, axis, value, start, width):  # type: ignore[no-untyped-def]
    """Add a force over a stretch of the turn, in steps from its beginning; it may go round."""
    while width >= STEPS:
        force[axis, STEPS + 1] += value
        width -= STEPS
    begin = start - STEPS * floor(start / STEPS)
    end = begin + width
    k = min(int(begin), STEPS - 1)
    part = begin - k
    force[axis, k] += value * (1.0 - part)
    force[axis, k + 1] += value * part
    if end >= STEPS:
        force[axis, STEPS + 1] += value
        end -= STEPS
    k = min(int(end), STEPS - 1)
    part = end - k
    force[axis, k] -= value * (1.0 - part)
    force[axis, k + 1] -= value * part


@njit(cache=True, nogil=True, error_model="numpy")
def within_turn(  # type: ignore[no-untyped-def]
    wood, arcs, way_flat, way_down, way, heading, feed_per_tooth, form, flutes, chip_n_per_mm2,
    edge_n_per_mm, normal_chip, normal_edge, axial, runout, lag_rad_per_mm, force, rubs, out,
):  # fmt: skip
    """Force through a turn and what it tells.

    Parameters
    ----------
    wood : (ROWS, BINS) as in ``engagement``. arcs : (BINS, ARC_COLUMNS) from ``covered_arcs``.
    way_flat .. axial : as in ``edge_force.mean_force``.
    runout : total indicator reading; the flute that stands out most stands out by half. [mm]
    lag_rad_per_mm : of the edge behind its tip; below 0 for a down-cut helix.
    force : (3, STEPS + 2) written: x, y, z with the tip of flute 0 at each step of the turn from
        -pi; the last two places are for work. [N]
    rubs : (BINS,) written: share of the flutes that touch wood in a bin.
    out : (TOLD,) written.

    Notes
    -----
    A ball's or V's edge counts as spread evenly over its height, with the lag of its widest place.
    Arcs narrower than a step (5 degrees) of a straight flute are told low, by half at most.
    """
    force[:] = 0.0
    out[:] = 0.0
    total = upward = 0.0
    ch, sh = cos(heading), sin(heading)
    stands = np.empty(flutes)
    stands_out(flutes, runout, stands)
    for b in range(BINS):
        rubs[b] = 1.0
        arc = arcs[b]
        along = arc[ALONG:]
        taken = arc[FORWARD] + arc[DOWN]
        if not taken > 0.0 and not arc[DISC_VOLUME] > 0.0:
            continue
        low = max(wood[LOWEST, b], 0.0) if wood[VOLUME, b] > 0.0 else 0.0
        high = max(wood[HIGHEST, b], low + 1e-6)
        lagged = abs(lag_rad_per_mm) * (high - low) / STEP
        behind = 0.5 * lag_rad_per_mm * (low + high) / STEP
        begin, end = arc[START], arc[END]
        whole = end - begin
        alone = not whole > _SLIVER
        touching = touched = 0.0
        for fine in range(FINE):
            a = arc[BIN_BEGIN] + fine * STEP
            middle, share, disc = a + 0.5 * STEP, 0.0, 0.0
            if taken > 0.0:
                p, q = max(begin, a), min(end, a + STEP)
                if alone:
                    last = fine == FINE - 1
                    if (begin >= a and (begin < a + STEP or last)) or (fine == 0 and begin < a):
                        middle, share = begin, 1.0
                elif q > p:
                    middle, share = 0.5 * (p + q), (q - p) / STEP
            if arc[DISC_VOLUME] > 0.0:
                disc = 1.0
            if share == 0.0 and disc == 0.0:
                continue
            side = 1 if middle < 0.0 else 0
            c, s = cos(middle), sin(middle)
            per = chip_n_per_mm2[side, b] * feed_per_tooth / way
            chip = chip_out = chip_up = rub = rub_out = rub_up = 0.0
            facing = 0.0
            if share > 0.0:
                if arc[FORWARD] > 0.0:
                    ahead = per * arc[FORWARD] / along[R_DZ]
                    sines = sin(end) - sin(begin)
                    if alone or not sines > _SLIVER:
                        ahead /= STEP if alone else whole
                    else:
                        ahead *= c / sines
                    chip += ahead * along[DZ]
                    chip_out += ahead * along[OUT_OUT]
                    chip_up += ahead * along[OUT_UP]
                if arc[DOWN] > 0.0 and not alone:
                    down = per * arc[DOWN] / along[R_DR] / whole
                    chip += down * along[DR]
                    chip_out += down * along[OUT_UP]
                    chip_up += down * along[UP_UP]
                rub = edge_n_per_mm[side, b] * arc[COVER]
                rub_up, rub_out = rub * along[DR], rub * along[DZ]
                rub *= along[EDGE]
                facing = way_flat * c
                if along[DZ] > _SLIVER:
                    facing += max(way_down, 0.0) * along[DR] / along[DZ]
                facing *= feed_per_tooth / way
                covered = share * STEP * min(arc[COVER], 1.0)
                out[ARC] += 0.0 if alone else covered
            for flute in range(flutes):
                tangential = outward = up = 0.0
                if share > 0.0:
                    times = 1.0
                    if runout > 0.0 and facing > 0.0:
                        own = chip_of_flute(flute, facing, stands)
                        times = own / facing
                        out[CHIP] = max(out[CHIP], own)
                    else:
                        out[CHIP] = max(out[CHIP], facing)
                    touches = 1.0 if times > 0.0 else 0.0
                    touching += share
                    touched += share * touches
                    tangential = share * (chip * times + rub * touches)
                    outward = share * (
                        normal_chip * chip_out * times + normal_edge * rub_out * touches
                    )
                    up = share * (normal_chip * chip_up * times + normal_edge * rub_up * touches)
                    up -= axial * tangential
                turn = (b * FINE + fine + 0.5) - floor(STEPS * flute / flutes + 0.5)
                ca, sa = c * ch - s * sh, s * ch + c * sh
                if tangential != 0.0 or outward != 0.0:
                    width = max(lagged, 1.0)
                    start = turn - behind - 0.5 * width
                    _lay(force, 0, (-sa * tangential - ca * outward) / width, start, width)
                    _lay(force, 1, (ca * tangential - sa * outward) / width, start, width)
                    _lay(force, 2, up / width, start, width)
                if disc > 0.0:
                    # The level edge at the end, from the axis out.
                    radius = form[DISC]
                    cuts = per * arc[DISC_VOLUME] / (_D * 0.5 * radius)
                    scrapes = edge_n_per_mm[side, b] * arc[DISC_COVER] * radius
                    both = cuts + scrapes
                    lift = normal_chip * cuts + normal_edge * scrapes - axial * both
                    _lay(force, 0, -sa * both, turn - 0.5, 1.0)
                    _lay(force, 1, ca * both, turn - 0.5, 1.0)
                    _lay(force, 2, lift, turn - 0.5, 1.0)
        if touching > 0.0:
            rubs[b] = touched / touching
        if taken > 0.0:
            share = 1.0 if begin >= 0.0 else 0.0
            if begin < 0.0 < end:
                share = sin(end) / (sin(end) - sin(begin))
            total += taken
            upward += taken * share
    if total > 0.0:
        out[UP] = upward / total
    _peaks(force, out)


@njit(cache=True, nogil=True, error_model="numpy")
def _peaks(force, out):  # type: ignore[no-untyped-def]
    """Differences summed up to forces, in place, and the largest of them."""
    x, y, z = force[0, STEPS + 1], force[1, STEPS + 1], force[2, STEPS + 1]
    for k in range(STEPS):
        x += force[0, k]
        y += force[1, k]
        z += force[2, k]
        force[0, k], force[1, k], force[2, k] = x, y, z
        out[PEAK] = max(out[PEAK], hypot(x, y))
        out[PEAK_X] = max(out[PEAK_X], abs(x))
        out[PEAK_Y] = max(out[PEAK_Y], abs(y))
        out[PEAK_Z] = max(out[PEAK_Z], abs(z))
