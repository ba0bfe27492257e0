"""The frame between table and spindle nose: how far the nose moves for each newton.

A gantry stands on two rows of wheels and is held along its travel by one drive or two: those parts
act side by side and are assembled as stiffness. What hangs on the beam (carriage, Z, spindle) comes
in a row and is added as compliance carried to the nose. So is a table that moves under a gantry
that stands still. A push that was tried replaces what was computed: all is scaled to it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.machine.bed import bed_parts
from kerfwright.machine.drive import axis_model
from kerfwright.machine.entries import AXES
from kerfwright.machine.frame_parts import (
    UP,
    Frame,
    WheelSet,
    along_only,
    into,
    lined_up,
    on_diagonal,
    plate_section,
    row,
    wheel_set,
)
from kerfwright.machine.gantry import gantry_parts
from kerfwright.machine.guides import Choices, Numbers
from kerfwright.machine.model import FloatArray
from kerfwright.machine.moving_table import standing_gantry, table_parts
from kerfwright.physics import frame

#: Grid over the travel, as shares of it, along X and Y and up Z from its lowest.
PLACES = np.linspace(0.0, 1.0, 5)
HEIGHTS = np.linspace(0.0, 1.0, 3)
_DOWN = np.array([4, 2, 0])  #: a screw counts from the top: which of ``PLACES`` are ``HEIGHTS``
#: A round mount of this radius, this far above the nose. Common practice, no source. [mm]
_MOUNT_RADIUS_MM, _MOUNT_ABOVE_NOSE_MM = 30.0, 40.0
#: Part of the distance from beam to spindle axis at which the Z wheels run. No source.
_Z_WHEELS_SHARE = 0.6

#: Z carriages less far apart along their rails than that are one row.
_ONE_ROW_MM = 20.0

_Loads = dict[str, FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nose:
    """Compliance at the spindle nose over the travel; of many machines by their number first."""

    at_mm: tuple[FloatArray, FloatArray, FloatArray]
    compliance_mm_per_n: FloatArray  #: (nx, ny, nz, 3, 3)
    pushed_scale: FloatArray  #: (3,), see ``pushed_scale``
    shares: dict[str, FloatArray]  #: part -> (nx, ny, nz, 3)
    wheel_loads: dict[str, FloatArray]  #: set of wheels -> (nx, ny, nz, 3), worst wheel [N/N]


def nose_compliances(
    numbers: Sequence[Mapping[str, float]],
    choices: Choices,
    train_n_per_mm: Sequence[Mapping[str, FloatArray]],
) -> list[Nose]:
    """Assemble the frames of machines that one description may be.

    Parameters
    ----------
    numbers, choices : sequence of mapping, mapping
        By dotted path of machine.toml, complete.
    train_n_per_mm : sequence of mapping of axis to array (5,)
        Stiffness of one motor's train at ``PLACES`` of the travel. [N/mm]

    Returns
    -------
    list of Nose
        Force and movement both at the nose; the cutter is not in it.

    Notes
    -----
    Those that are made up of the same parts are assembled together, array by array.
    """
    alike: dict[tuple[object, ...], list[int]] = {}
    for k, one in enumerate(numbers):
        alike.setdefault(_made_up(one, choices), []).append(k)
    out: dict[int, Nose] = {}
    for those in alike.values():
        if len(those) == 1:
            own: tuple[Numbers, Mapping[str, FloatArray]]
            own = numbers[those[0]], train_n_per_mm[those[0]]
            out[those[0]] = _nose(*own, choices)
            continue
        columns = {path: np.array([numbers[k][path] for k in those]) for path in numbers[0]}
        trains = {axis: np.stack([train_n_per_mm[k][axis] for k in those]) for axis in AXES}
        out |= zip(those, _apart(_nose(columns, trains, choices), len(those)), strict=True)
    return [out[k] for k in range(len(numbers))]


def _made_up(numbers: Mapping[str, float], choices: Choices) -> tuple[object, ...]:
    """What decides of which parts a frame is made up."""
    axis = choices["frame.moves_along"]
    return (
        round(numbers[f"axes.{axis}.motors"]),
        numbers.get("rails.z.along", 0.0) < _ONE_ROW_MM,
    )


def _apart(nose: Nose, many: int) -> Iterator[Nose]:
    """What was assembled together, machine by machine."""
    for k in range(many):
        yield Nose(
            at_mm=(nose.at_mm[0][k], nose.at_mm[1][k], nose.at_mm[2][k]),
            compliance_mm_per_n=nose.compliance_mm_per_n[k],
            pushed_scale=nose.pushed_scale[k],
            shares={name: part[k] for name, part in nose.shares.items()},
            wheel_loads={name: part[k] for name, part in nose.wheel_loads.items()},
        )


def _nose(numbers: Numbers, train_n_per_mm: Mapping[str, FloatArray], choices: Choices) -> Nose:
    built = Frame(
        numbers=numbers,
        choices=choices,
        moving=_moving(choices),
        places=(PLACES, PLACES, HEIGHTS),
        train_n_per_mm={**train_n_per_mm, "z": train_n_per_mm["z"][..., _DOWN]},
    )  # fmt: skip
    parts, loads = parts_at_nose(built, 3)
    scale = pushed_scale(parts, built)
    parts = scaled(parts, built, scale)
    whole = np.sum(list(parts.values()), axis=0)
    own = np.diagonal(whole, axis1=-2, axis2=-1)
    shares = {name: np.diagonal(part, axis1=-2, axis2=-1) / own for name, part in parts.items()}
    return Nose(
        at_mm=places_mm(built),
        compliance_mm_per_n=whole,
        pushed_scale=scale,
        shares=shares,
        wheel_loads=loads,
    )


def frame_at(
    numbers: Mapping[str, float],
    choices: Choices,
    x: FloatArray,
    y: FloatArray,
    heights: FloatArray,
) -> Frame:
    """The frame at other places: shares as in ``Frame.places``, each rising."""
    shares = {"x": x, "y": y, "z": (1.0 - heights)[::-1]}  # a screw counts from the top
    trains = {axis: axis_model(axis, numbers, choices, shares[axis])[1] for axis in AXES}
    return Frame(
        numbers=numbers,
        choices=choices,
        moving=_moving(choices),
        places=(x, y, heights),
        train_n_per_mm=trains | {"z": trains["z"][::-1]},
    )


def places_mm(built: Frame) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Machine X, machine Y and the nose's height above the table at the frame's places."""
    x, y, heights = built.places
    travel_z = built.number("axes.z.travel", 1)
    return (
        x * built.number("axes.x.travel", 1),
        y * built.number("axes.y.travel", 1),
        built.number("table.nose_height", 1) - travel_z + heights * travel_z,
    )


def parts_at_nose(built: Frame, kinds: int) -> tuple[dict[str, FloatArray], _Loads]:
    """Compliance of every part at the nose, and the load on the worst wheel of each set.

    Parameters
    ----------
    built : Frame
        The frame.
    kinds : int
        3 for forces at the nose, 6 for forces and moments.

    Returns
    -------
    dict of array (nx, ny, nz, kinds, kinds), dict of array (nx, ny, nz, kinds)
        [mm, rad; N]
    """
    arm = nose_arm_of(built)  # (nz, 3) from M
    hanging, loads = _hanging(built, arm, kinds)
    standing, rolling = _standing(built, arm, kinds)
    return (
        _over_travel(built, standing | hanging | bed_parts(built, kinds), kinds, kinds),
        _over_travel(built, rolling | loads, kinds),
    )


def _moving(choices: Choices) -> int:
    return 0 if choices["frame.moves_along"] == "x" else 1


def below(choices: Choices) -> frozenset[str]:
    """Parts on the work's side: a push by hand at the nose does not load them."""
    moved = {"table wheels", f"{choices['frame.moves_along'].upper()} drive"}
    return frozenset(
        {"table", "table joints"} | (moved if choices["frame.moves"] == "table" else set())
    )


def pushed_scale(parts: Mapping[str, FloatArray], built: Frame) -> FloatArray:
    """What pushes along X, Y, Z, in the middle with Z down, make of the computed give. (3,)

    With S this on a diagonal, S C S stays symmetric and above 0, and the parts above the work keep
    their proportions; 1 where nothing was tried. ``parts`` (nx, ny, nz, 3, 3) each.
    """
    at = (len(PLACES) // 2, len(PLACES) // 2, 0)
    hidden = below(built.choices)
    scale = np.ones((*built.number("axes.z.travel").shape, 3))
    for index, axis in enumerate("xyz"):
        tried = built.numbers.get(f"frame.pushed_{axis}")
        if tried is not None:
            own = sum(
                p[(..., *at, index, index)] for name, p in parts.items() if name not in hidden
            )
            scale[..., index] = 1.0 / np.sqrt(tried * own)
    return scale


def scaled(
    parts: Mapping[str, FloatArray], built: Frame, scale: FloatArray
) -> dict[str, FloatArray]:
    """The parts as pushes that were tried have them; moments and what lies below stay."""
    hidden = below(built.choices)
    out = {}
    for name, part in parts.items():
        each = np.ones((*scale.shape[:-1], part.shape[-1]))
        if name not in hidden:
            each[..., :3] = scale
        each = lined_up(each, part.ndim - 1, 1)
        out[name] = each[..., None] * part * each[..., None, :]
    return out


def _standing(
    built: Frame, nose_arm: FloatArray, kinds: int
) -> tuple[dict[str, FloatArray], _Loads]:
    """What the hanging parts stand on, and the load on its wheels."""
    load = np.swapaxes(frame.carried(nose_arm), -1, -2)[..., :kinds]
    if built.choices["frame.moves"] == "gantry":
        return gantry_parts(built, load)
    below, rolling = table_parts(built, kinds)
    return standing_gantry(built, load) | below, rolling


def _over_travel(
    built: Frame, parts: Mapping[str, FloatArray], *more: int
) -> dict[str, FloatArray]:
    """From (along the beam, along the gantry's travel, height, ...) to (nx, ny, nz, ...)."""
    draws, inner = built.number("axes.z.travel").shape, len(more)
    shape = (*draws, len(built.beside), len(built.onward), len(built.heights), *more)
    whole = {}
    for name, part in parts.items():
        own = part.reshape(  # axes of places that it has none of, behind that of the draws
            draws + (1,) * (len(shape) - part.ndim) + part.shape[len(draws) :]
        )
        whole[name] = np.broadcast_to(own, shape)
    if built.moving == 0:
        whole = {name: np.swapaxes(part, -inner - 3, -inner - 2) for name, part in whole.items()}
    return whole


def nose_arm_of(built: Frame) -> FloatArray:
    """From M to the nose at each height, lowest first. (nz, 3)"""
    lower = (1.0 - built.heights) * built.number("axes.z.travel", 1)
    down = built.number("frame.nose_below_beam", 1) + lower
    before = -built.number("frame.nose_before_beam", 1) * built.along
    return np.asarray(before[..., None, :] - down[..., None] * UP)


def _hanging(
    built: Frame, nose_arm: FloatArray, kinds: int
) -> tuple[dict[str, FloatArray], _Loads]:
    """Parts in a row from the beam to the nose, at the nose, and the load on the worst wheels."""
    parts, loads = {}, {}
    for name, (compliance, place, wheels) in hanging_on_beam(built, nose_arm).items():
        arm = nose_arm - lined_up(place, nose_arm.ndim, 1)
        compliance = lined_up(compliance, nose_arm.ndim + 1)
        parts[name] = frame.seen_from(compliance, arm)[..., :kinds, :kinds]
        if wheels is not None:
            pushed = np.swapaxes(frame.carried(arm), -1, -2)[..., :kinds]
            loads[name] = wheels.worst_wheel(pushed)
    return parts | _drives(built, 1 - built.moving, kinds), loads


def hanging_on_beam(
    built: Frame, nose_arm: FloatArray
) -> dict[str, tuple[FloatArray, FloatArray, WheelSet | None]]:
    """What hangs on the beam but the drives: compliance, its place from M, and its wheels."""
    beam_axis, reach = 1 - built.moving, built.number("frame.beam.width", 1) / 2.0
    before, forward = built.number("frame.nose_before_beam", 1), -built.along
    reach = np.minimum(reach, before)
    to_carriage = reach * forward
    to_z = np.maximum(_Z_WHEELS_SHARE * before, reach) * forward
    carriage, z = wheel_set(built, beam_axis), wheel_set(built, 2)
    z_plate, below_wheels = _z_plate(built, nose_arm, z)
    give = 1.0 / built.number("frame.mount_stiffness")
    mount = on_diagonal(row(*[give] * 3, *[give / _MOUNT_RADIUS_MM**2] * 3))
    return {
        "Z plate": (z_plate, to_z[..., None, :] - below_wheels[..., None] * UP, None),
        "spindle mount": (mount, nose_arm + _MOUNT_ABOVE_NOSE_MM * UP, None),
        "carriage wheels": (carriage.compliance(), to_carriage, carriage),
        "Z wheels": (z.compliance(), to_z, z),
    }


def _z_plate(built: Frame, nose_arm: FloatArray, wheels: WheelSet) -> tuple[FloatArray, FloatArray]:
    """The Z plate where its free length ends: (nz, 6, 6), and how far below the wheels' middle.

    It is held by the upper and the lower wheels, and stiff where the spindle is clamped to it. What
    twists between the two is what both together give less than the lower alone.
    """
    grip = _MOUNT_ABOVE_NOSE_MM + 0.5 * built.number("frame.z_plate.clamped", 1)
    below = -nose_arm[..., 2] - grip
    section = plate_section(
        built.choices["frame.z_plate.material"],
        built.number("frame.z_plate.width", 1),
        built.number("frame.z_plate.thickness", 1),
    )
    apart = np.ptp(wheels.at_mm[..., 0], axis=-1)[..., None]
    if (
        apart < _ONE_ROW_MM
    ).all():  # carriages side by side, which keep it from turning by themselves
        below = np.maximum(below, 1.0)
        return into(frame.bar_compliance(below, *section), -UP, built.along), below
    below = np.maximum(below, -0.5 * apart)
    local = frame.on_two_supports(below - 0.5 * apart, apart, *section)
    one = 2.0 * wheels.compliance()[..., 5, 5, None]  # turned about Z on one row of wheels
    upper = np.clip(below + 0.5 * apart, 0.0, apart) / section[3]
    lower = apart / section[3] - upper
    both = (one + upper) * (one + lower) / (2.0 * one + upper + lower)
    local[..., 3, 3] += both - 0.5 * one
    return into(local, -UP, built.along), below


def _drives(built: Frame, beam_axis: int, kinds: int) -> dict[str, FloatArray]:
    """Drives of carriage and Z: each gives along one axis."""
    axis = "xy"[beam_axis]
    carriage = built.drive_n_per_mm(axis)[..., None, None, None, None]
    z = built.drive_n_per_mm("z")[..., None, None]
    return {
        f"{axis.upper()} drive": along_only(beam_axis, kinds) / carriage,
        "Z drive": along_only(2, kinds) / z,
    }
