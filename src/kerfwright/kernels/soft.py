"""Cuts along a wall that give way: the width of the cut follows the give.

A cutter that is pushed off its wall meets less wood, one that is drawn in meets more. The width w
is where w = w0 + give(w) towards the wall, the give being the compliance times the force of the
cut at that width. What the sweep computed for w0 is scaled by how the force along a wall depends
on w.
"""

from collections.abc import Callable
from math import acos, ceil, cos, floor, hypot, pi, sin

import numpy as np

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel
from kerfwright.kernels.cutting import (
    COVERED,
    FORCE_X,
    FORCE_Y,
    FORCE_Z,
    LARGEST,
    LARGEST_X,
    LARGEST_Y,
    LARGEST_Z,
    POWER,
    WIDTH,
)
from kerfwright.kernels.engagement import BINS
from kerfwright.kernels.turn import STEP, chip_of_flute, stands_out

_LEAST_MM = 1e-3  #: width below which there is no cut to speak of
_NEAR_MM = 1e-5
_TURNS = 16


@inner_kernel(**BORROWING)
def side_force(  # type: ignore[no-untyped-def]
    width, side, depth, feed_per_tooth, heading, radius, flutes, chip_n_per_mm2, edge_n_per_mm,
    normal_chip, normal_edge, stands, out,
):  # fmt: skip
    """Mean force over a turn of an upright flank along a wall.

    Parameters
    ----------
    width, depth : of the cut, square to the travel and down. [mm]
    side : 1 with the wall left of the travel, -1 right.
    feed_per_tooth, heading, radius, flutes : [mm, rad, mm, -]
    chip_n_per_mm2, edge_n_per_mm, normal_chip, normal_edge : as in ``edge_force.chip_force``.
    stands : (flutes,) how far each flute stands out, see ``turn.stands_out``. [mm]
    out : (3,) written: force x, y [N]; torque [N mm].
    """
    out[0] = out[1] = out[2] = 0.0
    turned = acos(1.0 - min(max(width / radius, 0.0), 2.0))
    pieces = ceil(turned / STEP) + 1
    bit = turned / pieces
    for k in range(pieces):
        psi = side * (0.5 * pi - (k + 0.5) * bit)
        angle = psi + heading
        number = floor((angle + pi) * (BINS / (2.0 * pi))) % BINS
        law = 1 if psi < 0.0 else 0
        facing = feed_per_tooth * cos(psi)
        touching = 0
        for flute in range(flutes):
            if chip_of_flute(flute, facing, stands) > 0.0:
                touching += 1
        chip = chip_n_per_mm2[law, number] * facing * flutes
        rub = edge_n_per_mm[law, number] * touching
        tangential, outward = chip + rub, normal_chip * chip + normal_edge * rub
        per = bit * depth / (2.0 * pi)
        c, s = cos(angle), sin(angle)
        out[0] += per * (-s * tangential - c * outward)
        out[1] += per * (c * tangential - s * outward)
        out[2] += per * radius * tangential


def settled_width_reference(
    programmed_mm: float, widest_mm: float, give_mm: Callable[[float], float]
) -> float:
    """Width of a cut that follows its give, by plain halving: the definition. [mm]

    Parameters
    ----------
    programmed_mm : width if nothing gave.
    widest_mm : diameter of the cutter.
    give_mm : towards the wall, of a cut as wide as it is asked for.
    """
    low, high = _LEAST_MM, widest_mm
    for _ in range(60):
        width = 0.5 * (low + high)
        if programmed_mm + give_mm(width) > width:
            low = width
        else:
            high = width
    return 0.5 * (low + high)


@kernel(**NUMPY)
def settle(  # type: ignore[no-untyped-def]
    first, end, which, columns, side, depth, feed_per_tooth, heading, compliance, radius, flutes,
    chip_n_per_mm2, edge_n_per_mm, normal_chip, normal_edge, runout,
):  # fmt: skip
    """Let cuts follow their give, in place: to the width of ``settled_width_reference``.

    Parameters
    ----------
    which : (n,) numbers of the groups; those from ``first`` to before ``end`` are done.
    columns : (groups, COLUMNS) changed: width, forces, power, covered arc.
    side, depth, feed_per_tooth, heading : (n,) of the cuts.
    compliance : (n, 3, 3) of the tip. [mm/N]
    radius .. normal_edge : as in ``side_force``. runout : total indicator reading. [mm]
    """
    at, now = np.empty(3), np.empty(3)
    stands = np.empty(flutes)
    stands_out(flutes, runout, stands)
    for k in range(first, end):
        column = columns[which[k]]
        programmed = column[WIDTH]
        side_force(
            programmed, side[k], depth[k], feed_per_tooth[k], heading[k], radius, flutes,
            chip_n_per_mm2, edge_n_per_mm, normal_chip, normal_edge, stands, at,
        )  # fmt: skip
        square = at[0] * at[0] + at[1] * at[1]
        if not square > 0.0 or not at[2] > 0.0:
            continue
        # The sweep's force over that of the flank, as a complex number.
        fx, fy = column[FORCE_X], column[FORCE_Y]
        along, across = (fx * at[0] + fy * at[1]) / square, (fy * at[0] - fx * at[1]) / square
        torque, lift = at[2], column[FORCE_Z]
        nx, ny = -side[k] * sin(heading[k]), side[k] * cos(heading[k])
        c = compliance[k]
        low, high = _LEAST_MM, 2.0 * radius
        low_off, high_off = np.inf, -np.inf
        width = programmed
        for turn in range(_TURNS):
            side_force(
                width, side[k], depth[k], feed_per_tooth[k], heading[k], radius, flutes,
                chip_n_per_mm2, edge_n_per_mm, normal_chip, normal_edge, stands, now,
            )  # fmt: skip
            x, y = along * now[0] - across * now[1], along * now[1] + across * now[0]
            z = lift * now[2] / torque
            give = nx * (c[0, 0] * x + c[0, 1] * y + c[0, 2] * z)
            give += ny * (c[1, 0] * x + c[1, 1] * y + c[1, 2] * z)
            off = programmed + give - width
            if abs(off) < _NEAR_MM or high - low < _NEAR_MM or turn == _TURNS - 1:
                break
            if off > 0.0:
                low, low_off = width, off
            else:
                high, high_off = width, off
            if low_off < np.inf and high_off > -np.inf and turn % 3 < 2:
                width = low + (high - low) * low_off / (low_off - high_off)
            elif low_off < np.inf and high_off > -np.inf:
                width = 0.5 * (low + high)
            elif off > 0.0:
                width = min(width + 2.0 * off, high)
            else:
                width = max(width + 2.0 * off, low)
        share = now[2] / torque
        felt = hypot(now[0], now[1]) / hypot(at[0], at[1])
        column[FORCE_X], column[FORCE_Y] = x, y
        column[FORCE_Z] *= share
        column[POWER] *= share
        for name in (LARGEST, LARGEST_X, LARGEST_Y, LARGEST_Z):
            column[name] *= felt
        column[COVERED] *= acos(1.0 - min(width / radius, 2.0)) / acos(
            1.0 - min(programmed / radius, 2.0)
        )
        column[WIDTH] = width
