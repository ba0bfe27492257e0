"""A blank that is no board: its top from a mesh, seen from above."""

from dataclasses import dataclass, field
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.mesh import highest
from kerfwright.stock.open_mesh import gaps_of

FloatArray = NDArray[np.float64]

#: A mesh whose triangles would cover its plan more often is none of a blank.
MOST_LAYERS = 1000.0


class BlankError(ValueError):
    """A mesh that is no blank, and what to do."""

    def __init__(self, problem: str, remedy: str = "name the mesh of the blank") -> None:
        super().__init__(problem)
        self.remedy = remedy


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blank:
    """Heights of a mesh from above; hollows under it count as wood, and where it is not is none."""

    words: str
    sha256: str
    size_mm: tuple[float, float, float]
    corners_mm: FloatArray = field(repr=False)  #: (k, 3, 3) in the board's frame

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
        """Top and underside at evenly spaced places, see ``Start``."""
        top = np.full((len(y_mm), len(x_mm)), -np.inf)
        cell = float(x_mm[1] - x_mm[0]) if len(x_mm) > 1 else 1.0
        low, high = self.corners_mm[:, :, :2].min(axis=1), self.corners_mm[:, :, :2].max(axis=1)
        near = (low[:, 0] <= x_mm[-1] + cell) & (high[:, 0] >= x_mm[0] - cell)
        near &= (low[:, 1] <= y_mm[-1] + cell) & (high[:, 1] >= y_mm[0] - cell)
        highest(self.corners_mm[near], float(x_mm[0]), float(y_mm[0]), cell, top)
        return top, np.full_like(top, -np.inf)

    def spans(self, x_mm: FloatArray, y_mm: FloatArray) -> None:
        """None, see ``Start``."""


def blank_of(corners_mm: FloatArray, words: str) -> Blank:
    """A blank from its triangles, moved so that its left front top corner is the frame's zero.

    Raises
    ------
    BlankError
        If it has no thickness, is not between 0 and 10 m, covers itself over and over, or is open
        where that shows from above.
    """
    low, high = corners_mm.min(axis=(0, 1)), corners_mm.max(axis=(0, 1))
    size = high - low
    if not ((size > 1e-3) & (size < 10_000.0)).all():
        across = " x ".join(f"{value:.3g}" for value in size)
        raise BlankError(f"the mesh is {across} mm, no size of a blank")
    ways = corners_mm[:, 1:, :2] - corners_mm[:, :1, :2]
    area = 0.5 * np.abs(ways[:, 0, 0] * ways[:, 1, 1] - ways[:, 0, 1] * ways[:, 1, 0]).sum()
    if area > MOST_LAYERS * size[0] * size[1]:
        raise BlankError(f"its triangles cover it more than {MOST_LAYERS:.0f} times")
    if not area > 0.0:
        raise BlankError("seen from above it covers nothing")
    moved = np.ascontiguousarray(corners_mm - np.array([low[0], low[1], high[2]]))
    return Blank(
        words=words + _openness(moved),
        sha256=sha256(moved.tobytes()).hexdigest(),
        size_mm=(float(size[0]), float(size[1]), float(size[2])),
        corners_mm=moved,
    )


def _openness(corners_mm: FloatArray) -> str:
    """What is to be said of a mesh that is not closed; nothing of any other."""
    gaps = gaps_of(corners_mm)
    if not gaps.edges:
        return ""
    said = f"the mesh is not closed, {gaps.edges} of its edges are open"
    if gaps.seen_mm is not None:
        low, high = gaps.seen_mm
        x, y = (f"{low[axis]:.4g} to {high[axis]:.4g} mm" for axis in range(2))
        raise BlankError(
            f"{said}: beside those from {x} from the left and from {y} from the front one sees into"
            " it from above",
            "close its holes in the program that made it (fill, mend, make solid), save it again"
            " and prove once more",
        )
    return (
        f"; {said}: no hole wider than {gaps.least_mm:.1g} mm shows from above, and"
        " its underside is taken where it is lowest"
    )
