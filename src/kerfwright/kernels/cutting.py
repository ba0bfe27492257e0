"""Mean cutting force, power and pull left in the motors for each group of steps.

What the steps of a group took is gathered into one engagement; ``edge_force`` turns it into force.
"""

from math import atan2, hypot, pi

import numpy as np
from numba import njit

from kerfwright.kernels.edge_force import ARC_COLUMNS, covered_arcs, mean_force
from kerfwright.kernels.engagement import (
    BINS,
    FLOOR,
    HIGHEST,
    LANE_PAD,
    LANE_ROWS,
    LOWEST,
    VOLUME,
    nothing,
    spread_lanes,
)

_D = 2.0 * pi / BINS

# Columns of the groups.
TIME, DURATION, X, Y, Z = 0, 1, 2, 3, 4
FORCE_X, FORCE_Y, FORCE_Z, POWER = 5, 6, 7, 8
PULL_X, PULL_Y, PULL_Z = 9, 10, 11
FEED_PER_TOOTH, DEPTH, TAKEN, LEFT, RIGHT, WAY = 12, 13, 14, 15, 16, 17
COLUMNS = 18

#: Steps shorter in plan are straight down or up. [mm]
STAMP_MM = 1e-6
#: Stands for a motor that can no longer pull at all. [N mm]
LEAST_PULL_NMM = 1.0

# Numbers of one axis, for ``demand_torque``.
A_LEAD, A_MOTORS, A_MASS, A_FRICTION, A_RAISING, A_LOWERING, A_DRAG, A_INERTIA, A_WEIGHT = range(9)
A_TOP = 9  #: motor speed at the end of the curve [rev/s]
AXIS_NUMBERS = 10


@njit(cache=True, nogil=True, error_model="numpy")
def group_force(  # type: ignore[no-untyped-def]
    gathered, way_flat, way_down, way, heading, feed_per_tooth, form, flutes, chip_n_per_mm2,
    edge_n_per_mm, normal_chip, normal_edge, axial, arcs, out,
):  # fmt: skip
    """Mean force over a turn from one gathered engagement; see ``edge_force``.

    ``arcs`` (BINS, ARC_COLUMNS) and ``out`` (5,) are written.
    """
    covered_arcs(gathered, way_flat, way_down, heading, form, arcs)
    mean_force(
        arcs, way, heading, feed_per_tooth, form, flutes, chip_n_per_mm2, edge_n_per_mm,
        normal_chip, normal_edge, axial, out,
    )  # fmt: skip


@njit(cache=True, nogil=True, error_model="numpy")
def demand_torque(axis, velocity, acceleration, cut_n):  # type: ignore[no-untyped-def]
    """Torque that one motor of an axis must give, always as a number above 0. [N mm]

    ``axis`` (AXIS_NUMBERS,); ``cut_n``: force of the wood on the cutter along the axis. The
    carriage's inertia goes through the nut, the turning parts' does not.
    """
    sign = 1.0 if velocity > 0.0 else (-1.0 if velocity < 0.0 else 0.0)
    thrust = axis[A_MASS] * acceleration / 1000.0 + axis[A_WEIGHT] - cut_n
    if sign == 0.0:
        # Standing: only a screw that can be pushed round asks anything of the motor.
        return max(0.0, -axis[A_LOWERING]) * abs(thrust) / axis[A_MOTORS]
    along = thrust * sign + axis[A_FRICTION]
    torque = along * axis[A_RAISING] if along > 0.0 else -along * axis[A_LOWERING]
    turning = axis[A_INERTIA] * acceleration * sign * 2.0 * pi / axis[A_LEAD] / 1000.0
    return abs((torque + axis[A_DRAG]) / axis[A_MOTORS] + turning)


@njit(inline="always", error_model="numpy")
def _pull_out(curve, top, rev_per_s):  # type: ignore[no-untyped-def]
    """Torque from a curve sampled evenly from 0 to ``top``; its last value beyond, never nought."""
    at = rev_per_s / top * (curve.shape[0] - 1)
    k = min(int(at), curve.shape[0] - 2)
    part = min(at - k, 1.0)
    return max(curve[k] + part * (curve[k + 1] - curve[k]), LEAST_PULL_NMM)


@njit(inline="always", error_model="numpy")
def _add(engagement, k, out, at, cell_area):  # type: ignore[no-untyped-def]
    out[VOLUME, at] += engagement[VOLUME, k] * cell_area
    if engagement[LOWEST, k] < out[LOWEST, at]:
        out[LOWEST, at] = engagement[LOWEST, k]
    if engagement[HIGHEST, k] > out[HIGHEST, at]:
        out[HIGHEST, at] = engagement[HIGHEST, k]


@njit(cache=True, nogil=True, error_model="numpy")
def group_loads(  # type: ignore[no-untyped-def]
    first,
    end,
    group_first,
    steps,
    time_s,
    velocity,
    acceleration,
    spindle_rev_per_s,
    entry,
    volume,
    engagement,
    cell_area,
    lanes,
    form,
    flutes,
    chip_n_per_mm2,
    edge_n_per_mm,
    normal_chip,
    normal_edge,
    axial,
    axes,
    curves,
    gathered,
    columns,
):
    """Gather the steps of the groups from ``first`` to before ``end`` and compute their loads.

    Parameters
    ----------
    group_first, steps, time_s, velocity, acceleration : from ``stepping.make_steps``.
    entry, volume, engagement : from the removal, see ``prove.removal.Taken``.
    axes, curves : (3, AXIS_NUMBERS), (3, k): the machine.
    lanes, form, flutes : of the cutter, see ``engagement`` and ``profile``.
    chip_n_per_mm2 .. axial : of the wood, see ``edge_force.mean_force``.
    gathered : (groups, ROWS, BINS) written: volumes [mm³], heights above the tip [mm].
    columns : (groups, COLUMNS) written.
    """
    out = np.empty(5)
    arcs = np.empty((BINS, ARC_COLUMNS))
    lane = np.empty((LANE_ROWS, lanes))
    for g in range(first, end):
        a, e = group_first[g], group_first[g + 1]
        wood = gathered[g]
        nothing(wood)
        wood[FLOOR] = 0.0
        nothing(lane)
        taken = way_flat = way_down = way = tall = 0.0
        for i in range(a, e):
            dx, dy = steps[i, 3] - steps[i, 0], steps[i, 4] - steps[i, 1]
            dz = steps[i, 5] - steps[i, 2]
            flat = hypot(dx, dy)
            way_flat += flat
            way_down -= dz
            way += hypot(flat, dz)
            for row in range(entry[i], entry[i + 1]):
                if not volume[row] > 0.0:
                    continue
                taken += volume[row]
                if flat > STAMP_MM:
                    for k in range(lanes + 2 * LANE_PAD):
                        _add(
                            engagement[row],
                            k,
                            lane,
                            min(max(k - LANE_PAD, 0), lanes - 1),
                            cell_area,
                        )
                else:
                    tall = max(tall, engagement[row, HIGHEST, BINS])
                    for k in range(BINS):
                        _add(engagement[row], k, wood, k, cell_area)
        column = columns[g]
        column[TIME] = time_s[a, 0]
        duration = 1e-9
        for i in range(a, e):
            duration += time_s[i, 1] - time_s[i, 0]
        column[DURATION] = duration
        middle = (a + e - 1) // 2
        for axis in range(3):
            column[X + axis] = 0.5 * (steps[middle, axis] + steps[middle, 3 + axis])
        column[WAY] = way
        column[TAKEN] = taken * cell_area
        column[DEPTH] = column[LEFT] = column[RIGHT] = 0.0
        column[FEED_PER_TOOTH] = 0.0
        column[FORCE_X] = column[FORCE_Y] = column[FORCE_Z] = column[POWER] = 0.0
        if taken > 0.0:
            heading = atan2(steps[e - 1, 4] - steps[a, 1], steps[e - 1, 3] - steps[a, 0])
            feed = way / duration / (spindle_rev_per_s * flutes)
            column[FEED_PER_TOOTH] = feed
            if way_flat > STAMP_MM:
                spread_lanes(lanes, lane, heading, -way_down / way_flat, form, wood)
            group_force(
                gathered[g], way_flat, way_down, way, heading, feed, form, flutes, chip_n_per_mm2,
                edge_n_per_mm, normal_chip, normal_edge, axial, arcs, out,
            )  # fmt: skip
            for axis in range(3):
                column[FORCE_X + axis] = out[axis]
            column[POWER] = out[3] * 2.0 * pi * spindle_rev_per_s / 1000.0
            column[DEPTH] = tall
            for b in range(BINS):
                if not wood[VOLUME, b] + wood[FLOOR, b] > 0.0:
                    continue
                high = max(wood[HIGHEST, b], 0.0)
                column[DEPTH] = max(column[DEPTH], high)
                psi = -pi + (b + 0.5) * _D - heading
                psi -= 2.0 * pi * np.floor((psi + pi) / (2.0 * pi))
                if way_flat > 0.0 and abs(abs(psi) - 0.5 * pi) < 1.6 * _D:
                    if psi > 0.0:
                        column[LEFT] = max(column[LEFT], high)
                    else:
                        column[RIGHT] = max(column[RIGHT], high)
        for axis in range(3):
            least = 1.0  # not below -1: a motor that is asked for twice its pull has stalled
            numbers = axes[axis]
            for i in range(a, e):
                torque = demand_torque(
                    numbers, velocity[i, axis], acceleration[i, axis], column[FORCE_X + axis]
                )
                turning = abs(velocity[i, axis]) / numbers[A_LEAD]
                least = min(least, 1.0 - torque / _pull_out(curves[axis], numbers[A_TOP], turning))
            column[PULL_X + axis] = max(least, -1.0)
