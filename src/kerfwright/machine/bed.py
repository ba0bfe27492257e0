"""The table under the cutter: how it bends, shears and shifts on what carries it.

A plate of elements, free but for springs where it is fastened to what carries the rails. The cutter
pushes the work and the table with what pushes it back, so the table's give counts at the nose. What
the bench stands on is not in it: no cutting force passes through that.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from kerfwright.machine.frame_parts import UP, Frame
from kerfwright.machine.materials import modulus_mpa, poisson, shear_modulus_mpa
from kerfwright.machine.model import FloatArray
from kerfwright.physics import frame, plates, sandwich
from kerfwright.physics.domain import array

#: A force on the table comes through a board: spread evenly over so much either way. Common
#: practice, no source. [mm]
_SPREAD_MM = 75.0
#: Highest polynomials of the plate, bent and in its plane.
_BENT, _STRETCHED = 8, 4
#: Springs that hold the plate while it is solved once for all joints. [N/mm]
_HELD_N_PER_MM = 1e4
#: What wheels count as here, sideways and upright: their own give is told by itself, and they do
#: not keep the underside from stretching. [N/mm]
_WHEEL_N_PER_MM = (_HELD_N_PER_MM, _HELD_N_PER_MM, 1e8)
#: How far the outermost joints of a bearer stand apart, as a share of the table: no source.
_JOINTS_APART = 0.9
#: Wheels of a table stand this far apart at least. [mm]
_LEAST_APART_MM = 20.0


def bed_parts(built: Frame, kinds: int) -> dict[str, FloatArray]:
    """What the table gives between the nose and what carries the rails.

    Parameters
    ----------
    built : Frame
        The frame.
    kinds : int
        3 for forces at the nose, 6 for forces and moments.

    Returns
    -------
    dict of array (nb, nt, nz, kinds, kinds)
        First along the beam, then along the travel under it. [mm, rad; N]
    """
    x, y, heights = built.places
    travel = built.number("axes.z.travel", 1)
    above = built.number("table.nose_height", 1) - travel + heights * travel
    up = (above + 0.5 * thickness_mm(built)[..., None])[..., None, None, :, None] * UP
    each = _at_beds(
        [
            (one, x * one.plain["axes.x.travel"], y * one.plain["axes.y.travel"])
            for one in built.each()
        ]
    )
    out = {}
    for name in each[0]:
        part = np.stack([parts[name] for parts in each]) if built.many else each[0][name]
        seen = frame.seen_from(part[..., None, :, :], up)[..., :kinds, :kinds]
        out[name] = seen if built.moving == 1 else np.swapaxes(seen, -5, -4)
    return out


def thickness_mm(built: Frame) -> FloatArray:
    """Of the table, skins and all; 0 where it was pushed and not described. [mm]"""
    core, skin = (array(built.numbers.get(f"table.{key}", 0.0)) for key in ("core", "skin"))
    return np.asarray(core + np.where(core > 0.0, 2.0, 1.0) * skin)


def at_bed(built: Frame, x_mm: FloatArray, y_mm: FloatArray) -> dict[str, FloatArray]:
    """The table's parts under places in machine X and Y, at its middle plane. (nx, ny, 6, 6)"""
    return _at_beds([(built, x_mm, y_mm)])[0]


def _at_beds(
    each: Sequence[tuple[Frame, FloatArray, FloatArray]],
) -> list[dict[str, FloatArray]]:
    """The same of many machines."""
    places = [_on_table(*one) for one in each]
    if "table.stiffness" in each[0][0].plain:
        return [_pushed(built, at) for (built, _, _), at in zip(each, places, strict=True)]
    together: dict[tuple[float, float], list[int]] = {}
    for k, (built, _, _) in enumerate(each):
        together.setdefault(_size(built), []).append(k)
    out: dict[int, dict[str, FloatArray]] = {}
    for size, those in together.items():
        grids = [np.meshgrid(*places[k], indexing="ij") for k in those]
        all_at = np.concatenate([np.stack(xy, axis=-1).reshape(-1, 2) for xy in grids])
        shapes = _Shapes.of(np.array(size), all_at)
        for number, k in enumerate(those):
            out[k] = _held(each[k][0], grids[0][0].shape, shapes.part(number, len(those)))
    return [out[k] for k in range(len(each))]


def _size(built: Frame) -> tuple[float, float]:
    return built.plain["table.width"], built.plain["table.depth"]


def _on_table(built: Frame, x_mm: FloatArray, y_mm: FloatArray) -> list[FloatArray]:
    """Places from the table's middle. Beyond its edge the table gives as at the edge."""
    size = np.array([built.plain["table.width"], built.plain["table.depth"]])
    middle = np.array([built.plain["table.left"], built.plain["table.front"]]) + 0.5 * size
    return [
        np.clip(place - m, -0.5 * s, 0.5 * s)
        for place, m, s in zip((x_mm, y_mm), middle, size, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Shapes:
    """What the polynomials are under places, spread: bent, in the plane, and their slopes."""

    bent: FloatArray
    flat: FloatArray
    slope_x: FloatArray
    slope_y: FloatArray

    @classmethod
    def of(cls, size: FloatArray, at_mm: FloatArray) -> "_Shapes":
        bent, _, _ = plates.shapes_over(size, at_mm, _SPREAD_MM, _BENT)
        return cls(bent, *plates.shapes_over(size, at_mm, _SPREAD_MM, _STRETCHED))

    def part(self, number: int, parts: int) -> "_Shapes":
        """One of so many even parts of the places."""
        many = len(self.bent) // parts
        own = slice(number * many, (number + 1) * many)
        return _Shapes(self.bent[own], self.flat[own], self.slope_x[own], self.slope_y[own])


def _held(built: Frame, shape: tuple[int, ...], shapes: _Shapes) -> dict[str, FloatArray]:
    """The parts of a table that was described."""
    joints, stiff = _joints(built)
    plate, own = _plate_on_springs(built, shapes, joints, np.array(stiff))
    plate[:, 2, 2] += _dent_mm_per_n(built)
    out = {"table": plate.reshape(*shape, 6, 6)}
    if built.choices["frame.moves"] != "table":  # its wheels are told by themselves
        out["table joints"] = own.reshape(*shape, 6, 6)
    return out


def _joints(
    built: Frame,
) -> tuple[tuple[tuple[float, float], ...], tuple[float, ...]]:
    """Where the table is held, from its middle, and how stiffly along X, Y, Z. [mm, N/mm]"""
    size = _size(built)
    apart = built.plain.get("table.between_supports", size[0])
    if built.choices["frame.moves"] == "table":
        axis = "xy"[built.moving]
        half = [
            0.5 * max(built.plain[f"rails.{axis}.{key}"], _LEAST_APART_MM)
            for key in ("along", "across")
        ]
        x, y = half if built.moving == 0 else half[::-1]
        return tuple((s * x, t * y) for s in (-1.0, 1.0) for t in (-1.0, 1.0)), _WHEEL_N_PER_MM
    each = max(round(built.plain["table.joints"]) // 2, 2)
    ends = 0.5 * _JOINTS_APART * size[1]
    rows = np.linspace(-ends, ends, each)
    places = tuple((s * 0.5 * apart, float(y)) for s in (-1.0, 1.0) for y in rows)
    return places, (built.plain["table.joint_stiffness"],) * 3


def _sheet(built: Frame) -> tuple[float, float, float, float]:
    """Bending, shear, stretch for each mm of width, and Poisson's ratio."""
    material = built.choices["table.material"]
    young, ratio = modulus_mpa(material), poisson(material)
    skin, core = built.plain["table.skin"], built.plain["table.core"]
    wide = 1.0 - ratio**2
    if core <= 0.0:
        bending = float(plates.flexural_rigidity_nmm(young, skin, ratio))
        return bending, 5.0 / 6.0 * shear_modulus_mpa(material) * skin, young * skin / wide, ratio
    shear = sandwich.ribbed_core_shear_mpa(
        shear_modulus_mpa(material), built.plain["table.rib"], built.plain["table.ribs_apart"]
    )
    return (
        float(sandwich.bending_stiffness_nmm2(1.0, skin, core, young / wide)),
        float(sandwich.shear_stiffness_n(1.0, skin, core, shear)),
        2.0 * skin * young / wide,
        ratio,
    )


def _dent_mm_per_n(built: Frame) -> float:
    """The upper skin between ribs, under a force in the middle of a cell."""
    if built.plain["table.core"] <= 0.0:
        return 0.0
    material = built.choices["table.material"]
    return float(
        sandwich.skin_dent_mm(
            1.0,
            built.plain["table.ribs_apart"],
            built.plain["table.skin"],
            modulus_mpa(material),
            poisson(material),
        )
    )


def _pushed(built: Frame, at: list[FloatArray]) -> dict[str, FloatArray]:
    """A table whose sag was tried: stiff but for that, and for its joints sideways."""
    (joints, (stiff, *_)), given = _joints(built), built.plain["table.stiffness"]
    x, y = np.meshgrid(*at, indexing="ij")
    table = np.zeros((*x.shape, 6, 6))
    table[..., 2, 2] = 1.0 / given
    places = np.array(joints)
    apart = np.diag([1.0 / (len(places) * stiff)] * 2 + [1.0 / (stiff * float((places**2).sum()))])
    lever = np.zeros((*x.shape, 3, 3))
    lever[..., range(3), range(3)] = 1.0
    lever[..., 0, 2], lever[..., 1, 2] = -y, x
    moved = np.zeros_like(table)
    index = np.array([0, 1, 5])
    moved[..., index[:, None], index] = lever @ apart @ np.swapaxes(lever, -1, -2)
    return {"table": table, "table joints": moved}


def _plate_on_springs(
    built: Frame, shapes: _Shapes, joints: tuple[tuple[float, float], ...], stiff: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give of the plate and of its joints at places, (places, 6, 6) each.

    Bent and stretched apart from one another, held in the middle plane; then the joints, half the
    thickness below it, are put in the place of what held it.
    """
    bending, shear, stretch, ratio = _sheet(built)
    size, below = _size(built), -0.5 * float(thickness_mm(built))
    bent = _Solved.of(
        *_held_bent(size, bending, shear, ratio, below, joints), _each_apart(shapes.bent, 3)
    )
    turned = 0.5 * np.concatenate([-shapes.slope_y, shapes.slope_x], axis=1)
    flat = _Solved.of(
        *_held_flat(size, stretch, ratio, joints),
        np.concatenate([_each_apart(shapes.flat, 2), turned]),
    )
    return _on_joints(bent, flat, stiff, len(joints))


def _each_apart(shapes: FloatArray, fields: int) -> FloatArray:
    """The same shapes for each of some fields, which do not meet. (fields k, fields n)"""
    places, numbers = shapes.shape
    out = np.zeros((fields, places, fields, numbers))
    for field in range(fields):
        out[field, :, field] = shapes
    return out.reshape(fields * places, fields * numbers)


@lru_cache(maxsize=8)
def _held_flat(
    size: tuple[float, float],
    stretch: float,
    ratio: float,
    joints: tuple[tuple[float, float], ...],
) -> tuple[FloatArray, FloatArray]:
    """The same of the plate in its plane."""
    fixed = plates.shapes_at(np.array(size), np.array(joints), _STRETCHED)
    sideways = _each_apart(fixed, 2)
    held = plates.stretching_matrix(np.array(size), stretch, ratio, _STRETCHED)
    held += _HELD_N_PER_MM * sideways.T @ sideways
    none = np.zeros((len(joints), sideways.shape[1]))
    return held, np.concatenate([none, sideways, sideways])


@lru_cache(maxsize=8)
def _held_bent(
    size: tuple[float, float],
    bending: float,
    shear: float,
    ratio: float,
    below_mm: float,
    joints: tuple[tuple[float, float], ...],
) -> tuple[FloatArray, FloatArray]:
    """The bent plate held at its joints, and what springs feel of it; kept for a known table."""
    fixed = plates.shapes_at(np.array(size), np.array(joints), _BENT)
    w, x, y = (np.kron(one, fixed) for one in np.eye(3)[:, None])
    held = plates.bending_matrix(np.array(size), bending, shear, ratio, _BENT)
    held += _HELD_N_PER_MM * w.T @ w
    none = np.zeros_like(w)
    return held, np.concatenate([w, none, none, below_mm * y, -below_mm * x])


@dataclass(frozen=True, slots=True)
class _Solved:
    """A plate's give between springs, between places, and from the one to the other."""

    springs: FloatArray  #: (s, s)
    across: FloatArray  #: (s, places, 3)
    places: FloatArray  #: (places, 3, 3)

    @classmethod
    def of(cls, stiffness: FloatArray, springs: FloatArray, loads: FloatArray) -> "_Solved":
        """Rows: what each spring feels, and what each of three loads at all places works on."""
        moved = plates.solved(stiffness, np.concatenate([springs, loads]).T)
        first, then = moved[:, : len(springs)], moved[:, len(springs) :]
        many = len(loads) // 3
        own, moves = loads.reshape(3, many, -1), then.reshape(-1, 3, many)
        return cls(
            springs @ first,
            (springs @ then).reshape(-1, 3, many).swapaxes(1, 2),
            own.swapaxes(0, 1) @ moves.transpose(2, 0, 1),
        )


def _on_joints(
    bent: _Solved, flat: _Solved, stiff: FloatArray, many: int
) -> tuple[FloatArray, FloatArray]:
    """The held plate set on its joints instead.

    Springs: w, u, v in the middle plane, then u, v of the joints.
    """
    up, side = np.array([2, 3, 4]), np.array([0, 1, 5])
    places = len(bent.places)
    across, own = np.zeros((5 * many, places, 6)), np.zeros((places, 6, 6))
    across[..., up], across[..., side] = bent.across, flat.across
    own[:, up[:, None], up], own[:, side[:, None], side] = bent.places, flat.places
    more = np.repeat([stiff[2] - _HELD_N_PER_MM, *[-_HELD_N_PER_MM] * 2, *stiff[:2]], many)
    stretched = np.linalg.solve(
        np.eye(5 * many) + (bent.springs + flat.springs) * more, across.reshape(5 * many, -1)
    ).reshape(across.shape)
    felt = stretched.swapaxes(0, 1)  # (places, springs, 6)
    whole = own - (across.transpose(1, 2, 0) * more) @ felt
    real = np.repeat([stiff[2], 0.0, 0.0, *stiff[:2]], many)
    joints = (felt.swapaxes(1, 2) * real) @ felt
    return 0.5 * (whole + whole.swapaxes(1, 2)) - joints, joints
