"""How the frame swings: its first modes, in the middle of the bed with Z down.

Masses hang on the same compliant parts from which the give of the nose is made: the gantry at the
beam, the carriage, and Z with the spindle as two masses, so that it can nod; each is a box that
turns as well. A table that moves swings by itself. The mass of what stands is left out: it lowers
a frequency.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import NDArray

from kerfwright.machine.beam_section import beam_section
from kerfwright.machine.bed import bed_parts
from kerfwright.machine.frame_parts import UNIT, UP, Frame, along_only, wheel_set
from kerfwright.machine.gantry import gantry_parts
from kerfwright.machine.materials import density_kg_per_m3
from kerfwright.machine.model import FloatArray, MachineModel
from kerfwright.machine.moving_table import standing_gantry, table_arms
from kerfwright.machine.structure import frame_at, hanging_on_beam, nose_arm_of
from kerfwright.physics import frame, inertia, vibration
from kerfwright.physics.inertia import KG_PER_MM3, N_PER_KG_MM_PER_S2
from kerfwright.physics.modes import answer_mm_per_n

#: The two masses of Z and spindle, above the nose. A spindle is about 200 mm long: common
#: practice, no source. [mm]
_Z_MASSES_MM = (20.0, 160.0)
#: A carriage and a spindle with its mount, from front to back, and a half of Z up and down. Common
#: practice, no source. [mm]
_DEEP_MM, _HALF_HIGH_MM = 60.0, 60.0
#: A beam whose ends stand still rocks about a place on it with this share of m L²: a cubic through
#: both ends, by its kinetic energy.
_ROCKS = 2.0 / 105.0
#: Turns are weighed against shifts at this distance where a mode is hardly anything else. [mm]
_ARM_MM = 100.0
#: What is left of a mass once what hangs on it is taken off, at least.
_LEAST_SHARE = 0.2
#: A flexibility of less than this share of the greatest is none.
_STIFF = 1e-9
#: Squares of movements [mm/N] below this are none.
_NONE = 1e-30
#: A swing is over once it is this many times smaller.
_DOWN_TO = 20.0
BODIES = ("gantry", "carriage", "spindle", "spindle's top")
_NOSE = BODIES.index("spindle")


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameMode:
    """One way of swinging."""

    hertz: float
    moves: Mapping[str, FloatArray]  #: body -> movement along X, Y, Z, the largest is 1 (less where
    #: the mode is hardly anything but turning)
    shares: Mapping[str, float]  #: part -> its share of the spring's work, largest first
    #: along X, Y, Z: how far the nose, or the table, hangs back in this mode while that axis
    #: accelerates, against a mass alone on a spring of this frequency
    follows: tuple[float, ...] = (0.0, 0.0, 0.0)

    @property
    def along(self) -> int:
        """The axis along which the nose, or the table, swings most."""
        body = "table" if "table" in self.moves else "spindle"
        return int(np.argmax(np.abs(self.moves[body])))


def frame_modes(machine: MachineModel, count: int = 3) -> tuple[FrameMode, ...]:
    """The lowest modes, lowest first.

    Notes
    -----
    Eigenvalues of flexibility times mass (textbook mechanics, as for the cutter in
    ``physics.modes``). Where a push was tried the flexibility is scaled as the give is.
    """
    numbers, choices = machine.values, machine.choices
    middle = np.array([0.5])
    built = frame_at(numbers, choices, middle, middle, np.array([0.0]))
    chain, places, heavy = _chain(built, machine)
    modes = _swings(chain, places, heavy, np.array(machine.pushed_scale), _started(built))
    if choices["frame.moves"] == "table":
        modes.append(_table_mode(built, machine))
    return tuple(sorted(modes, key=lambda mode: mode.hertz)[:count])


def set_off(machine: MachineModel, mode: FrameMode) -> tuple[float, float]:
    """What a start of the axis along which it swings does to a mode.

    Returns
    -------
    swing_mm, settled_s : float
        How far the nose, or the table, swings out at first when the acceleration set begins, with
        no jerk limit; and until it is down to a twentieth of that. [mm, s]

    Notes
    -----
    Twice the standing sag, ``inertia.swing_mm``, times what the mode takes of it; ln 20 / (zeta w)
    for the damping that the description has (textbook).
    """
    rate = machine.axes[mode.along].acceleration_mm_per_s2
    swing = float(inertia.swing_mm(rate, mode.hertz)) * abs(mode.follows[mode.along])
    return swing, log(_DOWN_TO) / (machine.damping * 2.0 * pi * mode.hertz)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoseModes:
    """All modes in which nose and table swing apart, at one place."""

    hertz: FloatArray  #: (m,)
    moves: FloatArray  #: (m, 3) along X, Y, Z: their squares add up to the standing give [√(mm/N)]
    damping: float  #: of each, as a share of critical

    def answer_mm_per_n(self, hertz: FloatArray) -> NDArray[np.complex128]:
        """How far they swing apart for each newton between them, at frequencies. (..., 3, 3)"""
        each = answer_mm_per_n(hertz[..., None], self.hertz, 1.0, self.damping)
        squares = self.moves[:, :, None] * self.moves[:, None, :]
        whole = each @ (squares.reshape(-1, 9) + 0j)
        return np.asarray(whole.reshape(*whole.shape[:-1], 3, 3))

    def pitched(self, pitch: float, damping: float) -> "NoseModes":
        """The same with stiffer or softer springs, all frequencies ``pitch`` times as high."""
        return NoseModes(hertz=self.hertz * pitch, moves=self.moves / pitch, damping=damping)


def nose_modes(
    machine: MachineModel, x_mm: float, y_mm: float, nose_mm: float, stands_mm_per_n: FloatArray
) -> NoseModes:
    """How nose and table swing apart at a place.

    Parameters
    ----------
    machine : MachineModel
        The machine.
    x_mm, y_mm, nose_mm : float
        The place, in the machine's frame; how high the nose is above the table. [mm]
    stands_mm_per_n : array (3,)
        How far they give way there along X, Y, Z under forces that stand. [mm/N]

    Notes
    -----
    The frame's bodies as in ``frame_modes`` with this place's levers, and the table where it moves.
    A table that stands, and the work, would swing far higher: of them there is nothing here.
    Scaled so that with the table's give they add up to what gives way under forces that stand.
    """
    values = machine.values
    down = values["table.nose_height"] - nose_mm
    shares = np.clip(
        [
            x_mm / values["axes.x.travel"],
            y_mm / values["axes.y.travel"],
            1.0 - down / values["axes.z.travel"],
        ],
        0.0,
        1.0,
    )
    x, y, up = shares[:, None]
    built = frame_at(values, machine.choices, x, y, up)
    each = [_modes_of(*_bodies_and_nose(built, machine))]
    if machine.choices["frame.moves"] == "table":
        each.append(_modes_of(*_table_and_nose(built, machine)))
    hertz, moves = (np.concatenate(parts) for parts in zip(*each, strict=True))
    squares = moves**2
    scale2 = stands_mm_per_n / (squares.sum(axis=0) + _bed_give(built))
    # What a mode's give becomes lowers its frequency: the same masses on other springs.
    softer = (squares @ scale2) / np.maximum(squares.sum(axis=1), _NONE)
    return NoseModes(
        hertz=hertz / np.sqrt(np.maximum(softer, _NONE)),
        moves=moves * np.sqrt(scale2),
        damping=machine.damping,
    )


def _modes_of(flexible: FloatArray, mass_kg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Frequencies (m,) and how far each mode moves the last place, (m, 3). [Hz, √(mm/N)]"""
    root = np.sqrt(mass_kg * N_PER_KG_MM_PER_S2)
    values, shapes = np.linalg.eigh(root[:, None] * flexible * root)
    inside = values > _STIFF * values[-1]
    parts = flexible[-6:-3] @ (root[:, None] * shapes[:, inside])
    turn = 1.0 / np.sqrt(values[inside])
    return turn / (2.0 * pi), np.asarray((parts * turn).T)


#: name -> compliance (6, 6), its place from M (3,), the first body that hangs on it
_Chain = dict[str, tuple[FloatArray, FloatArray, int]]


def _chain(built: Frame, machine: MachineModel) -> tuple[_Chain, FloatArray, FloatArray]:
    """The parts in a row, where the bodies hang (4, 3) from M, and what is heavy there (4, 6)."""
    on_m = np.eye(6)[None]
    if built.choices["frame.moves"] == "table":
        under = standing_gantry(built, on_m)
    else:
        under, _ = gantry_parts(built, on_m)
    arm = nose_arm_of(built)
    nowhere = np.zeros(3)
    chain: _Chain = {name: (part[0, 0, 0], nowhere, 0) for name, part in under.items()}
    for name, (compliance, place, _) in hanging_on_beam(built, arm).items():
        one = compliance[0] if compliance.ndim == 3 else compliance
        at = place[0] if place.ndim == 2 else place
        chain[name] = (one, at, 1 if name == "carriage wheels" else 2)
    carriage = "xy"[1 - built.moving]
    for axis, index, first in ((carriage, 1 - built.moving, 1), ("z", 2, 2)):
        give = along_only(index, 6) / built.drive_n_per_mm(axis)
        chain[f"{axis.upper()} drive"] = (give, nowhere, first)
    places = np.stack(
        [nowhere, chain["carriage wheels"][1], *(arm[0] + z * UP for z in _Z_MASSES_MM)]
    )
    return chain, places, _heavy(built, _masses(built, machine), _feet_yaw(built, under))


def _masses(built: Frame, machine: MachineModel) -> FloatArray:
    """Of gantry, carriage and twice half of Z. [kg]"""
    whole = [axis.mass_kg for axis in machine.axes]
    carried, z = whole[1 - built.moving], whole[2]
    if built.choices["frame.moves"] == "table":
        gantry = 0.5 * _beam_kg(built)  # a beam held at both ends swings with about half of itself
    else:
        gantry = max(whole[built.moving] - carried, _LEAST_SHARE * whole[built.moving])
    return np.array([gantry, max(carried - z, _LEAST_SHARE * carried), 0.5 * z, 0.5 * z])


def _feet_yaw(built: Frame, under: Mapping[str, FloatArray]) -> float:
    """How far the gantry's sides yaw where its beam yaws by 1: by what gives below them."""
    below = {"gantry wheels", "cross bar", f"{'XY'[built.moving]} drive"}
    yaws = {name: float(part[0, 0, 0, 5, 5]) for name, part in under.items()}
    return sum(yaw for name, yaw in yaws.items() if name in below) / sum(yaws.values())


def _heavy(built: Frame, masses: FloatArray, feet_yaw: float) -> FloatArray:
    """Mass along X, Y, Z and moment of inertia about them of each body. (4, 6) [kg, kg mm²]

    The gantry yaws with its beam, and with its sides as far as these follow; it rocks as a beam
    between ends that stand, and turns about its beam with the beam alone. Carriage and halves of Z
    are boxes.
    """
    number = built.plain.__getitem__
    length, beam = number("frame.beam.length"), min(_beam_kg(built), masses[0])
    # Along the beam, along the travel, upright; turned into X, Y, Z below.
    turned = np.zeros((4, 3))
    turned[0, 0] = inertia.box_inertia_kg_mm2(
        beam, number("frame.beam.width"), number("frame.beam.depth")
    )
    turned[0, 1] = _ROCKS * beam * length**2
    turned[0, 2] = inertia.box_inertia_kg_mm2(beam, length, 0.0)
    if built.choices["frame.moves"] == "gantry":
        turned[0, 2] += (masses[0] - beam) * length**2 / 4.0 * feet_yaw**2
    at = f"rails.{'xy'[1 - built.moving]}"
    wide = number("frame.z_plate.width")
    for body, sides in (
        (1, (number(f"{at}.along"), _DEEP_MM, number(f"{at}.across"))),
        (2, (wide, _DEEP_MM, _HALF_HIGH_MM)),
        (3, (wide, _DEEP_MM, _HALF_HIGH_MM)),
    ):
        for way in range(3):
            one, other = (side for k, side in enumerate(sides) if k != way)
            turned[body, way] = inertia.box_inertia_kg_mm2(masses[body], one, other)
    order = [1, 0, 2] if built.moving == 0 else [0, 1, 2]
    return np.concatenate([np.tile(masses[:, None], 3), turned[:, order]], axis=1)


def _beam_kg(built: Frame) -> float:
    area = float(beam_section(built.plain, built.choices).area_mm2)
    density = density_kg_per_m3(built.choices["frame.beam.material"]) * KG_PER_MM3
    return area * built.plain["frame.beam.length"] * density


def swept_give(machine: MachineModel, hertz: FloatArray) -> FloatArray:
    """How far nose and table swing apart for each newton that swings between them.

    In the middle of the bed, with Z down.

    Parameters
    ----------
    machine : MachineModel
        Its damping counts for every mode.
    hertz : array (k,)
        Of the force. [Hz]

    Returns
    -------
    array (k, 3)
        Pushed along X, Y, Z, the same way. A table that moves under it swings on its wheels and its
        drive; the table's own give, and its joints, follow at once, and the work is left out.
        [mm/N]
    """
    middle = np.array([0.5])
    built = frame_at(machine.values, machine.choices, middle, middle, np.array([0.0]))
    flexible, mass = _bodies_and_nose(built, machine)
    parts = vibration.swept_compliance(flexible, mass, hertz, machine.damping)
    own = [np.diagonal(part, axis1=-2, axis2=-1)[:, -6:-3] for part in parts]
    under = _table_swept(built, machine, hertz)
    return np.asarray(np.hypot(*(one + other for one, other in zip(own, under, strict=True))))


def _bodies_and_nose(built: Frame, machine: MachineModel) -> tuple[FloatArray, FloatArray]:
    """Flexibility of the bodies and, last, of the nose (30, 30), and masses (30,)."""
    chain, places, heavy = _chain(built, machine)
    places = np.vstack([places, nose_arm_of(built)])
    _, flexible = _levers(chain, places, np.array(machine.pushed_scale))
    return flexible, np.append(heavy.reshape(-1), np.zeros(6))


def _bed_give(built: Frame) -> FloatArray:
    """What the table gives under the nose, pushed along X, Y, Z. (3,) [mm/N]"""
    bed = sum(np.diag(part[0, 0, 0])[:3] for part in bed_parts(built, 3).values())
    return np.asarray(bed, dtype=np.float64)


def _table_swept(
    built: Frame, machine: MachineModel, hertz: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The same of the table under the nose, in step with the force and late. (k, 3) each."""
    follows = np.tile(_bed_give(built), (len(hertz), 1))
    if built.choices["frame.moves"] != "table":
        return follows, np.zeros_like(follows)
    flexible, heavy = _table_and_nose(built, machine)
    parts = vibration.swept_compliance(flexible, heavy, hertz, machine.damping)
    real, late = (np.diagonal(part, axis1=-2, axis2=-1)[:, 6:9] for part in parts)
    return follows + real, np.asarray(late)


def _table_and_nose(built: Frame, machine: MachineModel) -> tuple[FloatArray, FloatArray]:
    """Flexibility of a table that moves and of its place under the nose (12, 12), masses (12,)."""
    _, arm = table_arms(built)
    drive = along_only(built.moving, 6) / built.drive_n_per_mm("xy"[built.moving])
    chain: _Chain = {
        "table wheels": (wheel_set(built, built.moving).compliance(), np.zeros(3), 0),
        "drive": (drive, np.zeros(3), 0),
    }
    _, flexible = _levers(chain, np.stack([np.zeros(3), arm[0, 0, 0]]), np.ones(3))
    mass = machine.axes[built.moving].mass_kg
    sides = built.plain["table.width"], built.plain["table.depth"]
    turned = [
        inertia.box_inertia_kg_mm2(mass, *pair) for pair in ((sides[1], 0), (sides[0], 0), sides)
    ]
    return flexible, np.concatenate([[mass] * 3, turned, np.zeros(6)])


def _started(built: Frame) -> FloatArray:
    """Whether a start of X, Y or Z takes each body along. (3, 4)"""
    takes = np.zeros((3, len(BODIES)))
    takes[built.moving] = built.choices["frame.moves"] == "gantry"
    takes[1 - built.moving, 1:] = 1.0
    takes[2, 2:] = 1.0
    return takes


def _swings(
    chain: _Chain, places: FloatArray, heavy: FloatArray, scale: FloatArray, started: FloatArray
) -> list[FrameMode]:
    many = len(heavy)
    levers, flexible = _levers(chain, places, scale)
    root = np.sqrt(heavy.reshape(-1))
    values, shapes = np.linalg.eigh(root[:, None] * flexible * root)
    modes = []
    for value, shape in zip(values[::-1], shapes.T[::-1], strict=True):
        if value <= _STIFF * values[-1]:  # bodies that nothing springy parts
            break
        force = root * shape  # mass times movement: the inertia forces, but for a factor
        works = {
            name: float((lever @ force) @ chain[name][0] @ (lever @ force))
            for name, lever in levers.items()
        }
        moves = (flexible @ force / value).reshape(many, 6)  # unit modal mass
        pulled = (started * heavy[:, 0]) @ moves[:, :3]  # (3 axes started, 3 ways)
        follows = np.diagonal(pulled) * moves[_NOSE, :3]
        modes.append(_mode(float(value), moves, BODIES, works, follows))
    return modes


def _levers(
    chain: _Chain, places: FloatArray, scale: FloatArray
) -> tuple[dict[str, FloatArray], FloatArray]:
    """Load in each part for forces and moments on the bodies, (6, 6 n); the bodies' flexibility.

    The last body of the chain and all behind it in ``places`` hang on every part.
    """
    many, levers = len(places), {}
    flexible = np.zeros((6 * many, 6 * many))
    for name, (compliance, place, first) in chain.items():
        lever = np.zeros((6, 6 * many))
        for body in range(first, many):
            lever[:, 6 * body : 6 * body + 6] = frame.carried(places[body] - place).T
        lever *= np.tile([*scale, 1.0, 1.0, 1.0], many)
        levers[name] = lever
        flexible += lever.T @ compliance @ lever
    return levers, flexible


def _table_mode(built: Frame, machine: MachineModel) -> FrameMode:
    """The lowest of the table alone on its wheels and its drive."""
    axis = "xy"[built.moving]
    give = wheel_set(built, built.moving).compliance()[:3, :3].copy()
    drive = along_only(built.moving, 3) / built.drive_n_per_mm(axis)
    mass = machine.axes[built.moving].mass_kg
    values, shapes = np.linalg.eigh(mass * (give + drive))
    shape = shapes[:, -1]
    works = {
        "table wheels": float(shape @ give @ shape),
        f"{axis.upper()} drive": float(shape @ drive @ shape),
    }
    follows = UNIT[built.moving] * shape**2  # one mass: its own share of the way it is started
    moves = np.concatenate([shape, np.zeros(3)])[None]
    return _mode(float(values[-1]), moves, ("table",), works, follows)


def _mode(
    value: float,
    moves: FloatArray,
    bodies: tuple[str, ...],
    works: dict[str, float],
    follows: FloatArray,
) -> FrameMode:
    shifts, turns = moves[:, :3], moves[:, 3:]
    shifts = shifts / max(np.abs(shifts).max(), 0.01 * _ARM_MM * np.abs(turns).max())
    whole = sum(works.values())
    shares = {name: work / whole for name, work in works.items()}
    return FrameMode(
        hertz=float(np.sqrt(1.0 / (value * N_PER_KG_MM_PER_S2))) / (2.0 * pi),
        moves=dict(zip(bodies, shifts, strict=True)),
        shares=dict(sorted(shares.items(), key=lambda item: -item[1])),
        follows=(*follows.tolist(),),
    )
