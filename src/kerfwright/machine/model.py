"""``MachineModel``: plain numbers for the proof, each traceable to where it comes from."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Known

FloatArray = NDArray[np.float64]
CornerRule = Literal["exact stop", "path tolerance", "axis speed step"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisModel:
    """One driven axis, seen at the carriage and at one motor.

    The motor's demand for a thrust F at the carriage, speed v and acceleration a [N, mm/s, mm/s²]:
    ``raising or lowering torque per newton x (F + friction + mass x a / 1000) + drag
    + inertia x a x 2 pi / lead / 1000``, shared between ``motors``.
    """

    name: Literal["x", "y", "z"]
    travel_mm: float  #: X and Y from 0; Z of the spindle nose, down from its highest place
    lead_mm: float  #: travel in one turn of the motor
    positions_per_rev: int
    motors: int
    mass_kg: float  #: what this axis moves
    friction_n: float  #: of the guide, opposing motion
    raising_mm: float  #: torque per newton of thrust against the motion [N mm / N]
    lowering_mm: float  #: the same when the thrust goes with the motion
    drag_torque_nmm: float  #: of a preloaded nut and the bearings, whatever the thrust
    inertia_kg_mm2: float  #: turning parts, at the motor, of one motor's train
    curve_rev_per_s: FloatArray  #: (k,) motor speeds, rising from 0
    curve_torque_nmm: FloatArray  #: (k,) pull-out torque of one motor at those speeds
    top_speed_mm_per_s: float  #: least of controller, motor and whip
    rapid_mm_per_s: float  #: what the controller uses for rapids, not above the top speed
    acceleration_mm_per_s2: float  #: what the controller uses
    stiffness_n_per_mm: float  #: drive train, carriage to frame
    play_mm: float  #: lost motion at reversal


@dataclass(frozen=True, slots=True, kw_only=True)
class Spindle:
    """What turns the cutter."""

    kind: Literal["variable frequency", "hand router"]
    lowest_rev_per_s: float
    highest_rev_per_s: float
    shaft_power_w: float  #: at the highest speed, what it can give on and on
    dial_rev_per_s: tuple[float, ...] = ()  #: hand router: speed at dial 1, 2, 3 ...

    @property
    def follows_program(self) -> bool:
        """Whether spindle words in the program do anything."""
        return self.kind == "variable frequency"

    def power_w(self, speed_rev_per_s: FloatArray | float) -> FloatArray:
        """Shaft power it can give at a speed: constant torque up to the highest speed. [W]"""
        share = np.asarray(speed_rev_per_s, dtype=np.float64) / self.highest_rev_per_s
        return np.asarray(self.shaft_power_w * np.clip(share, 0.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """How the controller runs a program."""

    corner_rule: CornerRule
    corner_tolerance_mm: float  #: for "path tolerance"
    corner_speed_step_mm_per_s: tuple[float, float, float]  #: X, Y, Z, for "axis speed step"
    cutter_change: Literal["stops and Z is set again", "stops, length table", "ignores it"]
    cutter_change_s: float
    spindle_start_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineModel:
    """The machine as it is believed to be. Made by ``machine.load_machine``; changed by no one.

    ``compliance`` holds, on a grid over the travel, how far the spindle nose moves for each newton
    at the cutter: rows are the displacement x, y, z, columns the force x, y, z. [mm/N] The cutter
    itself is not in it. ``known`` has a ``Known`` for each dotted path of machine.toml;
    ``drawn(rng)`` is the same machine with every value drawn from its spread.
    """

    name: str
    sha256: str  #: of the description
    x: AxisModel
    y: AxisModel
    z: AxisModel
    spindle: Spindle
    controller: Controller
    table_mm: tuple[float, float]  #: size of the table along X and Y
    table_at_mm: tuple[float, float]  #: its left front corner, in machine X and Y
    spoil_board_mm: float  #: thickness on the table, 0 if none
    nose_height_mm: float  #: spindle nose above the table top with Z at its highest
    compliance_at_mm: tuple[FloatArray, FloatArray, FloatArray]  #: grid, X, Y and nose height
    compliance_mm_per_n: FloatArray  #: (nx, ny, nz, 3, 3)
    known: Mapping[str, Known]
    assumed: tuple[str, ...]  #: what was not known, with the range taken, in words
    drawn: Callable[[np.random.Generator], "MachineModel"]

    @property
    def axes(self) -> tuple[AxisModel, AxisModel, AxisModel]:
        """X, Y, Z."""
        return self.x, self.y, self.z
