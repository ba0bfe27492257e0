"""What the frame is made of: directions, plates, sets of wheels, as six-by-six matrices."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from kerfwright.machine.guides import (
    Choices,
    Numbers,
    bars_give,
    own_turning_nmm,
    wheel_stiffness_n_per_mm,
)
from kerfwright.machine.materials import modulus_mpa, poisson, shear_modulus_mpa
from kerfwright.machine.model import FloatArray
from kerfwright.machine.points import from_word
from kerfwright.physics import beams, frame, sections
from kerfwright.physics.domain import Floats, array

UNIT: FloatArray = np.eye(3)
UP: FloatArray = UNIT[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Numbers of the frame with its directions, of one machine or of many.

    Where there are many, each number is an array (draws,), and what is computed from it has the
    draws as its first axis: below, shapes are those of one machine.
    """

    numbers: Numbers
    choices: Choices
    moving: int  #: index of the axis along which the gantry moves
    #: X, Y: shares of the travel, rising; Z: of the way from its lowest to its highest place
    places: tuple[FloatArray, FloatArray, FloatArray]
    train_n_per_mm: Mapping[str, FloatArray]  #: one motor's train of each axis at its ``places``

    @property
    def along(self) -> FloatArray:
        direction: FloatArray = UNIT[self.moving]
        return direction

    @property
    def beam(self) -> FloatArray:
        direction: FloatArray = UNIT[1 - self.moving]
        return direction

    @property
    def beside(self) -> FloatArray:
        """Shares of the travel along the beam."""
        return self.places[1 - self.moving]

    @property
    def onward(self) -> FloatArray:
        """Shares of the travel of the gantry, or of the table under it."""
        return self.places[self.moving]

    @property
    def heights(self) -> FloatArray:
        return self.places[2]

    @property
    def plain(self) -> Mapping[str, float]:
        """The numbers of a frame of one machine."""
        return cast(Mapping[str, float], self.numbers)

    @property
    def many(self) -> int:
        """How many axes stand before those of one machine: 0 or 1."""
        return np.ndim(self.numbers["axes.z.travel"])

    def each(self) -> "list[Frame]":
        """The frames of the machines, one by one."""
        if not self.many:
            return [self]
        columns = [self.number(path).tolist() for path in self.numbers]
        trains = {axis: list(train) for axis, train in self.train_n_per_mm.items()}
        return [
            replace(
                self,
                numbers=dict(zip(self.numbers, one, strict=True)),
                train_n_per_mm={axis: train[k] for axis, train in trains.items()},
            )
            for k, one in enumerate(zip(*columns, strict=True))
        ]

    def number(self, path: str, axes: int = 0) -> FloatArray:
        """A number, with some axes of length 1 behind those of the draws."""
        value = array(self.numbers[path])
        return value.reshape(value.shape + (1,) * axes)

    def count(self, path: str) -> int:
        """A number of things, the same for every draw."""
        return round(float(self.number(path).reshape(-1)[0]))

    def drive_n_per_mm(self, axis: str) -> FloatArray:
        return np.asarray(
            np.round(self.number(f"axes.{axis}.motors", 1)) * self.train_n_per_mm[axis]
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelSet:
    """The wheels of one carriage where they stand: free along the rail, radial, normal to both."""

    at_mm: FloatArray  #: (n, 2) from the set's middle, along the rail and across it (radial)
    each: Floats  #: wheels at each place; a share where they are spread over more places
    radial_n_per_mm: Floats  #: of one wheel
    axial_n_per_mm: Floats
    turning_nmm: tuple[
        Floats, Floats, Floats
    ]  #: of one alone, about free, radial, normal [N mm/rad]
    turn: FloatArray  #: (6, 6) from free, radial, normal into X, Y, Z
    bars: tuple[Floats, ...] = (0.0,) * 6  #: what the bars give under it, as ``guides.bars_give``

    @property
    def _springs(self) -> tuple[FloatArray, FloatArray]:
        """Radial and axial springs: what each feels of the set's movement, (2 n, 6), and its k."""
        along, across = self.at_mm[..., 0], self.at_mm[..., 1]
        many = along.shape[-1]
        levers = np.zeros((*along.shape[:-1], 2 * many, 6))  # direction, arm x direction
        levers[..., :many, 1], levers[..., :many, 5] = 1.0, along
        levers[..., many:, 2], levers[..., many:, 3], levers[..., many:, 4] = 1.0, across, -along
        stiff = array(self.each)[..., None] * row(self.radial_n_per_mm, self.axial_n_per_mm)
        return levers, np.repeat(stiff, many, axis=-1)

    def _own(self) -> FloatArray:
        """Stiffness in the set's own axes, 0 along the rail. (6, 6)"""
        levers, stiff = self._springs
        alone = row(0.0, 0.0, 0.0, *self.turning_nmm)
        alone = alone * (array(self.each) * self.at_mm.shape[-2])[..., None]
        pressed = np.swapaxes(levers * stiff[..., None], -1, -2) @ levers
        return np.asarray(pressed + on_diagonal(alone))

    def _pressed(self) -> FloatArray:
        """Compliance of the wheels alone, in the set's own axes, held along the rail. (6, 6)"""
        return held_along(self._own())

    def stiffness(self) -> FloatArray:
        """(6, 6), none along the rail."""
        own = self._own()
        if np.any(row(*self.bars)):
            own = held_along(self._pressed() + on_diagonal(row(*self.bars)))
        matrix: FloatArray = self.turn @ own @ self.turn.T
        return matrix

    def compliance(self) -> FloatArray:
        """(6, 6), held along the rail."""
        give = self._pressed() + on_diagonal(row(*self.bars))
        matrix: FloatArray = self.turn @ give @ self.turn.T
        return matrix

    def worst_wheel(self, load: FloatArray) -> FloatArray:
        """Load that the most loaded wheel takes of a load on the set.

        Parameters
        ----------
        load : array (..., 6, k)
            On the set, at its middle, in X, Y, Z. [N, N mm]

        Returns
        -------
        array (..., k)
            Radial and axial load of that wheel, added: what takes the preload off a 90 degree V's
            flank. [N]
        """
        levers, stiff = self._springs
        alone = levers * stiff[..., None] / array(self.each)[..., None, None]
        taken = alone @ self._pressed() @ self.turn.T
        each = np.abs(lined_up(taken, load.ndim) @ load)  # (..., 2 n, k)
        many = self.at_mm.shape[-2]
        worst: FloatArray = (each[..., :many, :] + each[..., many:, :]).max(axis=-2)
        return worst


def row(*parts: Floats) -> FloatArray:
    """Numbers side by side along a last axis."""
    return np.stack(np.broadcast_arrays(*(array(part) for part in parts)), axis=-1)


def on_diagonal(values: FloatArray) -> FloatArray:
    """Square matrices with these, (..., k), on their diagonal and nothing beside it."""
    return np.asarray(values[..., None] * np.eye(values.shape[-1]))


def held_along(stiffness: FloatArray) -> FloatArray:
    """The inverse but for the first way, along which nothing moves. (..., 6, 6)"""
    give = np.zeros_like(stiffness)
    give[..., 1:, 1:] = np.linalg.inv(stiffness[..., 1:, 1:])
    return give


def lined_up(matrix: FloatArray, axes: int, inner: int = 2) -> FloatArray:
    """With axes of length 1 between that of the draws and the inner ones, so many in all."""
    at = matrix.ndim - inner
    missing = (1,) * (axes - matrix.ndim)
    return matrix.reshape(matrix.shape[:at] + missing + matrix.shape[at:])


def corners_mm(along_mm: Floats, across_mm: Floats) -> FloatArray:
    """Four places at so much apart. (4, 2)"""
    half = row(along_mm, across_mm)[..., None, :] / 2.0
    return np.asarray(half * np.array([[1.0, 1.0], [1.0, -1.0], [-1.0, 1.0], [-1.0, -1.0]]))


def wheel_set(built: Frame, axis: int, share: float = 1.0) -> WheelSet:
    """The wheels of an axis, or that share of them; places are those of one carriage.

    Gantry: plates stand at the sides, radial is up. Carriage: on the beam's face, radial is up.
    Z: on the front, radial is along the beam; so it is of a table that moves, lying flat.
    """
    radial, axial = wheel_stiffness_n_per_mm(built.numbers, built.choices)
    flat = axis == 2 or (axis == built.moving and built.choices["frame.moves"] == "table")
    at = f"rails.{'xyz'[axis]}."
    word = built.choices.get(at + "places")
    if word is not None:
        places = from_word(word)
    else:
        places = corners_mm(built.number(at + "along"), built.number(at + "across"))
    return WheelSet(
        at_mm=places,
        each=np.maximum(np.round(built.number(at + "wheels")) * share, 1.0) / places.shape[-2],
        radial_n_per_mm=radial,
        axial_n_per_mm=axial,
        turning_nmm=own_turning_nmm(built.numbers, built.choices),
        turn=axes_turn(UNIT[axis], built.beam if flat else UP),
        bars=bars_give(built.numbers, "xyz"[axis]),
    )


def plate(
    material: str,
    length_mm: Floats,
    width_mm: Floats,
    thickness_mm: Floats,
    direction: FloatArray,
    thin: FloatArray,
) -> FloatArray:
    """A flat bar along ``direction``, ``thickness_mm`` measured along ``thin``."""
    local = frame.bar_compliance(length_mm, *plate_section(material, width_mm, thickness_mm))
    return into(local, direction, thin)


def plate_section(
    material: str, width_mm: Floats, thickness_mm: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """E A; E I about the thin direction, which is stiff, and about the other; G J; k G A twice."""
    young, shear = modulus_mpa(material), shear_modulus_mpa(material)
    area = width_mm * thickness_mm
    carries = float(beams.rectangle_shear_share(poisson(material))) * shear * area
    flat, tall = np.minimum(width_mm, thickness_mm), np.maximum(width_mm, thickness_mm)
    return (
        young * area,
        young * thickness_mm * width_mm**3 / 12.0,
        young * width_mm * thickness_mm**3 / 12.0,
        shear * sections.rectangle_bar_torsion_mm4(tall, flat),
        carries,
        carries,
    )


def along_only(index: int, kinds: int) -> FloatArray:
    """Movement along one axis only, of 3 shifts or 6 shifts and turns. (kinds, kinds)"""
    matrix = np.zeros((kinds, kinds))
    matrix[index, index] = 1.0
    return matrix


def axes_turn(first: FloatArray, second: FloatArray) -> FloatArray:
    """Turns six-vectors from axes first, second, first x second into X, Y, Z. (6, 6)"""
    (a, b, c), (d, e, f) = first, second
    third = np.array([b * f - c * e, c * d - a * f, a * e - b * d])  # np.cross is ten times slower
    return frame.turned(np.stack((first, second, third), axis=-1))


def into(local: FloatArray, first: FloatArray, second: FloatArray) -> FloatArray:
    """A compliance from local axes (first, second, first x second) into X, Y, Z."""
    turn = axes_turn(first, second)
    result: FloatArray = turn @ local @ turn.T
    return result
