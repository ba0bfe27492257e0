"""The path as the machine runs it, and the second pass over it.

What moves the tip from where it is told: the give under the steady force, play with its side set by
force, how far the axes miss, steps, swings after every start, stop and corner, corners rounded.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import asin, pi

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.progress import Progress, silent
from kerfwright.kernels import cutting
from kerfwright.kernels.play import play_offsets
from kerfwright.kernels.ringing import STATE, ring_steps
from kerfwright.kernels.running import run_steps
from kerfwright.kernels.runs import ROUGH_LEVEL_MM
from kerfwright.machine import AxisModel, Geometry, MachineModel
from kerfwright.physics.inertia import inertia_force_n
from kerfwright.prove.aside import ahead
from kerfwright.prove.removal import Remover
from kerfwright.prove.sweep import Swept, Tooling, Window, windows
from kerfwright.setup import Setup
from kerfwright.stock.field import Field
from kerfwright.trajectory import Trajectory

FloatArray = NDArray[np.float64]

_MOST_DAMPING = 0.9
_STRIP = 16_384  #: groups worked on at once: what comes in between stays in the processor's cache
#: What moves the tip, as ``[geometry]`` in machine.toml has it.
GEOMETRY = (
    "square_xy", "square_xz", "square_yz", "scale_x", "scale_y", "scale_z", "bow_x_back",
    "bow_x_up", "bow_y_right", "bow_y_up", "level_x", "level_y", "sag",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class AsRun:
    """The board as the machine will leave it, and where the tip stood. Groups as in ``Swept``."""

    field: Field
    offset_mm: NDArray[np.float32]  #: (g, 3) of the tip from where it is told, on average
    swing_mm: NDArray[np.float32]  #: (g, 3) how much of that is swinging


def cut_as_run(
    trajectory: Trajectory,
    tools: Tooling,
    setup: Setup,
    machine: MachineModel,
    swept: Swept,
    threads: int,
    progress: Progress = silent,
) -> AsRun:
    """Cut again along the path as it will be run."""
    steady = steady_mm(trajectory, setup, machine, swept)
    cell_mm = swept.field.cell_mm
    board = Field.of_board(setup.board, cell_mm)
    remover = Remover(board, threads, weighed=False, dated=False, level_mm=ROUGH_LEVEL_MM)
    swings = np.zeros((len(steady), 3), np.float32)

    def moved() -> Iterator[Window]:
        ringing = Ringing(trajectory, setup, machine)
        group = 0
        for window in ahead(windows(trajectory, tools, setup, cell_mm, motion=False)):
            cutter = setup.slots[int(tools.slot[window.begin])]
            ringing.run(window, group, cutter.stick_out_mm, steady, swings)
            group += window.groups
            yield window

    try:
        for window in ahead(moved()):
            progress("cutting as the machine will", window.begin / len(trajectory.move))
            cutter = setup.slots[int(tools.slot[window.begin])]
            remover.take(
                window.steps, window.follows, window.first_step, cutter, window.group_first
            )
    finally:
        remover.close()
    # Where the highest wood is nobody asks any more.
    field = replace(remover.field, top_mm=remover.field.top_mm[:0].copy())
    steady += swings  # in its place: another as large would come on top
    return AsRun(
        field=field,
        offset_mm=steady.astype(np.float32),
        swing_mm=swings,
    )


def steady_mm(
    trajectory: Trajectory, setup: Setup, machine: MachineModel, swept: Swept
) -> FloatArray:
    """Of the tip from where it is told, all but its swinging. (g, 3) [mm]"""
    out = play_mm(swept, machine)
    for begin in range(0, len(out), _STRIP):
        some = slice(begin, begin + _STRIP)
        at = swept.column[some, cutting.X : cutting.Z + 1].astype(np.float64)
        missed = miss_mm(at, setup, machine)
        rounding = step_rounding_mm(trajectory, swept.segment[some], machine)
        out[some] = swept.give_mm[some] + out[some] + missed + rounding
    return out


class Ringing:
    """How the tip swings, asked step after step in the order of travel."""

    def __init__(self, trajectory: Trajectory, setup: Setup, machine: MachineModel) -> None:
        self._path = trajectory
        self._to_machine = np.array(setup.zero_on_board_mm) + np.array(setup.board_at_mm)
        self._grid = machine.compliance_at_mm
        self._soft_s2 = soft_s2(machine)
        self._damping = min(machine.damping, _MOST_DAMPING)
        self._jerk = np.array([axis.jerk_mm_per_s3 for axis in machine.axes])
        self._state = np.zeros(STATE)

    def over(self, time_s: FloatArray, stick_out_mm: float) -> FloatArray:
        """Swing at both ends of steps. (w, 2, 3) [mm]"""
        swing = np.empty((len(time_s), 2, 3))
        path = self._path
        ring_steps(
            self._state, path.point_mm, path.move, path.length_mm, path.blend_mm, path.node,
            path.speed2, path.node_s, path.feed_mm_per_s, path.top_mm_per_s, path.limit_mm_per_s2,
            self._to_machine + np.array([0.0, 0.0, stick_out_mm]), *self._grid, self._soft_s2,
            self._damping, self._jerk, time_s, swing,
        )  # fmt: skip
        return swing

    def run(
        self,
        window: Window,
        group: int,
        stick_out_mm: float,
        offset_mm: FloatArray,
        swings: NDArray[np.float32],
    ) -> None:
        """Move the steps of a window to where they are run, see ``kernels.running``.

        ``group``: number of its first; ``offset_mm`` and ``swings`` are of all groups.
        """
        swing = self.over(window.time_s, stick_out_mm)
        run_steps(
            window.steps, window.segment_of, window.follows, window.group_first, window.goes_on,
            group, offset_mm, self._path.point_mm, self._path.length_mm, self._path.blend_mm, swing,
            swings,
        )  # fmt: skip


def soft_s2(machine: MachineModel) -> FloatArray:
    """1/ω² of each axis over the machine's grid: its mass on the give of the nose. (.., 3) [s²]"""
    give = np.diagonal(machine.compliance_mm_per_n, axis1=-2, axis2=-1)
    force = inertia_force_n(np.array([axis.mass_kg for axis in machine.axes]), 1.0)
    return np.ascontiguousarray(give * force)


def play_mm(swept: Swept, machine: MachineModel) -> FloatArray:
    """On which side of its play the tip stands. (g, 3)"""
    friction = np.array([axis.friction_n for axis in machine.axes])
    play = np.array([axis.play_mm for axis in machine.axes])
    side, offset = np.zeros(3), np.zeros((len(swept.column), 3))
    for begin in range(0, len(offset), _STRIP):
        some = slice(begin, begin + _STRIP)
        force = swept.column[some, cutting.FORCE_X : cutting.FORCE_Z + 1]
        force = force.astype(np.float64, order="C")  # row by row, as the kernel is compiled for
        # The weight of Z keeps it at the lower side of its play until more than that lifts it.
        force[:, 2] -= machine.z.weight_n
        motion = swept.motion_mm[some].astype(np.float64)
        play_offsets(force, motion, friction, play, side, offset[some])
    if machine.z.weight_n > machine.z.friction_n:
        # It hung there when its zero was set, so that side is where the program counts from.
        offset[:, 2] += 0.5 * machine.z.play_mm
    return offset


def miss_mm(at_mm: FloatArray, setup: Setup, machine: MachineModel) -> FloatArray:
    """How far the axes miss at places on the board (n, 3), against how far at the zero. (n, 3)"""
    zero = np.array(setup.zero_on_board_mm)[None]
    return missed_from_zero_mm(np.concatenate([zero, at_mm]), setup, machine)[1:]


def missed_from_zero_mm(at_mm: FloatArray, setup: Setup, machine: MachineModel) -> FloatArray:
    """The same at places on the board, the first of which is the zero. (n, 3)"""
    travel = np.array([axis.travel_mm for axis in machine.axes])
    missed = machine.geometry.miss_mm(
        at_mm + np.array(setup.board_at_mm), travel, machine.table_at_mm, machine.table_mm
    )
    return np.asarray(missed - missed[0])


def miss_unsure_mm(
    at_mm: FloatArray, out: FloatArray, setup: Setup, machine: MachineModel
) -> FloatArray:
    """How far what is not known of the axes may move places on the board. (n,) [mm]

    Along ``out`` (n, 3), half widths of 95 %, each reading on its own.
    """
    at = np.concatenate([np.array(setup.zero_on_board_mm)[None], at_mm])
    whole = np.zeros(len(at_mm))
    for key in GEOMETRY:
        known = machine.known.get(f"geometry.{key}")
        low, high = known.interval() if known is not None else (0.0, 0.0)
        if high > low:
            one = replace(machine, geometry=one_error(key))
            moved = (missed_from_zero_mm(at, setup, one)[1:] * out).sum(axis=1)
            whole += (0.5 * (high - low) * moved) ** 2
    return np.sqrt(whole)


def one_error(key: str) -> Geometry:
    """A geometry with one error of 1, by its key in machine.toml."""
    for name, letters in (("scale", "xyz"), ("level", "xy")):
        if key.startswith(name):
            values = [1.0 if key[-1] == letter else 0.0 for letter in letters]
            return Geometry(**{name: tuple(values)})  # type: ignore[arg-type]
    name = key if key.startswith("square") else f"{key}_mm"
    return Geometry(**{name: 1.0})  # type: ignore[arg-type]


def step_rounding_mm(
    trajectory: Trajectory, segment: NDArray[np.integer], machine: MachineModel
) -> FloatArray:
    """Where an axis stands still it stands on a whole step from its zero, on segments. (n, 3)

    An axis that moves is on either side of its line by turns, half a step at most.
    """
    step = np.array([axis.lead_mm / axis.positions_per_rev for axis in machine.axes])
    length = trajectory.length_mm[segment][:, None]
    moves = np.abs(trajectory.units(segment)) * length >= 0.5 * step
    at = trajectory.point_mm[segment]
    return np.where(moves, 0.0, np.round(at / step) * step - at)


def step_unsure_mm(axis: AxisModel) -> float:
    """How far a drive may stand off its whole step, half width of 95 %: all alike within that. [mm]

    Half a position, and the lag at which the motor's pull just carries the drive's own friction
    (the magnetic spring, ``steppers.standing_error_rad``; a full step where it cannot).
    """
    load = max(float(axis.demand_nmm(0.0, 1e-9, 0.0)), 0.0)
    share = min(load / max(axis.holding_torque_nmm, 1e-9), 1.0)
    lag = axis.lead_mm * asin(share) / (2.0 * pi * axis.rotor_teeth)
    return 0.95 * float(np.hypot(0.5 * axis.lead_mm / axis.positions_per_rev, lag))
