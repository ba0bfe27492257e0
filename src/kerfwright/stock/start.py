"""How a board stands before the first cut, where its top is not simply level."""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Start(Protocol):
    """Top and underside of a board by place, in the board's frame: 0 is its highest wood."""

    @property
    def words(self) -> str:
        """What it is, in a line of words."""

    @property
    def sha256(self) -> str:
        """Hash of all that the heights depend on."""

    @property
    def hollow(self) -> bool:
        """Whether the underside is not the same everywhere."""

    @property
    def undercut(self) -> bool:
        """Whether wood stands over a hollow anywhere within it, so that ``spans`` are told."""

    @property
    def highest_mm(self) -> float:
        """Height of the highest wood; not above 0."""

    def heights(self, x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Top and underside at places (columns,) and (rows,): two arrays (rows, columns).

        Minus infinity stands for the board's underside; where the top is not above the underside
        there is no wood.
        """

    def spans(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray | None:
        """Wood of each of those columns, the highest span first, the empty ones 0 to 0 at the end.

        (rows, columns, SPANS, 2) as in ``kernels.undercut``; None where no column is undercut.
        """
