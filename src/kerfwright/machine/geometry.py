"""How far the axes are out of square, off in length, bent and out of level; the spindle's lean."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Known
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.formats import QuantityError, read_quantity
from kerfwright.physics.geometry_errors import RigidErrors, bow_mm, deviation_mm, lean_by_diagonals

FloatArray = NDArray[np.float64]

#: What a diagonal read with a rule or tape may be off, nineteen times in twenty. [mm]
_RULE_MM = 0.5
_DIAGONALS = re.compile(
    r"^\s*(\S+)\s*[x×]\s*(\S+)\s*mm\s*[:;,]\s*(\S+?)(?:\s*mm)?\s+and\s+(\S+?)(?:\s*mm)?"
    r"(?:\s*(?:±|\+/-)\s*(\S+?)\s*mm)?\s*$"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Geometry:
    """Errors of the axes as people read them, above 0 as ``machine.entries`` words them.

    Slopes in mm for each mm. Nothing here turns: a dial at the cutter sees what the turning of a
    slide does there, so the readings hold it.
    """

    square_xy: float = 0.0
    square_xz: float = 0.0
    square_yz: float = 0.0
    scale: tuple[float, float, float] = (0.0, 0.0, 0.0)
    bow_x_back_mm: float = 0.0
    bow_x_up_mm: float = 0.0
    bow_y_right_mm: float = 0.0
    bow_y_up_mm: float = 0.0
    level: tuple[float, float] = (0.0, 0.0)
    sag_mm: float = 0.0
    tram: tuple[float, float] = (0.0, 0.0)

    def errors(self, at_mm: FloatArray, travel_mm: FloatArray) -> RigidErrors:
        """The same as the 21 errors of the rigid chain, at places (n, 3) in the machine."""
        share = at_mm / travel_mm
        along = np.zeros((*at_mm.shape[:-1], 3, 3))
        for axis in range(3):
            along[..., axis, axis] = self.scale[axis] * at_mm[..., axis]
        along[..., 0, 1] = bow_mm(share[..., 0], self.bow_x_back_mm)
        along[..., 0, 2] = bow_mm(share[..., 0], self.bow_x_up_mm)
        along[..., 1, 0] = bow_mm(share[..., 1], self.bow_y_right_mm)
        along[..., 1, 2] = bow_mm(share[..., 1], self.bow_y_up_mm)
        return RigidErrors(
            along_mm=along,
            turn_rad=np.zeros((3, 3)),
            c0y_rad=-self.square_xy,
            b0z_rad=self.square_xz,
            a0z_rad=-self.square_yz,
        )

    def miss_mm(
        self,
        at_mm: FloatArray,
        travel_mm: FloatArray,
        table_at_mm: tuple[float, float],
        table_mm: tuple[float, float],
    ) -> FloatArray:
        """How far the tip stands from where it is told, seen from the table. (n, 3) [mm]

        Parameters
        ----------
        at_mm : array (n, 3)
            Of the tip, in the machine's frame.
        travel_mm : array (3,)
        table_at_mm, table_mm : left front corner of the table and its size. [mm]

        Only differences count: set-up takes away what is there at the zero.
        """
        out = deviation_mm(at_mm, np.zeros(3), self.errors(at_mm, travel_mm))
        x, y = at_mm[:, 0], at_mm[:, 1]
        across = bow_mm((x - table_at_mm[0]) / table_mm[0], 1.0)
        deep = bow_mm((y - table_at_mm[1]) / table_mm[1], 1.0)
        out[:, 2] += self.sag_mm * across * deep - self.level[0] * x - self.level[1] * y
        return np.asarray(out)


def geometry_of(numbers: Mapping[str, float]) -> Geometry:
    """From the numbers of machine.toml, complete."""
    g = {
        key.removeprefix("geometry."): value for key, value in numbers.items() if "geometry." in key
    }
    return Geometry(
        square_xy=g["square_xy"],
        square_xz=g["square_xz"],
        square_yz=g["square_yz"],
        scale=(g["scale_x"], g["scale_y"], g["scale_z"]),
        bow_x_back_mm=g["bow_x_back"],
        bow_x_up_mm=g["bow_x_up"],
        bow_y_right_mm=g["bow_y_right"],
        bow_y_up_mm=g["bow_y_up"],
        level=(g["level_x"], g["level_y"]),
        sag_mm=g["sag"],
        tram=(g["tram_x"], g["tram_y"]),
    )


def read_diagonals(text: str) -> Known:
    """Squareness of Y to X from ``600 x 400 mm: 721.4 and 720.8 mm ± 0.3 mm``.

    Sides along X and Y as programmed; the first diagonal runs from the left front to the right
    back. Without a spread each is taken as read by rule, within half a millimetre.

    Raises
    ------
    QuantityError
        If it cannot be read, or no rectangle is near to these figures.
    """
    wanted = 'write it like "600 x 400 mm: 721.4 and 720.8 mm", first the one to the right back'
    match = _DIAGONALS.match(text)
    if match is None:
        raise QuantityError(f'"{text[:60]}" is no rectangle with its diagonals', wanted)
    numbers = [read_quantity(f"{part} mm", "length") for part in match.groups() if part]
    sizes = [0.0 if number is None else number.value for number in numbers]
    a, b, rising, falling = sizes[:4]
    whole = hypot(a, b)
    if not min(a, b) > 0.0 or max(abs(rising - whole), abs(falling - whole)) > 0.05 * whole:
        raise QuantityError(
            f"a rectangle of {a:g} x {b:g} mm has diagonals of about {whole:.1f} mm", wanted
        )
    half_mm = sizes[4] if len(sizes) > 4 else _RULE_MM
    slope_of_one = whole / (2.0 * a * b)
    return Known(
        value=float(lean_by_diagonals(a, b, rising, falling)),
        kind="measured",
        ref="diagonals, as written in machine.toml",
        u=hypot(1.0, 1.0) * half_mm * slope_of_one / TWO_SIDED_95,
    )
