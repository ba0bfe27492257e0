"""From a program's moves to how the machine runs them."""

from math import inf

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.progress import Progress, silent
from kerfwright.kernels.motion import look_back, prepare, run_forward
from kerfwright.machine import MachineModel
from kerfwright.program import MoveKind, PathMode, Program
from kerfwright.trajectory.path import vertices
from kerfwright.trajectory.trajectory import Trajectory

FloatArray = NDArray[np.float64]

ARC_CORNER_MM = 0.01  #: rounding between the chords of one arc, more than their sagitta
_RANGE = 500_000  #: segments planned in one kernel call, well under 0.2 s


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
    n = len(move)
    top = np.array([axis.top_speed_mm_per_s for axis in machine.axes])
    limit = np.array([axis.acceleration_mm_per_s2 for axis in machine.axes]) * acceleration_share
    wait, must_stop, after = _waits(program, machine, move, in_spindle)
    corner, stop, jump = _corners(program, machine, move, inside_arc, must_stop)
    unit, length, blend = np.empty((n, 3)), np.empty(n), np.empty(n + 1)
    for a in range(0, n, _RANGE):
        progress("planning the motion", 0.3 * a / n)
        prepare(point, corner, a, min(n, a + _RANGE), unit, length, blend)
    feed = _feeds(program, machine, move, unit)
    most, speed2, node_s = np.empty(2 * n), np.empty(2 * n), np.empty(2 * n)
    for a in reversed(range(0, n, _RANGE)):
        progress("planning the motion", 0.6 - 0.3 * a / n)
        b = min(n, a + _RANGE)
        look_back(a, b, feed, top, limit, jump, stop, unit, length, blend, most)
    for a in range(0, n, _RANGE):
        progress("planning the motion", 0.6 + 0.4 * a / n)
        b = min(n, a + _RANGE)
        run_forward(
            a, b, feed, top, limit, wait, unit, length, blend, most, speed2, node_s
        )  # fmt: skip
    return Trajectory(
        point_mm=point,
        move=move,
        unit=unit,
        length_mm=length,
        blend_mm=blend,
        feed_mm_per_s=feed,
        top_mm_per_s=top,
        limit_mm_per_s2=limit,
        wait_s=wait,
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
    program: Program, machine: MachineModel, move: NDArray[np.int32], unit: FloatArray
) -> FloatArray:
    feed = program.feed_mm_per_s[move].copy()
    rapid = program.kind[move] == MoveKind.RAPID
    fastest = np.array([axis.rapid_mm_per_s for axis in machine.axes])
    with np.errstate(divide="ignore"):
        feed[rapid] = (fastest / np.abs(unit[rapid])).min(axis=1, initial=inf)
    return feed
