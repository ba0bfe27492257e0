"""A board's top as it was measured: a smooth surface through a few points."""

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_LOOKS = 401  #: places along each side at which the highest is looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """The product of two polynomials' bases, exact at its points.

    Two points along a side make it straight there, three a parabola: bilinear through four corners,
    biquadratic through nine points. Beyond the outer points it goes on as it is.
    """

    words: str
    x_mm: tuple[float, ...]  #: of the points' columns
    y_mm: tuple[float, ...]  #: of their rows
    z_mm: tuple[tuple[float, ...], ...]  #: rows of heights; the highest place of the board is 0

    @property
    def sha256(self) -> str:
        """Hash of all that the heights depend on."""
        return sha256(repr((self.x_mm, self.y_mm, self.z_mm)).encode()).hexdigest()

    @property
    def hollow(self) -> bool:
        """The underside is taken level."""
        return False

    @property
    def undercut(self) -> bool:
        """Nothing is known of hollows."""
        return False

    @property
    def highest_mm(self) -> float:
        """Its frame begins at its highest place."""
        return 0.0

    def heights(self, x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Top and underside, see ``Start``."""
        top = basis(self.y_mm, y_mm) @ np.array(self.z_mm) @ basis(self.x_mm, x_mm).T
        return np.minimum(top, 0.0), np.full_like(top, -np.inf)

    def spans(self, x_mm: FloatArray, y_mm: FloatArray) -> None:
        """None, see ``Start``."""


def surface_through(
    heights_mm: Sequence[Sequence[float]],
    length_mm: float,
    width_mm: float,
    inset_mm: float,
    words: str,
) -> tuple[Surface, float]:
    """A surface through points on a board, and how high its highest place is as they count.

    Parameters
    ----------
    heights_mm : rows of numbers
        2 x 2 or 3 x 3, the front row first, each from left to right; from any level. [mm]
    length_mm, width_mm : float
        Of the board, along X and Y. [mm]
    inset_mm : float
        From the edges to the outer points. [mm]
    """
    x = _points(len(heights_mm[0]), length_mm, inset_mm)
    y = _points(len(heights_mm), width_mm, inset_mm)
    z = np.array(heights_mm, np.float64)
    along = np.linspace(0.0, length_mm, _LOOKS)
    up = np.linspace(0.0, width_mm, _LOOKS)
    highest = float((basis(y, up) @ z @ basis(x, along).T).max())
    rows = tuple(tuple(float(value - highest) for value in row) for row in z)
    return Surface(words=words, x_mm=x, y_mm=y, z_mm=rows), highest


def basis(points_mm: Sequence[float], at_mm: FloatArray) -> FloatArray:
    """Lagrange's polynomials of some points, at places. (places, points)"""
    out = np.ones((len(at_mm), len(points_mm)))
    for i, here in enumerate(points_mm):
        for there in (*points_mm[:i], *points_mm[i + 1 :]):
            out[:, i] *= (at_mm - there) / (here - there)
    return out


def _points(many: int, side_mm: float, inset_mm: float) -> tuple[float, ...]:
    return tuple(np.linspace(inset_mm, side_mm - inset_mm, many).tolist())
