"""Mean cutting force, power and pull left in the motors for each group of steps.

The engagement is counted in 24 bins of angle about the cutter. What is known in a bin is the
volume taken and the lowest and highest wood touched; how much of the bin's arc was covered follows
from the volume that a full bin would have swept, so nothing hangs on how many cells were touched.
In a bin at the angle b the edge feels, while it is there,

    F_t = K_c V f_z / (s r db) + K_e l        (tangential; V / s: section of the cut in the bin)

with l the length of engaged edge, f_z the feed per tooth, r the radius there; the chip part
carries the same work as the volume taken, whatever the grid. See docs/models/cutting.md.
"""

from math import atan2, cos, hypot, pi, sin, sqrt

import numpy as np
from numba import njit

from kerfwright.kernels.removal import BALL, BINS, FLAT, HIGHEST, LOWEST, VEE, VOLUME

_D = 2.0 * pi / BINS
_MOST_COVERED = 1.3

# Columns of the groups.
TIME, DURATION, X, Y, Z = 0, 1, 2, 3, 4
FORCE_X, FORCE_Y, FORCE_Z, POWER = 5, 6, 7, 8
PULL_X, PULL_Y, PULL_Z = 9, 10, 11
FEED_PER_TOOTH, DEPTH, TAKEN, LEFT, RIGHT, WAY = 12, 13, 14, 15, 16, 17
COLUMNS = 18

#: Stands for a motor that can no longer pull at all. [N mm]
LEAST_PULL_NMM = 1.0

# Numbers of one axis, for ``demand_torque``.
A_LEAD, A_MOTORS, A_MASS, A_FRICTION, A_RAISING, A_LOWERING, A_DRAG, A_INERTIA, A_WEIGHT = range(9)
A_TOP = 9  #: motor speed at the end of the curve [rev/s]
AXIS_NUMBERS = 10


@njit(inline="always", error_model="numpy")
def _radius_at(z, shape, radius, flank, tip):  # type: ignore[no-untyped-def]
    if shape == BALL:
        return sqrt(max(z * (2.0 * radius - z), 0.0)) if z < radius else radius
    if shape == VEE:
        return min(radius, tip + z / flank)
    return radius


@njit(inline="always", error_model="numpy")
def _edge_between(low, high, shape, radius, flank, tip):  # type: ignore[no-untyped-def]
    """Length of cutting edge between two heights, helix left out."""
    if shape == BALL:
        a = np.arccos(1.0 - min(max(low, 0.0), radius) / radius)
        b = np.arccos(1.0 - min(max(high, 0.0), radius) / radius)
        return radius * (b - a) + max(high - max(low, radius), 0.0)
    if shape == VEE:
        rim = flank * (radius - tip)
        slant = max(min(high, rim) - min(low, rim), 0.0)
        return slant * sqrt(1.0 + 1.0 / (flank * flank)) + max(high - max(low, rim), 0.0)
    return high - low


@njit(cache=True, nogil=True, error_model="numpy")
def group_force(  # type: ignore[no-untyped-def]
    volume,
    low,
    high,
    way_flat,
    way_down,
    way,
    heading,
    feed_per_tooth,
    shape,
    radius,
    flank,
    tip,
    flutes,
    chip_n_per_mm2,
    edge_n_per_mm,
    normal_chip,
    normal_edge,
    axial,
    out,
):
    """Mean force on the cutter over a turn, from one engagement.

    Parameters
    ----------
    volume, low, high : (BINS,) volume taken [mm³], heights touched above the tip [mm].
    way_flat, way_down, way : length of the step in plan, downwards, along the path. [mm]
    heading : direction of travel in plan. [rad]
    chip_n_per_mm2, edge_n_per_mm : (2, BINS) of wood cut up (0) and down (1) the travel, for an
        edge in each bin. [N/mm², N/mm]
    normal_chip, normal_edge : normal force as a share of the tangential. axial : downward pull of
        a helix as a share of the tangential.
    out : (5,) written: force on the cutter x, y, z [N]; torque [N mm]; engaged edge, a mean over
        the turn [mm].
    """
    fx = fy = fz = torque = edge_mean = 0.0
    for b in range(BINS):
        if not volume[b] > 0.0:
            continue
        angle = -pi + (b + 0.5) * _D
        psi = angle - heading
        psi -= 2.0 * pi * np.floor((psi + pi) / (2.0 * pi))
        lo = max(psi - 0.5 * _D, -0.5 * pi)
        hi = min(psi + 0.5 * _D, 0.5 * pi)
        facing = sin(hi) - sin(lo) if hi > lo else 0.0
        z0 = max(low[b], 0.0)
        z1 = max(high[b], z0)
        zm = 0.5 * (z0 + z1)
        r0 = _radius_at(z0, shape, radius, flank, tip)
        r1 = _radius_at(z1, shape, radius, flank, tip)
        rm = _radius_at(zm, shape, radius, flank, tip)
        side = way_flat * facing * (z1 - z0) * (r0 + 4.0 * rm + r1) / 6.0
        if shape != FLAT:
            side += way_down * _D * 0.5 * (r1 * r1 - r0 * r0)
        floor = 0.0
        flat = radius if shape == FLAT else (tip if shape == VEE else 0.0)
        if way_down > 0.0 and flat > 0.0 and low[b] < 0.02 + 0.5 * way_down:
            floor = way_down * _D * 0.5 * flat * flat
        side = max(side, 0.0)
        full = side + floor
        # Above 1 only by the noise of the grid: cutting that off would bias the mean downwards.
        covered = min(_MOST_COVERED, volume[b] / full) if full > 0.0 else 0.0
        share = side / full if full > 0.0 else 1.0
        edge = covered * (
            share * _edge_between(z0, z1, shape, radius, flank, tip) + (1.0 - share) * flat
        )
        r = max(share * rm + (1.0 - share) * flat * 2.0 / 3.0, 0.05 * radius)
        # The edge rubs along its whole length: at the mean radius along it.
        r_edge = rm
        if shape == BALL and z1 > z0:
            top = min(z1, radius)
            turn = np.arccos(1.0 - top / radius) - np.arccos(1.0 - min(z0, top) / radius)
            over = max(z1 - radius, 0.0)
            r_edge = radius * (top - min(z0, top) + over) / (radius * turn + over)
        elif shape == VEE:
            r_edge = 0.5 * (r0 + r1)
        r_edge = max(share * r_edge + (1.0 - share) * 0.5 * flat, 0.05 * radius)
        n_out, n_up = 1.0, 0.0
        if shape == BALL:
            n_out = min(rm / radius, 1.0)
            n_up = max(1.0 - zm / radius, 0.0)
        elif shape == VEE:
            n_out = flank / sqrt(1.0 + flank * flank)
            n_up = 1.0 / sqrt(1.0 + flank * flank)
        n_out *= share
        n_up = share * n_up + (1.0 - share)
        down = 1 if psi < 0.0 else 0
        chip = chip_n_per_mm2[down, b] * volume[b] * feed_per_tooth / (way * r * _D)
        rub = edge_n_per_mm[down, b] * edge
        tangential = chip + rub
        normal = normal_chip * chip + normal_edge * rub
        fx += -sin(angle) * tangential - cos(angle) * n_out * normal
        fy += cos(angle) * tangential - sin(angle) * n_out * normal
        fz += n_up * normal - axial * tangential
        torque += chip * r + rub * r_edge
        edge_mean += edge
    share = flutes * _D / (2.0 * pi)
    out[0], out[1], out[2] = share * fx, share * fy, share * fz
    out[3] = share * torque
    out[4] = share * edge_mean


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


@njit(cache=True, nogil=True, error_model="numpy")
def group_loads(  # type: ignore[no-untyped-def]
    groups,
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
    shape,
    radius,
    flank,
    tip,
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
    """Gather the steps of each group and compute its loads.

    Parameters
    ----------
    groups, group_first, steps, time_s, velocity, acceleration : from ``stepping.make_steps``.
    entry, volume, engagement : from the removal, see ``prove.removal.Taken``.
    axes, curves : (3, AXIS_NUMBERS), (3, k): the machine.
    gathered : (groups, 3, BINS) written: volume [mm³], lowest, highest.
    columns : (groups, COLUMNS) written.
    """
    out = np.empty(5)
    for g in range(groups):
        a, e = group_first[g], group_first[g + 1]
        wood = gathered[g, VOLUME]
        low, high = gathered[g, LOWEST], gathered[g, HIGHEST]
        wood[:] = 0.0
        low[:] = 1e30
        high[:] = -1e30
        taken = way_flat = way_down = way = 0.0
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
                for b in range(BINS):
                    v = engagement[row, VOLUME, b]
                    if v > 0.0:
                        wood[b] += v * cell_area
                        low[b] = min(low[b], engagement[row, LOWEST, b])
                        high[b] = max(high[b], engagement[row, HIGHEST, b])
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
            group_force(
                wood,
                low,
                high,
                way_flat,
                way_down,
                way,
                heading,
                feed,
                shape,
                radius,
                flank,
                tip,
                flutes,
                chip_n_per_mm2,
                edge_n_per_mm,
                normal_chip,
                normal_edge,
                axial,
                out,
            )
            for axis in range(3):
                column[FORCE_X + axis] = out[axis]
            column[POWER] = out[3] * 2.0 * pi * spindle_rev_per_s / 1000.0
            for b in range(BINS):
                if not wood[b] > 0.0:
                    continue
                column[DEPTH] = max(column[DEPTH], high[b])
                psi = -pi + (b + 0.5) * _D - heading
                psi -= 2.0 * pi * np.floor((psi + pi) / (2.0 * pi))
                if way_flat > 0.0 and abs(abs(psi) - 0.5 * pi) < 1.6 * _D:
                    if psi > 0.0:
                        column[LEFT] = max(column[LEFT], high[b])
                    else:
                        column[RIGHT] = max(column[RIGHT], high[b])
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
