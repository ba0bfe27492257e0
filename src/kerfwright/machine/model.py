"""``MachineModel``: plain numbers for the proof, each traceable to where it comes from."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import inf, pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Kind, Known
from kerfwright.basics.units import GRAVITY_MM_PER_S2
from kerfwright.machine.geometry import Geometry
from kerfwright.physics.inertia import N_PER_KG_MM_PER_S2, inertia_force_n

FloatArray = NDArray[np.float64]
CornerRule = Literal["exact stop", "path tolerance", "axis speed step"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisModel:
    """One driven axis, seen at the carriage and at one motor.

    The motor's demand for a thrust F at the carriage, speed v and acceleration a [N, mm/s, mm/s²]:
    ``raising or lowering torque per newton x (F + friction + mass x a / 1000) + drag
    + inertia x a x 2 pi / lead / 1000``; thrust and drag are shared between ``motors``, the inertia
    is each motor's own. ``demand_nmm`` computes it with all signs.

    ``lowering_mm`` is above 0 where the motor still has to push (the drive locks itself) and
    below 0 where the thrust turns the drive and the motor has to hold it back.
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
    drag_torque_nmm: float  #: of all preloaded nuts and bearings, whatever the thrust
    inertia_kg_mm2: float  #: turning parts, at the motor, of one motor's train
    curve_rev_per_s: FloatArray  #: (k,) motor speeds, rising from 0
    curve_torque_nmm: FloatArray  #: (k,) pull-out torque of one motor at those speeds
    top_speed_mm_per_s: float  #: least of controller, motor and whip
    rapid_mm_per_s: float  #: what the controller uses for rapids, not above the top speed
    acceleration_mm_per_s2: float  #: what the controller uses
    stiffness_n_per_mm: float  #: drive train, carriage to frame; is in the compliance already
    play_mm: float  #: lost motion at reversal
    drive: Literal["screw", "belt", "rack"] = "screw"
    microsteps: int = 1  #: positions in a full step
    rotor_teeth: float = 50.0
    idle_share: float = 1.0  #: of the current, left when it stands
    motor_top_mm_per_s: float = inf  #: where moving itself, as set, takes all the motor's pull
    whip_mm_per_s: float = inf  #: where the screw starts to whip
    set_rapid_mm_per_s: float = inf  #: as set in the controller
    jerk_mm_per_s3: float = inf  #: how fast the controller lets acceleration rise and fall

    @property
    def weight_n(self) -> float:
        """Pulls the carriage towards minus: of what Z moves; 0 for X and Y. [N]"""
        if self.name != "z":
            return 0.0
        return float(inertia_force_n(self.mass_kg, GRAVITY_MM_PER_S2))

    @property
    def holding_torque_nmm(self) -> float:
        """Greatest torque of one motor as driven, standing with its full current. [N mm]"""
        return float(self.curve_torque_nmm[0])

    @property
    def locks_itself(self) -> bool:
        """Whether a thrust on the carriage cannot turn the motor."""
        return self.lowering_mm > 0.0

    def pull_nmm(self, speed_mm_per_s: FloatArray | float) -> FloatArray:
        """Pull-out torque of one motor at a carriage speed, either way; any shape. [N mm]"""
        turns = np.abs(np.asarray(speed_mm_per_s, dtype=np.float64)) / self.lead_mm
        return np.asarray(np.interp(turns, self.curve_rev_per_s, self.curve_torque_nmm))

    def demand_nmm(
        self,
        force_n: FloatArray | float,
        speed_mm_per_s: FloatArray | float,
        acceleration_mm_per_s2: FloatArray | float,
    ) -> FloatArray:
        """Torque that one motor must give, along its motion. [N mm]

        Parameters
        ----------
        force_n : float or array
            On the carriage along plus, from the cut. [N]
        speed_mm_per_s, acceleration_mm_per_s2 : float or array
            Of the carriage along plus. At rest the acceleration says which way it will go.

        Returns
        -------
        array
            Below 0 where the motor holds back. It loses steps where the magnitude exceeds
            ``pull_nmm``. Standing it holds only what friction, a screw that locks, or drag do not.
        """
        speed = np.asarray(speed_mm_per_s, dtype=np.float64)
        acceleration = np.asarray(acceleration_mm_per_s2, dtype=np.float64)
        way = np.where(speed != 0.0, np.sign(speed), np.sign(acceleration))
        carried = self.mass_kg * acceleration * N_PER_KG_MM_PER_S2
        thrust = carried + self.weight_n - force_n
        against = way * thrust + self.friction_n
        through = np.where(against >= 0.0, self.raising_mm * against, -self.lowering_mm * against)
        turning = way * acceleration * 2.0 * pi / self.lead_mm * self.inertia_kg_mm2
        moving = (through + self.drag_torque_nmm) / self.motors + turning * N_PER_KG_MM_PER_S2
        spare = np.maximum(np.abs(thrust) - self.friction_n, 0.0)
        held = max(-self.lowering_mm, 0.0) * spare - self.drag_torque_nmm
        return np.asarray(np.where(way != 0.0, moving, -np.maximum(held, 0.0) / self.motors))


@dataclass(frozen=True, slots=True, kw_only=True)
class Spindle:
    """What turns the cutter."""

    kind: Literal["variable frequency", "hand router"]
    lowest_rev_per_s: float
    highest_rev_per_s: float
    shaft_power_w: float  #: at the highest speed, what it can give on and on
    dial_rev_per_s: tuple[float, ...] = ()  #: hand router: speed at dial 1, 2, 3 ...
    nut_diameter_mm: float = 0.0  #: of the collet nut; 0: none
    nut_height_mm: float = 0.0  #: from the nut's lower face up to the nose
    nose_diameter_mm: float = 0.0  #: of all that stands above the nut; 0: none
    boot_diameter_mm: float = 0.0  #: stiff part of a dust boot that goes up and down; 0: none
    boot_below_nut_mm: float = 0.0  #: how far that hangs below the nut's lower face

    @property
    def follows_program(self) -> bool:
        """Whether spindle words in the program do anything."""
        return self.kind == "variable frequency"

    def power_w(self, speed_rev_per_s: FloatArray | float) -> FloatArray:
        """Shaft power it can give at a speed: constant torque up to the highest speed. [W]"""
        share = np.asarray(speed_rev_per_s, dtype=np.float64) / self.highest_rev_per_s
        return np.asarray(self.shaft_power_w * np.clip(share, 0.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """What the controller takes in a program, and what stops it: the keys of ``[controller]``."""

    bare_coordinates: Literal["stops", "feed", "rapid"] = "stops"  #: before any motion code
    lower_case: bool = True
    blanks_in_numbers: bool = True
    semicolons: bool = True  #: begin a remark
    late_numbers: bool = True  #: N numbers behind other words
    missing_end: bool = True
    byte_order_mark: bool = True
    line_ends: Literal["any", "LF", "CR LF", "CR"] = "any"
    longest_line: int | None = None  #: characters; None: not known
    slash_lines: Literal["run", "left out"] = "run"
    knows_g70: bool = True
    knows_g90_1: bool = True
    knows_g64_p: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """How the controller runs a program."""

    corner_rule: CornerRule
    corner_tolerance_mm: float  #: for "path tolerance"
    corner_speed_step_mm_per_s: tuple[float, float, float]  #: X, Y, Z, for "axis speed step"
    cutter_change: Literal["stops and Z is set again", "stops, length table", "ignores it"]
    cutter_change_s: float  #: all that one takes: by hand with Z set again, 0 where it is ignored
    lines_ahead: float = inf  #: that it sees, the one it runs included
    lines_per_s: float = inf  #: that it can take
    corner_rule_kind: Kind = "estimated"  #: where the corner rule is from; "default": not said
    #: Until a program says G20 or G21; None: not known.
    default_units: Literal["mm", "inch"] | None = None
    arc_centres: Literal["from start", "absolute"] = "from start"
    unknown_words: Literal["stops", "skips"] = "stops"  #: at a word that it does not know
    reads: Habits = field(default_factory=Habits)


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineModel:
    """The machine as it is believed to be. Made by ``machine.load_machine``; changed by no one.

    ``compliance`` holds, on a grid over the travel, how far the spindle nose moves for each newton
    at the cutter: rows are the displacement x, y, z, columns the force x, y, z. [mm/N] The cutter
    itself is not in it. ``known`` has a ``Known`` for each dotted path of machine.toml;
    ``drawn(rng, many)`` is the same machine so many times, with every value drawn from its spread.
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
    compliance_at_mm: tuple[FloatArray, FloatArray, FloatArray]  #: grid: machine X, machine Y and
    #: the nose's height above the table top, each rising
    compliance_mm_per_n: FloatArray  #: (nx, ny, nz, 3, 3)
    known: Mapping[str, Known]
    assumed: tuple[str, ...]  #: what was not known, with the range taken, in words
    drawn: Callable[[np.random.Generator, int], tuple["MachineModel", ...]]
    geometry: Geometry = field(default_factory=Geometry)
    damping: float = 0.05  #: of the frame's swings, as a share of critical
    values: Mapping[str, float] = field(default_factory=dict)  #: number taken for each path
    choices: Mapping[str, str] = field(default_factory=dict)  #: word taken for each path of words
    #: part in shop words -> (nx, ny, nz, 3): its share of how far the nose moves the way it is
    #: pushed, along X, Y, Z; the parts add up to 1
    compliance_shares: Mapping[str, FloatArray] = field(default_factory=dict)
    #: X, Y, Z: what pushes that were tried make of the computed give, twice; 1 where none was
    pushed_scale: tuple[float, ...] = (1.0, 1.0, 1.0)
    #: set of wheels -> (nx, ny, nz, 3): load on its worst wheel for each newton at the nose along
    #: X, Y, Z
    wheel_loads: Mapping[str, FloatArray] = field(default_factory=dict)
    wheel_unloads_n: float = inf  #: load on one wheel at which the one across from it runs free

    @property
    def axes(self) -> tuple[AxisModel, AxisModel, AxisModel]:
        """X, Y, Z."""
        return self.x, self.y, self.z
