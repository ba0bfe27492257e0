"""From a program's moves to how the machine runs them."""

from math import inf

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.progress import Progress, silent
from kerfwright.machine import MachineModel
from kerfwright.program import MoveKind, PathMode, Program
from kerfwright.trajectory.pace import Pace
from kerfwright.trajectory.path import vertices
from kerfwright.trajectory.trajectory import Trajectory

FloatArray = NDArray[np.float64]

ARC_CORNER_MM = 0.01  #: rounding between the chords of one arc, more than their sagitta


class StandsStill(Exception):
    """The program has no move of any length."""


def plan(
    program: Program,
    machine: MachineModel,
    acceleration_share: float = 1.0,
    progress: Progress = silent,
    in_spindle: int | None = None,
) -> Trajectory:
    """How the machine runs the program.

    ``in_spindle``: slot of the cutter that is there at the start; to ask for it takes no time.
    ``acceleration_share`` scales every axis' acceleration: for the spread of the time.
    Raises ``StandsStill`` if nothing moves.
    """
    point, move, inside_arc = vertices(program)
    if len(move) == 0:
        raise StandsStill
    top = np.array([axis.top_speed_mm_per_s for axis in machine.axes])
    limit = np.array([axis.acceleration_mm_per_s2 for axis in machine.axes]) * acceleration_share
    wait, must_stop, after = _waits(program, machine, move, in_spindle)
    corner, stop, jump = _corners(program, machine, move, inside_arc, must_stop)
    feed = _feeds(program, machine, move, point)
    path = Pace.along(point, corner, feed, top, limit[:, None], None, progress)
    speed2, node_s = path.speeds_and_times(jump, stop, wait, progress)
    return Trajectory(
        point_mm=point,
        move=move,
        unit=path.unit,
        length_mm=path.length_mm,
        blend_mm=path.blend_mm,
        feed_mm_per_s=feed,
        top_mm_per_s=top,
        limit_mm_per_s2=limit,
        wait_s=wait,
        node=path.node,
        speed2=speed2,
        node_s=node_s,
        after_s=after,
    )


def _waits(
    program: Program, machine: MachineModel, move: NDArray[np.int32], in_spindle: int | None
) -> tuple[FloatArray, NDArray[np.bool_], float]:
    """Waiting time and whether it stands still at each vertex, and the time after the end."""
    wait = np.zeros(len(move) + 1)
    stop = np.zeros(len(move) + 1, np.bool_)
    after, turning = 0.0, 0.0
    for event in program.events:
        seconds = 0.0
        if event.kind == "dwell":
            seconds = event.value
        elif event.kind == "cutter":
            if event.value != in_spindle:
                seconds = machine.controller.cutter_change_s
            in_spindle = int(event.value)
        elif event.kind == "spindle":
            if event.value != turning and event.value != 0.0 and machine.spindle.follows_program:
                seconds = machine.controller.spindle_start_s
            turning = event.value
        elif event.kind not in ("stop", "optional_stop"):
            continue
        vertex = int(np.searchsorted(move, event.before_move))
        if vertex >= len(move):
            after += seconds
            continue
        wait[vertex] += seconds
        stop[vertex] = stop[vertex] or seconds > 0.0 or event.kind == "stop"
    return wait, stop, after


def _corners(
    program: Program,
    machine: MachineModel,
    move: NDArray[np.int32],
    inside_arc: NDArray[np.bool_],
    must_stop: NDArray[np.bool_],
) -> tuple[FloatArray, NDArray[np.bool_], FloatArray]:
    """Rounding and standing still at each vertex, and the jump of speed that an axis may make."""
    rule = machine.controller.corner_rule
    # The mode that holds at a vertex is that of the move which starts there.
    mode = np.full(len(move) + 1, PathMode.CONTINUOUS, np.uint8)
    mode[:-1] = program.path_mode[move]
    tolerance = machine.controller.corner_tolerance_mm if rule == "path tolerance" else 0.0
    corner = np.where(mode == PathMode.CONTINUOUS, tolerance, 0.0)
    corner[inside_arc] = ARC_CORNER_MM
    stop = must_stop | (mode == PathMode.EXACT_STOP)
    if rule == "exact stop":
        stop = np.ones_like(stop)
    stop &= ~inside_arc | must_stop
    corner[stop] = 0.0
    jump = np.zeros(3)
    if rule == "axis speed step":
        jump = np.array(machine.controller.corner_speed_step_mm_per_s)
    return corner, stop, jump


def _feeds(
    program: Program, machine: MachineModel, move: NDArray[np.int32], point_mm: FloatArray
) -> FloatArray:
    feed = program.feed_mm_per_s[move].copy()
    rapid = np.flatnonzero(program.kind[move] == MoveKind.RAPID)
    way = np.abs(point_mm[rapid + 1] - point_mm[rapid])
    fastest = np.array([axis.rapid_mm_per_s for axis in machine.axes])
    with np.errstate(divide="ignore"):
        by_axis = (fastest / way).min(axis=1, initial=inf)
    feed[rapid] = by_axis * np.linalg.norm(way, axis=1)
    return feed
