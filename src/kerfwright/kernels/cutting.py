"""Force, power and pull left in the motors for each group of steps.

What the steps of a group took is gathered into one engagement; ``edge_force`` turns it into a mean
force, ``turn`` says what is felt within a turn.
"""

from math import atan2, floor, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel
from kerfwright.kernels.edge_force import (
    ARC_COLUMNS,
    COVER,
    chip_force,
    covered_arcs,
    rubbing_force,
)
from kerfwright.kernels.engagement import (
    BINS,
    FAR,
    FLOOR,
    HIGHEST,
    LANE_PAD,
    LANE_ROWS,
    LOWEST,
    VOLUME,
)
from kerfwright.kernels.profile import RADIUS
from kerfwright.kernels.runs import STAMP_MM
from kerfwright.kernels.spreading import WORK as SPREAD_WORK
from kerfwright.kernels.spreading import spread_lanes
from kerfwright.kernels.turn import ARC as TURN_ARC
from kerfwright.kernels.turn import CHIP, PEAK, TOLD, UP, within_turn
from kerfwright.kernels.turn import ROOM as TURN_ROOM

FloatArray = NDArray[np.float64]

_D = 2.0 * pi / BINS

# Columns of the groups.
TIME, DURATION, X, Y, Z = 0, 1, 2, 3, 4
FORCE_X, FORCE_Y, FORCE_Z, POWER = 5, 6, 7, 8
PULL_X, PULL_Y, PULL_Z = 9, 10, 11
FEED_PER_TOOTH, DEPTH, TAKEN, LEFT, RIGHT, WAY = 12, 13, 14, 15, 16, 17
#: Speed once the spindle has slowed [rev/s]; share of the wood cut up the travel; covered arc
#: [rad]; thickest chip and width of the cut [mm]; largest force in the plane and along each axis
#: within a turn [N]; torque that each motor is asked for where it has the least left [N mm].
SPEED, UP_SHARE, COVERED, THICKEST, WIDTH = 18, 19, 20, 21, 22
LARGEST, LARGEST_X, LARGEST_Y, LARGEST_Z = 23, 24, 25, 26
ASKED_X, ASKED_Y, ASKED_Z = 27, 28, 29
COLUMNS = 30

# What ``turning_force`` tells: mean force x, y, z [N]; power [W]; speed [rev/s] and feed per tooth
# [mm] once the spindle has slowed; then what ``turn.within_turn`` tells.
F_X, F_Y, F_Z, F_POWER, F_SPEED, F_FEED = range(6)
F_TURN = 6
FORCE_NUMBERS = F_TURN + TOLD

#: Stands for a motor that can no longer pull at all. [N mm]
LEAST_PULL_NMM = 1.0

# Numbers of one axis, for ``demand_torque``.
A_LEAD, A_MOTORS, A_MASS, A_FRICTION, A_RAISING, A_LOWERING, A_DRAG, A_INERTIA, A_WEIGHT = range(9)
A_TOP = 9  #: motor speed at the end of the curve [rev/s]
AXIS_NUMBERS = 10


@inner_kernel(**BORROWING)
def slowed_share(chip_w, rub_w, spindle_w, droop):  # type: ignore[no-untyped-def]
    """Share of its speed that a spindle keeps under a cut.

    ``droop`` is lost at the full power ``spindle_w`` and in proportion below; no more beyond. A
    slower cutter takes thicker chips, so the chips' power stays; the rubbing's falls with the
    speed: s = 1 - d (P_chip + s P_rub) / P.
    """
    if not spindle_w > 0.0 or not droop > 0.0:
        return 1.0
    kept = (1.0 - droop * chip_w / spindle_w) / (1.0 + droop * rub_w / spindle_w)
    return max(kept, 1.0 - droop)


@inner_kernel(**INLINED)
def turning_force(  # type: ignore[no-untyped-def]
    gathered, way_flat, way_down, way, heading, feed_per_tooth, form, flutes, chip_n_per_mm2,
    edge_n_per_mm, normal_chip, normal_edge, axial, runout, lag_rad_per_mm, rev_per_s, spindle_w,
    droop, arcs, turn, rubs, parts, told, out,
):  # fmt: skip
    """Force of one gathered engagement for a cutter that runs out and a spindle that slows.

    Parameters
    ----------
    gathered .. axial : see ``edge_force``; ``feed_per_tooth`` at the full speed.
    runout, lag_rad_per_mm : see ``turn.within_turn``.
    rev_per_s, spindle_w, droop : speed without a load; power that the spindle has there [W]; share
        of the speed lost at that power.
    arcs (BINS, ARC_COLUMNS), turn (``turn.ROOM``), rubs (BINS,), parts (2, 4), told (TOLD,) : work.
    out : (FORCE_NUMBERS,) written.

    Notes
    -----
    A flute that runout keeps out of the wood does not rub there, so the mean force is less than
    that of a true cutter; the chips' part is the same.
    """
    covered_arcs(gathered, way_flat, way_down, heading, form, arcs)
    watts = 2.0 * pi * rev_per_s / 1000.0
    chips, rub = parts[0], parts[1]
    chip_force(arcs, way, heading, feed_per_tooth, form, flutes, chip_n_per_mm2, normal_chip,
               axial, chips)  # fmt: skip
    rubbing_force(arcs, heading, form, flutes, edge_n_per_mm, normal_edge, axial, rub)
    kept = slowed_share(chips[3] * watts, rub[3] * watts, spindle_w, droop)
    within_turn(
        gathered, arcs, way_flat, way_down, way, heading, feed_per_tooth / kept, form, flutes,
        chip_n_per_mm2, edge_n_per_mm, normal_chip, normal_edge, axial, runout, lag_rad_per_mm,
        turn, rubs, told,
    )  # fmt: skip
    alike = True
    for b in range(BINS):
        alike = alike and rubs[b] == 1.0
        arcs[b, COVER] *= rubs[b]
    if not alike:
        rubbing_force(arcs, heading, form, flutes, edge_n_per_mm, normal_edge, axial, rub)
        kept = slowed_share(chips[3] * watts, rub[3] * watts, spindle_w, droop)
    for k in range(3):
        out[F_X + k] = rub[k] + chips[k] / kept
    out[F_POWER] = (kept * rub[3] + chips[3]) * watts
    out[F_SPEED] = rev_per_s * kept
    out[F_FEED] = feed_per_tooth / kept
    for k in range(TOLD):
        out[F_TURN + k] = told[k]


@inner_kernel(**INLINED)
def demand_torque(axis, velocity, acceleration, cut_n):  # type: ignore[no-untyped-def]
    """Torque that one motor of an axis must give, always as a number above 0. [N mm]

    ``axis`` (AXIS_NUMBERS,); ``cut_n``: force of the wood on the cutter along the axis. The
    carriage's inertia goes through the nut, the turning parts' does not. At rest the acceleration
    says which way it will go.
    """
    going = velocity if velocity != 0.0 else acceleration
    sign = 1.0 if going > 0.0 else (-1.0 if going < 0.0 else 0.0)
    thrust = axis[A_MASS] * acceleration / 1000.0 + axis[A_WEIGHT] - cut_n
    if sign == 0.0:
        # Standing: what friction leaves of the thrust pushes the screw round, if it can be, and
        # its drag takes the first of that.
        spare = max(0.0, abs(thrust) - axis[A_FRICTION])
        held = max(0.0, -axis[A_LOWERING]) * spare - axis[A_DRAG]
        return max(0.0, held) / axis[A_MOTORS]
    along = thrust * sign + axis[A_FRICTION]
    torque = along * axis[A_RAISING] if along > 0.0 else -along * axis[A_LOWERING]
    turning = axis[A_INERTIA] * acceleration * sign * 2.0 * pi / axis[A_LEAD] / 1000.0
    return abs((torque + axis[A_DRAG]) / axis[A_MOTORS] + turning)


def demand_torques(
    axis: FloatArray, velocity: FloatArray, acceleration: FloatArray, cut_n: FloatArray
) -> FloatArray:
    """``demand_torque`` of many machines and forces, for all steps of a group. (draws, steps)

    Parameters
    ----------
    axis : array (draws, AXIS_NUMBERS)
        Or (1, AXIS_NUMBERS), the same machine for all.
    velocity, acceleration : array (steps,)
    cut_n : array (draws,)
    """
    one = axis.T[:, :, None]
    sign = np.sign(np.where(velocity != 0.0, velocity, acceleration))
    thrust = one[A_MASS] * acceleration / 1000.0 + one[A_WEIGHT] - cut_n[:, None]
    spare = np.maximum(0.0, np.abs(thrust) - one[A_FRICTION])
    held = np.maximum(0.0, -one[A_LOWERING]) * spare - one[A_DRAG]
    standing = np.maximum(0.0, held) / one[A_MOTORS]
    along = thrust * sign + one[A_FRICTION]
    torque = np.where(along > 0.0, along * one[A_RAISING], -along * one[A_LOWERING])
    turning = one[A_INERTIA] * acceleration * sign * 2.0 * pi / one[A_LEAD] / 1000.0
    moving = np.abs((torque + one[A_DRAG]) / one[A_MOTORS] + turning)
    return np.asarray(np.where(sign == 0.0, standing, moving))


@inner_kernel(inline="always", **BORROWING)
def _pull_out(curve, top, rev_per_s):  # type: ignore[no-untyped-def]
    """Torque from a curve sampled evenly from 0 to ``top``; its last value beyond, never nought."""
    at = rev_per_s / top * (curve.shape[0] - 1)
    k = min(int(at), curve.shape[0] - 2)
    part = min(at - k, 1.0)
    return max(curve[k] + part * (curve[k + 1] - curve[k]), LEAST_PULL_NMM)


@kernel(**NUMPY)
def group_loads(  # type: ignore[no-untyped-def]
    first,
    end,
    group_first,
    steps,
    time_s,
    velocity,
    acceleration,
    spindle_rev_per_s,
    group_run,
    in_lanes,
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
    runout,
    lag_rad_per_mm,
    spindle_w,
    droop,
):
    """Gather the steps of the groups from ``first`` to before ``end`` and compute their loads.

    Parameters
    ----------
    group_first, steps, time_s, velocity, acceleration : from ``stepping.make_steps``.
    group_run .. engagement : from the removal, see ``prove.removal.Taken``.
    axes, curves : (3, AXIS_NUMBERS), (3, k): the machine.
    lanes, form, flutes : of the cutter, see ``engagement`` and ``profile``.
    chip_n_per_mm2 .. axial : of the wood, see ``edge_force.chip_force`` and ``rubbing_force``.
    gathered : (groups, ROWS, BINS) written: volumes [mm³], heights above the tip [mm].
    columns : (groups, COLUMNS) written.
    runout .. droop : see ``turning_force``.
    """
    out, told = np.empty(FORCE_NUMBERS), np.empty(TOLD)
    arcs, turn = np.empty((BINS, ARC_COLUMNS)), np.empty(TURN_ROOM)
    rubs, parts, spread = np.empty(BINS), np.empty((2, 4)), np.empty(SPREAD_WORK)
    lane = np.empty((LANE_ROWS, lanes + 2 * LANE_PAD))
    _each_group(
        first, end, group_first, steps, time_s, velocity, acceleration, spindle_rev_per_s,
        group_run, in_lanes, entry, volume, engagement, cell_area, lanes, form, flutes,
        chip_n_per_mm2, edge_n_per_mm, normal_chip, normal_edge, axial, axes, curves,
        gathered, columns, runout, lag_rad_per_mm, spindle_w, droop, arcs, turn, rubs, parts, told,
        out, lane, spread,
    )  # fmt: skip


@inner_kernel(**INLINED)
def _each_group(  # type: ignore[no-untyped-def]
    first, end, group_first, steps, time_s, velocity, acceleration, spindle_rev_per_s, group_run,
    in_lanes, entry, volume, engagement, cell_area, lanes, form, flutes, chip_n_per_mm2,
    edge_n_per_mm, normal_chip, normal_edge, axial, axes, curves, gathered, columns, runout,
    lag_rad_per_mm, spindle_w, droop, arcs, turn, rubs, parts, told, out, lane, spread,
):  # fmt: skip
    for g in range(first, end):
        a, e = group_first[g], group_first[g + 1]
        column, wood = columns[g], gathered[g]
        for k in range(COLUMNS):
            column[k] = 0.0
        for k in range(BINS):
            wood[VOLUME, k], wood[LOWEST, k], wood[HIGHEST, k] = 0.0, FAR, -FAR
            wood[FLOOR, k] = 0.0
        way_flat = way_down = 0.0
        for i in range(a, e):
            dx, dy = steps[i, 3] - steps[i, 0], steps[i, 4] - steps[i, 1]
            dz = steps[i, 5] - steps[i, 2]
            flat = sqrt(dx * dx + dy * dy)
            way_flat += flat
            way_down -= dz
            column[WAY] += sqrt(flat * flat + dz * dz)
            column[DURATION] += time_s[i, 1] - time_s[i, 0]
        column[DURATION] += 1e-9
        middle = (a + e - 1) // 2
        for axis in range(3):
            column[X + axis] = 0.5 * (steps[middle, axis] + steps[middle, 3 + axis])
        column[TIME], column[SPEED] = time_s[a, 0], spindle_rev_per_s
        gather(
            group_run[g], group_run[g + 1], in_lanes, entry, volume, engagement, cell_area, lanes,
            lane, wood, column,
        )  # fmt: skip
        if column[TAKEN] > 0.0:
            heading = atan2(steps[e - 1, 4] - steps[a, 1], steps[e - 1, 3] - steps[a, 0])
            feed = column[WAY] / column[DURATION] / (spindle_rev_per_s * flutes)
            if way_flat > STAMP_MM:
                spread_lanes(
                    lanes, lane[:, LANE_PAD:], way_flat, heading, -way_down / way_flat, form,
                    spread, wood,
                )  # fmt: skip
            turning_force(
                wood, way_flat, way_down, column[WAY], heading, feed, form, flutes, chip_n_per_mm2,
                edge_n_per_mm, normal_chip, normal_edge, axial, runout, lag_rad_per_mm,
                spindle_rev_per_s, spindle_w, droop, arcs, turn, rubs, parts, told, out,
            )  # fmt: skip
            _tell(wood, out, heading, way_flat, column)
            if column[DEPTH] > 0.0 and way_flat > STAMP_MM:
                width = column[TAKEN] / (column[WAY] * column[DEPTH])
                column[WIDTH] = min(width, 2.0 * form[RADIUS])
        group_pull(a, e, velocity, acceleration, axes, curves, column)


@inner_kernel(**INLINED)
def gather(  # type: ignore[no-untyped-def]
    first, end, in_lanes, entry, volume, engagement, cell_area, lanes, lane, wood, column
):
    """Add up what some runs took: in ``lane``, or in ``wood`` where they go straight down or up.

    Told in ``column``: the volume, and how tall the wood of those without lanes was.
    """
    places = lanes + 2 * LANE_PAD
    for k in range(places):
        lane[VOLUME, k], lane[LOWEST, k], lane[HIGHEST, k] = 0.0, FAR, -FAR
    taken = 0.0
    for i in range(first, end):
        laned = in_lanes[i]
        for row in range(entry[i], entry[i + 1]):
            if not volume[row] > 0.0:
                continue
            taken += volume[row]
            if not laned:
                column[DEPTH] = max(column[DEPTH], engagement[row, HIGHEST, BINS])
            _add(places if laned else BINS, engagement[row], cell_area, lane if laned else wood)
    for k in range(BINS):  # on its outline further out than its top, no wood stands
        wood[HIGHEST, k] = min(wood[HIGHEST, k], column[DEPTH])
    for side in range(2):  # wood at the rim belongs to the outermost lanes
        to = LANE_PAD if side == 0 else places - 1 - LANE_PAD
        for off in range(1, LANE_PAD + 1):
            k = to - off if side == 0 else to + off
            lane[VOLUME, to] += lane[VOLUME, k]
            lane[LOWEST, to] = min(lane[LOWEST, to], lane[LOWEST, k])
            lane[HIGHEST, to] = max(lane[HIGHEST, to], lane[HIGHEST, k])
    column[TAKEN] = taken * cell_area


@inner_kernel(ready=True, **INLINED)
def _add(n, engagement, cell_area, out):  # type: ignore[no-untyped-def]
    volume, low, high = engagement[VOLUME], engagement[LOWEST], engagement[HIGHEST]
    to_volume, to_low, to_high = out[VOLUME], out[LOWEST], out[HIGHEST]
    for k in range(n):
        a, b = low[k], high[k]
        to_volume[k] += volume[k] * cell_area
        to_low[k] = a if a < to_low[k] else to_low[k]
        to_high[k] = b if b > to_high[k] else to_high[k]


@inner_kernel(**INLINED)
def _tell(wood, out, heading, way_flat, column):  # type: ignore[no-untyped-def]
    """Force and what goes with it into a group's column, and how deep it cut, and beside it."""
    for axis in range(3):
        column[FORCE_X + axis] = out[F_X + axis]
        column[LARGEST_X + axis] = out[F_TURN + PEAK + 1 + axis]
    column[POWER], column[SPEED] = out[F_POWER], out[F_SPEED]
    column[FEED_PER_TOOTH] = out[F_FEED]
    column[LARGEST], column[UP_SHARE] = out[F_TURN + PEAK], out[F_TURN + UP]
    column[COVERED], column[THICKEST] = out[F_TURN + TURN_ARC], out[F_TURN + CHIP]
    for b in range(BINS):
        if not wood[VOLUME, b] + wood[FLOOR, b] > 0.0:
            continue
        high = max(wood[HIGHEST, b], 0.0)
        column[DEPTH] = max(column[DEPTH], high)
        psi = -pi + (b + 0.5) * _D - heading
        psi -= 2.0 * pi * floor((psi + pi) / (2.0 * pi))
        if way_flat > 0.0 and abs(abs(psi) - 0.5 * pi) < 1.6 * _D:
            side = LEFT if psi > 0.0 else RIGHT
            column[side] = max(column[side], high)


@inner_kernel(**BORROWING)
def group_pull(first, end, velocity, acceleration, axes, curves, column):  # type: ignore[no-untyped-def]
    """Pull left and torque asked of each motor over some steps, by the force in the column."""
    for axis in range(3):
        least = 1.0  # not below -1: a motor that is asked for twice its pull has stalled
        numbers = axes[axis]
        column[ASKED_X + axis] = 0.0
        for i in range(first, end):
            torque = demand_torque(
                numbers, velocity[i, axis], acceleration[i, axis], column[FORCE_X + axis]
            )
            turning = abs(velocity[i, axis]) / numbers[A_LEAD]
            left = 1.0 - torque / _pull_out(curves[axis], numbers[A_TOP], turning)
            if left < least:
                least = left
                column[ASKED_X + axis] = torque
        column[PULL_X + axis] = max(least, -1.0)


@kernel(**BORROWING)
def pulls_again(which, group_first, velocity, acceleration, axes, curves, columns):  # type: ignore[no-untyped-def]
    """``group_pull`` of some groups whose forces have changed. ``which`` (n,)."""
    for k in range(len(which)):
        g = which[k]
        group_pull(
            group_first[g], group_first[g + 1], velocity, acceleration, axes, curves, columns[g]
        )
