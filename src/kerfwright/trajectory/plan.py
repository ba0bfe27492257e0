"""From a program's moves to how the machine runs them."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.progress import Progress, silent
from kerfwright.machine import MachineModel
from kerfwright.program import MoveKind, PathMode, Program
from kerfwright.trajectory.able import motor_limits
from kerfwright.trajectory.pace import Pace
from kerfwright.trajectory.path import Path, path_of
from kerfwright.trajectory.rounding import round_off
from kerfwright.trajectory.tolerance import path_tolerances_mm
from kerfwright.trajectory.trajectory import Trajectory
from kerfwright.trajectory.waits import waits

FloatArray = NDArray[np.float64]

ARC_CORNER_MM = 0.01  #: rounding between the chords of one arc, more than their sagitta


class StandsStill(Exception):
    """The program has no move of any length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Road:
    """A program's path with all that holds at its vertices, before any speed is known."""

    point_mm: FloatArray  #: (n + 1, 3)
    move: NDArray[np.int32]  #: (n,)
    rapid: NDArray[np.bool_]  #: (n,)
    feed_mm_per_s: FloatArray  #: (n,) programmed; of no meaning along rapids
    corner_mm: FloatArray  #: (n + 1,)
    stop: NDArray[np.bool_]  #: (n + 1,)
    jump_mm_per_s: FloatArray  #: (3,)
    wait_s: FloatArray  #: (n + 1,)
    after_s: float
    lines_ahead: float  #: that the controller sees, the one it runs included
    lines_per_s: float  #: that it can take

    @classmethod
    def of(
        cls, program: Program, machine: MachineModel, in_spindle: int | None, progress: Progress
    ) -> "_Road":
        path = path_of(program, progress)
        if len(path.move) == 0:
            raise StandsStill
        wait, must_stop, after = _waits(program, machine, path.move, in_spindle)
        corner, stop, jump = _corners(program, machine, path, must_stop)
        return cls(
            point_mm=path.point_mm,
            move=path.move,
            rapid=(program.kind == MoveKind.RAPID)[path.move],
            feed_mm_per_s=path.feed_mm_per_s,
            corner_mm=corner,
            stop=stop,
            jump_mm_per_s=jump,
            wait_s=wait,
            after_s=after,
            lines_ahead=machine.controller.lines_ahead,
            lines_per_s=machine.controller.lines_per_s,
        )

    def feeds(self, rapid_mm_per_s: FloatArray) -> FloatArray:
        """Speed that each segment is to have when its axes have these rapid speeds. (n,)"""
        feed = self.feed_mm_per_s  # laid for this road alone; only rapids are written
        rapid = np.flatnonzero(self.rapid)
        way = np.abs(self.point_mm[rapid + 1] - self.point_mm[rapid])
        with np.errstate(divide="ignore"):
            by_axis = (rapid_mm_per_s / way).min(axis=1, initial=inf)
        feed[rapid] = by_axis * np.linalg.norm(way, axis=1)
        if self.lines_per_s < inf:
            length = np.linalg.norm(np.diff(self.point_mm, axis=0), axis=1)
            feed = np.minimum(feed, np.bincount(self.move, length)[self.move] * self.lines_per_s)
        return feed

    def driven(self, pace: Pace, progress: Progress) -> tuple[FloatArray, FloatArray]:
        """Speed² and time at the nodes of a pace along this road."""
        seen2 = None if self.lines_ahead == inf else self._seen2(pace)
        return pace.speeds_and_times(self.jump_mm_per_s, self.stop, self.wait_s, seen2, progress)

    def _seen2(self, pace: Pace) -> FloatArray:
        """Speed² from which it can stop before the end of the last line seen. (n + 1,)"""
        with np.errstate(divide="ignore"):
            along = (pace.limit_mm_per_s2[:, 0] / np.abs(pace.unit)).min(axis=1)
        stops = np.concatenate([[0.0], np.cumsum(2.0 * along * pace.length_mm)])
        begins = np.flatnonzero(np.diff(self.move, prepend=-1))  # segment with which a line begins
        line = np.cumsum(np.diff(self.move, prepend=self.move[0]) != 0)
        ends = np.append(begins[1:], len(self.move))
        last = np.minimum(line + round(self.lines_ahead) - 1, len(begins) - 1)
        return np.append(stops[ends[last]] - stops[:-1], 0.0)


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
    road = _Road.of(program, machine, in_spindle, progress)
    top = np.array([axis.top_speed_mm_per_s for axis in machine.axes])
    limit = np.array([axis.acceleration_mm_per_s2 for axis in machine.axes]) * acceleration_share
    jerk = np.array([axis.jerk_mm_per_s3 for axis in machine.axes])
    feed = road.feeds(np.array([axis.rapid_mm_per_s for axis in machine.axes]))
    pace = Pace.along(road.point_mm, road.corner_mm, feed, top, limit[:, None], None, progress)
    speed2, node_s = road.driven(pace, progress)
    if np.isfinite(jerk).any():
        speed2, node_s = round_off(pace, speed2, node_s, road.wait_s, jerk, progress)
    return Trajectory(
        point_mm=road.point_mm,
        move=road.move,
        length_mm=pace.length_mm,
        blend_mm=pace.blend_mm,
        feed_mm_per_s=feed,
        top_mm_per_s=top,
        limit_mm_per_s2=limit,
        wait_s=road.wait_s,
        node=pace.node,
        speed2=speed2,
        node_s=node_s,
        after_s=road.after_s,
    )


def fastest_s(
    program: Program,
    machine: MachineModel,
    kept: float,
    progress: Progress = silent,
    in_spindle: int | None = None,
) -> float:
    """Time of the program if the controller asked of the motors all that they can follow. [s]

    ``kept``: share of their pull-out torque left unused. Programmed feeds and the machine's way
    with corners stay as they are; nothing is cut. Raises ``StandsStill`` if nothing moves.
    """
    road = _Road.of(program, machine, in_spindle, progress)
    top, limit, band = motor_limits(machine, kept)
    pace = Pace.along(road.point_mm, road.corner_mm, road.feeds(top), top, limit, band, progress)
    _, node_s = road.driven(pace, progress)
    return float(node_s[-1]) + road.after_s


def _waits(
    program: Program, machine: MachineModel, move: NDArray[np.int32], in_spindle: int | None
) -> tuple[FloatArray, NDArray[np.bool_], float]:
    """Waiting time and whether it stands still at each vertex, and the time after the end."""
    wait, after = np.zeros(len(move) + 1), 0.0
    for one in waits(program, machine, in_spindle):
        vertex = np.searchsorted(move, one.before_move.astype(np.int32))
        late = vertex >= len(move)
        np.add.at(wait, vertex[~late], one.seconds[~late])
        after += float(one.seconds[late].sum())
    stop = wait > 0.0
    stops = [event.before_move for event in program.events if event.kind == "stop"]
    stop[np.searchsorted(move, np.array(stops, np.int32))] = True
    return wait, stop, after


def _corners(
    program: Program, machine: MachineModel, path: Path, must_stop: NDArray[np.bool_]
) -> tuple[FloatArray, NDArray[np.bool_], FloatArray]:
    """Rounding and standing still at each vertex, and the jump of speed that an axis may make.

    The mode and the tolerance that hold at a vertex are those of the move which starts there.
    """
    rule, inside = machine.controller.corner_rule, path.inside_arc
    corner, jump = np.zeros(len(inside)), np.zeros(3)
    if rule == "path tolerance":
        tolerance = path_tolerances_mm(program, machine)
        corner[:-1] = tolerance[path.move] if tolerance.strides[0] else tolerance[0]
        corner[:-1][path.mode != PathMode.CONTINUOUS] = 0.0
    elif rule == "axis speed step":
        jump = np.array(machine.controller.corner_speed_step_mm_per_s)
    corner[inside] = ARC_CORNER_MM
    stop = np.full(len(inside), rule == "exact stop")
    stop[:-1] |= path.mode == PathMode.EXACT_STOP
    stop &= ~inside
    stop |= must_stop
    corner[stop] = 0.0
    return corner, stop, jump
