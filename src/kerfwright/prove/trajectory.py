"""From a program's moves to how the machine runs them: exact pieces in path and time."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import KerfwrightError
from kerfwright.basics.progress import Progress, silent
from kerfwright.kernels.motion import look_back, prepare, run_forward
from kerfwright.machine import MachineModel
from kerfwright.program import MoveKind, PathMode, Program

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CHORD_MM = 0.002  #: how far the chords of an arc stay inside it
ARC_CORNER_MM = 0.01  #: rounding between the chords of one arc, more than their sagitta
MOST_PIECES = 30_000_000
_RANGE = 500_000  #: segments planned in one kernel call, well under 0.2 s
_SAME_MM = 1e-9


class StandsStill(Exception):
    """The program has no move of any length."""


class TooManyPieces(KerfwrightError):
    """More pieces than memory can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trajectory:
    """Straight segments with parabolic corners, and the speed and time at every piece's end.

    Positions in the program's frame. Node 0 is the start, nodes 2 i - 1 and 2 i the begin and end
    of the corner at vertex i, the last node the end.
    """

    point_mm: FloatArray  #: (n + 1, 3) vertices
    move: NDArray[np.int32]  #: (n,) the program's move of each segment
    unit: FloatArray  #: (n, 3)
    length_mm: FloatArray  #: (n,)
    blend_mm: FloatArray  #: (n + 1,) where the corner at each vertex begins and ends
    feed_mm_per_s: FloatArray  #: (n,) programmed speed; the rapid speed along rapids
    top_mm_per_s: FloatArray  #: (3,)
    limit_mm_per_s2: FloatArray  #: (3,)
    wait_s: FloatArray  #: (n + 1,) time stood still at each vertex
    speed2: FloatArray  #: (2 n,) [mm²/s²]
    node_s: FloatArray  #: (2 n,)
    after_s: float  #: waits after the last move

    @property
    def time_s(self) -> float:
        """From the first move to the end of the program."""
        return float(self.node_s[-1]) + self.after_s

    @property
    def move_start_s(self) -> FloatArray:
        """When each segment begins, at the middle of its corner. (n,) [s]"""
        begin = np.empty(len(self.move))
        begin[0] = self.node_s[0]
        begin[1:] = 0.5 * (self.node_s[1:-1:2] + self.wait_s[1:-1] + self.node_s[2::2])
        return begin

    @property
    def cap2(self) -> FloatArray:
        """Speed² that each segment may not pass under feed and axis limits. (n,) [mm²/s²]"""
        with np.errstate(divide="ignore"):
            by_axis = (self.top_mm_per_s / np.abs(self.unit)).min(axis=1)
        return np.asarray(np.minimum(self.feed_mm_per_s, by_axis) ** 2)

    def at_time(self, time_s: float) -> tuple[FloatArray, FloatArray]:
        """Position [mm] and velocity [mm/s], each (3,), at a time since the start."""
        t = float(np.clip(time_s, 0.0, self.node_s[-1]))
        after = int(np.searchsorted(self.node_s, t, side="right"))
        node = min(max(after - 1, 0), len(self.node_s) - 2)
        return self._on_line(node // 2, t) if node % 2 == 0 else self._on_corner(node // 2 + 1, t)

    def at_length(self, way_mm: float) -> FloatArray:
        """Position (3,) at a length along the segments, corners not rounded. [mm]"""
        ends = np.cumsum(self.length_mm)
        i = min(int(np.searchsorted(ends, way_mm)), len(ends) - 1)
        rest = float(np.clip(way_mm - (ends[i] - self.length_mm[i]), 0.0, self.length_mm[i]))
        return np.asarray(self.point_mm[i] + rest * self.unit[i])

    def _on_line(self, i: int, t: float) -> tuple[FloatArray, FloatArray]:
        with np.errstate(divide="ignore"):
            at = float((self.limit_mm_per_s2 / np.abs(self.unit[i])).min())
        straight = self.length_mm[i] - self.blend_mm[i] - self.blend_mm[i + 1]
        v0, v1 = np.sqrt(self.speed2[2 * i : 2 * i + 2])
        since, total = t - self.node_s[2 * i], self.node_s[2 * i + 1] - self.node_s[2 * i]
        peak2 = min(self.cap2[i], 0.5 * (v0 * v0 + v1 * v1) + at * straight)
        peak = float(np.sqrt(peak2))
        up, down = (peak - v0) / at, (peak - v1) / at
        if since <= up:
            way, v = v0 * since + 0.5 * at * since**2, v0 + at * since
        elif since >= total - down:
            rest = total - since
            way, v = straight - v1 * rest - 0.5 * at * rest**2, v1 + at * rest
        else:
            way, v = v0 * up + 0.5 * at * up**2 + peak * (since - up), peak
        where = self.point_mm[i] + (self.blend_mm[i] + way) * self.unit[i]
        return where, v * self.unit[i]

    def _on_corner(self, i: int, t: float) -> tuple[FloatArray, FloatArray]:
        p, q, d = self.unit[i - 1], self.unit[i], self.blend_mm[i]
        v0, v1 = np.sqrt(self.speed2[2 * i - 1 : 2 * i + 1])
        moving = self.node_s[2 * i] - self.node_s[2 * i - 1] - self.wait_s[i]
        since = min(t - self.node_s[2 * i - 1], moving)
        if d <= 0.0 or moving <= 0.0:
            return self.point_mm[i].copy(), np.zeros(3)
        u = (v1 - v0) / moving
        s = v0 * since + 0.5 * u * since**2
        where = self.point_mm[i] - d * p + s * p + s * s / (4 * d) * (q - p)
        return where, (v0 + u * since) * (p + s / (2 * d) * (q - p))


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
    point, move, inside_arc = _vertices(program)
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


def _vertices(program: Program) -> tuple[FloatArray, NDArray[np.int32], NDArray[np.bool_]]:
    """Vertices, the move of each segment, and whether a vertex lies inside an arc."""
    arcs = program.arcs
    start = program.from_mm
    chords = np.ones(program.moves, np.int64)
    radius = np.zeros(len(arcs.move))
    if len(arcs.move):
        out = start[arcs.move] - arcs.centre_mm
        out[np.arange(len(out)), arcs.normal] = 0.0
        radius = np.linalg.norm(out, axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            turn = 2.0 * np.arccos(np.clip(1.0 - CHORD_MM / radius, 0.0, 1.0))
        turn = np.clip(np.nan_to_num(turn, nan=1.0), 1e-4, 0.5)
        chords[arcs.move] = np.maximum(1, np.ceil(np.abs(arcs.sweep_rad) / turn))
    if chords.sum() > MOST_PIECES:
        raise TooManyPieces(
            f"{program.file}: its arcs and lines make {chords.sum() / 1e6:.0f} million straight"
            f" pieces, and at most {MOST_PIECES / 1e6:.0f} million are proved at once\n"
            "  remedy: look for a slip in an arc, or prove the program in parts"
        )
    first = np.concatenate([[0], np.cumsum(chords)])
    move = np.repeat(np.arange(program.moves), chords)
    vertex = program.end_mm[move].copy()
    inside = np.zeros(len(move), np.bool_)
    if len(arcs.move):
        _lay_chords(program, start, chords, first, vertex, inside)
    return _without_doubles(np.vstack([program.start_mm[None], vertex]), move, inside)


def _without_doubles(
    point_mm: FloatArray, move: IntArray, inside: NDArray[np.bool_]
) -> tuple[FloatArray, NDArray[np.int32], NDArray[np.bool_]]:
    """The vertices without those that lie on the one before."""
    while True:
        keep = np.linalg.norm(np.diff(point_mm, axis=0), axis=1) > _SAME_MM
        if keep.all():
            break
        # Leaving some out may bring two together that both stood off one between them.
        point_mm = point_mm[np.concatenate([[True], keep])]
        move, inside = move[keep], inside[keep]
    return (
        np.ascontiguousarray(point_mm),
        move.astype(np.int32),
        np.concatenate([[False], inside]),
    )


def _lay_chords(
    program: Program,
    start: FloatArray,
    chords: IntArray,
    first: IntArray,
    vertex: FloatArray,
    inside: NDArray[np.bool_],
) -> None:
    arcs = program.arcs
    many = chords[arcs.move]
    arc = np.repeat(np.arange(len(arcs.move)), many)
    nth = np.arange(len(arc)) - np.repeat(np.cumsum(many) - many, many) + 1
    share = nth / many[arc]
    where = first[arcs.move][arc] + nth - 1
    normal = arcs.normal[arc]
    a, b = (normal + 1) % 3, (normal + 2) % 3
    row = np.arange(len(arc))
    begin, end, centre = start[arcs.move][arc], program.end_mm[arcs.move][arc], arcs.centre_mm[arc]
    da, db = begin[row, a] - centre[row, a], begin[row, b] - centre[row, b]
    angle = np.arctan2(db, da) + share * arcs.sweep_rad[arc]
    # The language lets the radius at the end differ a little from that at the start.
    end_radius = np.hypot(end[row, a] - centre[row, a], end[row, b] - centre[row, b])
    radius = (1.0 - share) * np.hypot(da, db) + share * end_radius
    laid = np.empty((len(arc), 3))
    laid[row, a] = centre[row, a] + radius * np.cos(angle)
    laid[row, b] = centre[row, b] + radius * np.sin(angle)
    laid[row, normal] = begin[row, normal] + share * (end[row, normal] - begin[row, normal])
    inner = nth < many[arc]
    vertex[where[inner]] = laid[inner]
    inside[where[inner]] = True


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
