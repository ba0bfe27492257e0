"""The frame between table and spindle nose: how far the nose moves for each newton.

A gantry stands on two rows of wheels and is held along its travel by one drive or two: those parts
act side by side and are assembled as stiffness. What hangs on the beam (carriage, Z, spindle) comes
in a row and is added as compliance carried to the nose. Reference points: A and B, the two feet at
rail height, A on the side of low X or Y; M, the middle of the beam beside the cutter.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from kerfwright.machine.guides import table_stiffness_n_per_mm, wheel_stiffness_n_per_mm
from kerfwright.machine.materials import modulus_mpa, shear_modulus_mpa
from kerfwright.machine.model import FloatArray
from kerfwright.physics import beams, frame, sections

#: Grid over the travel, as shares of it, along X and Y and along Z (lowest first).
PLACES = np.linspace(0.0, 1.0, 5)
HEIGHTS = np.linspace(0.0, 1.0, 3)
#: A round mount of this radius, this far above the nose. Common practice, no source. [mm]
_MOUNT_RADIUS_MM, _MOUNT_ABOVE_NOSE_MM = 30.0, 40.0
#: Part of the distance from beam to spindle axis at which the Z wheels run. No source.
_Z_WHEELS_SHARE = 0.6
#: Share of an area that carries shear, for plates and thin boxes alike. Timoshenko.
_SHEAR_SHARE = 0.5
_UNIT: FloatArray = np.eye(3)
_UP: FloatArray = _UNIT[2]

Numbers = Mapping[str, float]
Choices = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nose:
    """Compliance at the spindle nose over the travel."""

    at_mm: tuple[FloatArray, FloatArray, FloatArray]
    compliance_mm_per_n: FloatArray  #: (nx, ny, nz, 3, 3)
    shares: dict[str, FloatArray]  #: part -> (nx, ny, nz, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """Numbers of the frame with its directions."""

    numbers: Numbers
    choices: Choices
    moving: int  #: index of the axis along which the gantry moves
    train_n_per_mm: Mapping[str, FloatArray]  #: one motor's train at PLACES of each axis

    @property
    def along(self) -> FloatArray:
        direction: FloatArray = _UNIT[self.moving]
        return direction

    @property
    def beam(self) -> FloatArray:
        direction: FloatArray = _UNIT[1 - self.moving]
        return direction

    def number(self, path: str) -> float:
        return self.numbers[path]

    def drive_n_per_mm(self, axis: str) -> FloatArray:
        return round(self.numbers[f"axes.{axis}.motors"]) * self.train_n_per_mm[axis]


def nose_compliance(
    numbers: Numbers, choices: Choices, train_n_per_mm: Mapping[str, FloatArray]
) -> Nose:
    """Assemble the frame.

    Parameters
    ----------
    numbers, choices : mapping
        By dotted path of machine.toml, complete.
    train_n_per_mm : mapping of axis to array (5,)
        Stiffness of one motor's train at ``PLACES`` of the travel. [N/mm]

    Returns
    -------
    Nose
        Force and movement both at the nose; the cutter is not in it.
    """
    moving = 0 if choices["frame.moves_along"] == "x" else 1
    built = _Frame(numbers=numbers, choices=choices, moving=moving, train_n_per_mm=train_n_per_mm)
    arm = _nose_arm(built)  # (nz, 3) from M
    parts = _gantry(built, arm) | _hanging(built, arm)
    # Parts have axes (along the beam, along the gantry's travel, height, 3, 3).
    shape = (len(PLACES), len(PLACES), len(HEIGHTS), 3, 3)
    parts = {name: np.broadcast_to(part, shape) for name, part in parts.items()}
    if moving == 0:
        parts = {name: np.swapaxes(part, 0, 1) for name, part in parts.items()}
    whole = np.sum(list(parts.values()), axis=0)
    own = np.diagonal(whole, axis1=-2, axis2=-1)
    shares = {name: np.diagonal(part, axis1=-2, axis2=-1) / own for name, part in parts.items()}
    travel_z = numbers["axes.z.travel"]
    grid = (
        PLACES * numbers["axes.x.travel"],
        PLACES * numbers["axes.y.travel"],
        numbers["table.nose_height"] - travel_z + HEIGHTS * travel_z,
    )
    return Nose(at_mm=grid, compliance_mm_per_n=whole, shares=shares)


def _nose_arm(built: _Frame) -> FloatArray:
    """From M to the nose at each height, lowest first. (nz, 3)"""
    down = built.number("frame.nose_below_beam") + (1.0 - HEIGHTS) * built.number("axes.z.travel")
    before = -built.number("frame.nose_before_beam") * built.along
    return before - down[:, None] * _UP


def _gantry(built: _Frame, nose_arm: FloatArray) -> dict[str, FloatArray]:
    """Parts that act side by side: compliance of each at the nose, (nb, nm, nz, 3, 3).

    With f a unit force at the nose, the work of one part is q^T c q of the load q inside it; the
    parts' works add up to f^T C f. The same holds for two different forces, so each part gets a
    whole matrix.
    """
    side_parts, arms = _sides(built)
    sides = [np.sum(list(parts.values()), axis=0) for parts in side_parts]  # (nb, 6, 6) at M
    stiff = np.zeros((len(PLACES), len(PLACES), 18, 18))
    for foot, side, arm in zip((0, 6), sides, arms, strict=True):
        held = frame.held_between(side, arm)[:, None]
        index = np.r_[foot : foot + 6, 12:18]
        stiff[..., index[:, None], index] += held
    wheels = _wheels(built, built.moving, share=0.5)
    stiff[..., 0:6, 0:6] += wheels
    stiff[..., 6:12, 6:12] += wheels
    bar, bar_arm = _cross_bar(built), built.number("frame.beam.length") * built.beam
    if bar is not None:
        stiff[..., 0:12, 0:12] += frame.held_between(bar, bar_arm)
    levers, springs = _gantry_drives(built)
    stiff += np.einsum("dm,di,dj->mij", springs, levers, levers)
    # (nb, nm, nz, 18, 3): movement under unit forces at the nose
    load = np.zeros((len(HEIGHTS), 18, 3))
    load[:, 12:, :] = np.swapaxes(frame.carried(nose_arm), -1, -2)[..., :3]
    columns = np.moveaxis(load, 0, 1).reshape(18, -1)
    flat = np.linalg.solve(stiff, np.broadcast_to(columns, (*stiff.shape[:-1], columns.shape[1])))
    moved: FloatArray = np.moveaxis(flat.reshape(*flat.shape[:-1], len(HEIGHTS), 3), -2, -3).astype(
        np.float64, copy=False
    )
    out: dict[str, FloatArray] = {
        "gantry wheels": _work(moved[..., 0:6, :], wheels) + _work(moved[..., 6:12, :], wheels)
    }
    pulled = np.einsum("di,bmzif->bmzdf", levers, moved)
    out[f"{'XY'[built.moving]} drive"] = np.einsum("dm,bmzdf,bmzdg->bmzfg", springs, pulled, pulled)
    if bar is not None:
        bent = moved[..., 6:12, :] - frame.carried(bar_arm) @ moved[..., 0:6, :]
        out["cross bar"] = _work(bent, np.asarray(np.linalg.inv(bar), dtype=np.float64))
    for foot, side, arm, parts in zip((0, 6), sides, arms, side_parts, strict=True):
        stretch = (
            moved[..., 12:18, :]
            - frame.carried(arm)[:, None, None] @ moved[..., foot : foot + 6, :]
        )
        inside = np.linalg.inv(side)[:, None, None] @ stretch
        for name, part in parts.items():
            work = _work(inside, part[:, None, None])
            out[name] = out[name] + work if name in out else work
    return out


def _sides(built: _Frame) -> tuple[list[dict[str, FloatArray]], list[FloatArray]]:
    """What joins each foot to M, as compliance at M (nb, 6, 6), and the arms foot to M."""
    length = built.number("frame.beam.length")
    travel = built.number("axes.y.travel" if built.moving == 0 else "axes.x.travel")
    at = np.clip(0.5 * (length - travel) + PLACES * travel, 0.05 * length, 0.95 * length)
    height = built.number("frame.upright.height")
    upright = _upright(built)
    grip = 0.5 * built.number("frame.beam.depth")  # bolts stand about this far from the middle
    give = 1.0 / built.number("frame.joint_stiffness")
    joint = np.diag([give] * 3 + [give / grip**2] * 3)
    sides, arms = [], []
    for way, reach in ((1.0, at), (-1.0, length - at)):
        across = way * reach[:, None] * built.beam
        arm = across + height * _UP
        sides.append(
            {
                "beam": _beam_part(built, reach, way * built.beam),
                "uprights": frame.seen_from(upright, across),
                "gantry joints": frame.seen_from(joint, across) + frame.seen_from(joint, arm),
            }
        )
        arms.append(arm)
    return sides, arms


def _beam_part(built: _Frame, reach_mm: FloatArray, direction: FloatArray) -> FloatArray:
    material = built.choices["frame.beam.material"]
    width, depth = built.number("frame.beam.width"), built.number("frame.beam.depth")
    wall = min(built.number("frame.beam.wall"), 0.499 * min(width, depth))
    young, shear = modulus_mpa(material), shear_modulus_mpa(material)
    area = float(sections.rectangle_tube_area_mm2(width, depth, wall))
    twist = float(sections.rectangle_tube_torsion_mm4(width, depth, wall))
    if wall > 0.25 * min(width, depth):  # thick: Bredt no longer holds, take the solid bar
        twist = float(sections.rectangle_bar_torsion_mm4(max(width, depth), min(width, depth)))
    local = frame.bar_compliance(
        reach_mm,
        young * area,
        young * sections.rectangle_tube_second_moment_mm4(width, depth, wall),
        young * sections.rectangle_tube_second_moment_mm4(depth, width, wall),
        shear * twist,
        _SHEAR_SHARE * shear * area,
        _SHEAR_SHARE * shear * area,
    )
    return _into(local, direction, np.cross(_UP, direction))


def _upright(built: _Frame) -> FloatArray:
    """At its top, the foot held."""
    return _plate(
        built.choices["frame.upright.material"],
        built.number("frame.upright.height"),
        built.number("frame.upright.width"),
        built.number("frame.upright.thickness"),
        _UP,
        built.beam,  # thin along the beam
    )


def _plate(
    material: str,
    length_mm: FloatArray | float,
    width_mm: float,
    thickness_mm: float,
    direction: FloatArray,
    thin: FloatArray,
) -> FloatArray:
    """A flat bar along ``direction``, ``thickness_mm`` measured along ``thin``."""
    young, shear = modulus_mpa(material), shear_modulus_mpa(material)
    area = width_mm * thickness_mm
    flat, tall = sorted((width_mm, thickness_mm))
    local = frame.bar_compliance(
        length_mm,
        young * area,
        young * thickness_mm * width_mm**3 / 12.0,  # about the thin direction: stiff
        young * width_mm * thickness_mm**3 / 12.0,
        shear * sections.rectangle_bar_torsion_mm4(tall, flat),
        _SHEAR_SHARE * shear * area,
        _SHEAR_SHARE * shear * area,
    )
    return _into(local, direction, thin)


def _cross_bar(built: _Frame) -> FloatArray | None:
    """Joins the feet at rail height: at B, with A held. None where there is none."""
    if "frame.cross_bar.width" not in built.numbers:
        return None
    return _plate(
        built.choices["frame.cross_bar.material"],
        built.number("frame.beam.length"),
        built.number("frame.cross_bar.width"),
        built.number("frame.cross_bar.thickness"),
        built.beam,
        _UP,
    )


def _hanging(built: _Frame, nose_arm: FloatArray) -> dict[str, FloatArray]:
    """Parts in a row from the beam to the nose, at the nose; the table with them."""
    beam_axis, depth = 1 - built.moving, built.number("frame.beam.width")
    before = built.number("frame.nose_before_beam")
    forward = -built.along
    to_carriage = min(0.5 * depth, before) * forward
    to_z = max(_Z_WHEELS_SHARE * before, min(0.5 * depth, before)) * forward
    plate_down = -nose_arm[:, 2].clip(max=-20.0)
    plate = _plate(
        built.choices["frame.z_plate.material"],
        plate_down,
        built.number("frame.z_plate.width"),
        built.number("frame.z_plate.thickness"),
        -_UP,
        built.along,
    )
    give = 1.0 / built.number("frame.mount_stiffness")
    mount = np.diag([give] * 3 + [give / _MOUNT_RADIUS_MM**2] * 3)
    plate_end = to_z - plate_down[:, None] * _UP
    axis = "xy"[beam_axis]
    carriage_drive = built.drive_n_per_mm(axis)[:, None, None, None, None]
    on_beam = _translation(_UNIT[beam_axis]) / carriage_drive
    z_drive = (
        _translation(_UP)
        / np.interp(1.0 - HEIGHTS, PLACES, built.drive_n_per_mm("z"))[:, None, None]
    )
    table = np.zeros((3, 3))
    table[2, 2] = 1.0 / table_stiffness_n_per_mm(built.numbers, built.choices)
    return {
        "carriage wheels": _at_nose(_wheel_give(built, beam_axis), nose_arm - to_carriage),
        f"{axis.upper()} drive": on_beam,
        "Z wheels": _at_nose(_wheel_give(built, 2), nose_arm - to_z),
        "Z drive": z_drive,
        "Z plate": _at_nose(plate, nose_arm - plate_end),
        "spindle mount": _at_nose(mount, -_MOUNT_ABOVE_NOSE_MM * _UP),
        "table": table,
    }


def _wheel_diagonal(built: _Frame, axis: int, share: float) -> FloatArray:
    """Stiffness of a set of wheels in its own axes: free, radial, normal. (6,) with 0 for free."""
    radial, axial = wheel_stiffness_n_per_mm(built.numbers, built.choices)
    at = f"rails.{'xyz'[axis]}."
    count = max(round(built.number(at + "wheels")) * share, 1.0)
    along, across = built.number(at + "along") / 2.0, built.number(at + "across") / 2.0
    return count * np.array(
        [0.0, radial, axial, axial * across**2, axial * along**2, radial * along**2]
    )


def _wheel_axes(built: _Frame, axis: int) -> FloatArray:
    """Turns the wheels' own axes into X, Y, Z. (6, 6)

    Gantry: plates stand at the sides, radial is up. Carriage: on the beam's face, radial is up.
    Z: on the front, radial is along the beam.
    """
    free, radial = _UNIT[axis], built.beam if axis == 2 else _UP
    return _axes(free, radial)


def _wheels(built: _Frame, axis: int, share: float) -> FloatArray:
    """Stiffness of a set of wheels, none along the rail. (6, 6)"""
    turn = _wheel_axes(built, axis)
    stiffness: FloatArray = turn @ np.diag(_wheel_diagonal(built, axis, share)) @ turn.T
    return stiffness


def _wheel_give(built: _Frame, axis: int) -> FloatArray:
    """Compliance of a set of wheels held along the rail. (6, 6)"""
    turn, give = _wheel_axes(built, axis), np.zeros(6)
    give[1:] = 1.0 / _wheel_diagonal(built, axis, 1.0)[1:]
    compliance: FloatArray = turn @ np.diag(give) @ turn.T
    return compliance


def _gantry_drives(built: _Frame) -> tuple[FloatArray, FloatArray]:
    """Levers on the movement of (A, B, M) and stiffness at PLACES: (nd, 18) and (nd, nm)."""
    axis = "xy"[built.moving]
    train = built.train_n_per_mm[axis]
    if round(built.number(f"axes.{axis}.motors")) == 2:
        parts = [(1.0, 0.0), (0.0, 1.0)]
    else:
        place = built.choices["frame.drive_at"]
        parts = [{"middle": (0.5, 0.5), "low side": (1.0, 0.0), "high side": (0.0, 1.0)}[place]]
        if place == "middle":
            train = 1.0 / (1.0 / train + _bar_bend_mm_per_n(built))
    levers = np.zeros((len(parts), 18))
    for row, (low, high) in enumerate(parts):
        levers[row, built.moving], levers[row, 6 + built.moving] = low, high
    return levers, np.tile(train, (len(parts), 1))


def _bar_bend_mm_per_n(built: _Frame) -> float:
    """The cross bar bent by the screw that pulls in its middle, along the travel. [mm/N]"""
    width, thickness = (built.number(f"frame.cross_bar.{key}") for key in ("width", "thickness"))
    modulus = modulus_mpa(built.choices["frame.cross_bar.material"])
    second_moment = thickness * width**3 / 12.0
    length = built.number("frame.beam.length")
    return float(beams.supported_mid_mm(1.0, length, modulus, second_moment))


def _work(moved: FloatArray, matrix: FloatArray) -> FloatArray:
    """Work matrix over the last axis (forces): m^T K m."""
    result: FloatArray = np.swapaxes(moved, -1, -2) @ matrix @ moved
    return result


def _at_nose(compliance: FloatArray, arm_mm: FloatArray) -> FloatArray:
    """Translations alone, with a force at the nose."""
    return frame.seen_from(compliance, arm_mm)[..., :3, :3]


def _translation(direction: FloatArray) -> FloatArray:
    return np.outer(direction, direction)


def _axes(first: FloatArray, second: FloatArray) -> FloatArray:
    return frame.turned(np.stack((first, second, np.cross(first, second)), axis=-1))


def _into(local: FloatArray, first: FloatArray, second: FloatArray) -> FloatArray:
    """A compliance from local axes (first, second, first x second) into X, Y, Z."""
    turn = _axes(first, second)
    result: FloatArray = turn @ local @ turn.T
    return result
