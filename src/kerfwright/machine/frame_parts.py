"""What the frame is made of: directions, plates, sets of wheels, as six-by-six matrices."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from kerfwright.machine.guides import bars_give, own_turning_nmm, wheel_stiffness_n_per_mm
from kerfwright.machine.materials import modulus_mpa, poisson, shear_modulus_mpa
from kerfwright.machine.model import FloatArray
from kerfwright.machine.points import from_word
from kerfwright.physics import beams, frame, sections

UNIT: FloatArray = np.eye(3)
UP: FloatArray = UNIT[2]

Numbers = Mapping[str, float]
Choices = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Numbers of the frame with its directions."""

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

    def number(self, path: str) -> float:
        return self.numbers[path]

    def drive_n_per_mm(self, axis: str) -> FloatArray:
        return round(self.numbers[f"axes.{axis}.motors"]) * self.train_n_per_mm[axis]


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelSet:
    """The wheels of one carriage where they stand: free along the rail, radial, normal to both."""

    at_mm: FloatArray  #: (n, 2) from the set's middle, along the rail and across it (radial)
    each: float  #: wheels at each place; a share where they are spread over more places
    radial_n_per_mm: float  #: of one wheel
    axial_n_per_mm: float
    turning_nmm: tuple[float, float, float]  #: of one alone, about free, radial, normal [N mm/rad]
    turn: FloatArray  #: (6, 6) from free, radial, normal into X, Y, Z
    bars: tuple[float, ...] = (0.0,) * 6  #: what the bars give under it, as ``guides.bars_give``

    @property
    def _springs(self) -> tuple[FloatArray, FloatArray]:
        """Radial and axial springs: what each feels of the set's movement, (2 n, 6), and its k."""
        along, across = self.at_mm.T
        many = len(along)
        levers = np.zeros((2 * many, 6))  # direction, arm x direction
        levers[:many, 1], levers[:many, 5] = 1.0, along
        levers[many:, 2], levers[many:, 3], levers[many:, 4] = 1.0, across, -along
        stiff = self.each * np.array([self.radial_n_per_mm, self.axial_n_per_mm])
        return levers, np.repeat(stiff, many)

    def _own(self) -> FloatArray:
        """Stiffness in the set's own axes, 0 along the rail. (6, 6)"""
        levers, stiff = self._springs
        alone = self.each * len(self.at_mm) * np.array([0.0, 0.0, 0.0, *self.turning_nmm])
        return np.asarray((levers * stiff[:, None]).T @ levers + np.diag(alone))

    def _pressed(self) -> FloatArray:
        """Compliance of the wheels alone, in the set's own axes, held along the rail. (6, 6)"""
        give = np.zeros((6, 6))
        give[1:, 1:] = np.linalg.inv(self._own()[1:, 1:])
        return give

    def stiffness(self) -> FloatArray:
        """(6, 6), none along the rail."""
        own = self._own()
        if any(self.bars):
            own = np.zeros((6, 6))
            own[1:, 1:] = np.linalg.inv((self._pressed() + np.diag(self.bars))[1:, 1:])
        matrix: FloatArray = self.turn @ own @ self.turn.T
        return matrix

    def compliance(self) -> FloatArray:
        """(6, 6), held along the rail."""
        matrix: FloatArray = self.turn @ (self._pressed() + np.diag(self.bars)) @ self.turn.T
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
        taken = (levers * stiff[:, None] / self.each) @ self._pressed() @ self.turn.T
        each = np.abs(taken @ load)  # (..., 2 n, k)
        many = len(self.at_mm)
        worst: FloatArray = (each[..., :many, :] + each[..., many:, :]).max(axis=-2)
        return worst


def corners_mm(along_mm: float, across_mm: float) -> FloatArray:
    """Four places at so much apart. (4, 2)"""
    half = np.array([along_mm, across_mm]) / 2.0
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
        each=max(round(built.number(at + "wheels")) * share, 1.0) / len(places),
        radial_n_per_mm=radial,
        axial_n_per_mm=axial,
        turning_nmm=own_turning_nmm(built.numbers, built.choices),
        turn=axes_turn(UNIT[axis], built.beam if flat else UP),
        bars=bars_give(built.numbers, "xyz"[axis]),
    )


def plate(
    material: str,
    length_mm: FloatArray | float,
    width_mm: float,
    thickness_mm: float,
    direction: FloatArray,
    thin: FloatArray,
) -> FloatArray:
    """A flat bar along ``direction``, ``thickness_mm`` measured along ``thin``."""
    local = frame.bar_compliance(length_mm, *plate_section(material, width_mm, thickness_mm))
    return into(local, direction, thin)


def plate_section(
    material: str, width_mm: float, thickness_mm: float
) -> tuple[float, float, float, float, float, float]:
    """E A; E I about the thin direction, which is stiff, and about the other; G J; k G A twice."""
    young, shear = modulus_mpa(material), shear_modulus_mpa(material)
    area = width_mm * thickness_mm
    carries = float(beams.rectangle_shear_share(poisson(material))) * shear * area
    flat, tall = sorted((width_mm, thickness_mm))
    return (
        young * area,
        young * thickness_mm * width_mm**3 / 12.0,
        young * width_mm * thickness_mm**3 / 12.0,
        shear * float(sections.rectangle_bar_torsion_mm4(tall, flat)),
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
