"""A verdict with the fields and series that its pictures are drawn from."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import ChipRange
from kerfwright.prove.sweep import Swept
from kerfwright.prove.verdict import Verdict
from kerfwright.setup import Setup
from kerfwright.stock.field import Field
from kerfwright.trajectory import Trajectory

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Loads through time in equal bins: the worst within each bin. All arrays (k,)."""

    time_s: FloatArray  #: end of each bin
    pull_left_x: FloatArray  #: share of the motor's pull not used, 1 idle, 0 stall, below 0 lost
    pull_left_y: FloatArray
    pull_left_z: FloatArray
    power_w: FloatArray  #: at the cutter
    deflection_mm: FloatArray  #: of the cutter's tip, sideways and in depth together
    chip_mm: FloatArray  #: thickest chip
    slot: NDArray[np.int16]  #: cutter in the spindle


@dataclass(frozen=True, slots=True, kw_only=True)
class Groups:
    """Every stretch of path, in the order of travel: about a millimetre in reach of the wood.

    (g,) each or as told.
    """

    column: NDArray[np.float32]  #: (g, COLUMNS), see ``kernels.cutting``
    motion_mm: NDArray[np.float32]  #: (g, 3)
    give_mm: NDArray[np.float32]  #: (g, 3)
    line: NDArray[np.int32]
    byte: NDArray[np.int32]
    slot: NDArray[np.int16]
    rapid: NDArray[np.bool_]

    def rows(self, first: int, end: int) -> "Groups":
        """Those from ``first`` to before ``end``."""
        return Groups(**{name: getattr(self, name)[first:end] for name in self.__slots__})


@dataclass(frozen=True, slots=True, kw_only=True)
class Workings:
    """What a proof was worked out from: how the program moves, and its first pass."""

    trajectory: Trajectory
    swept: Swept
    line: NDArray[np.int32]  #: (segments,) program line


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """Everything that ``report`` needs of one proved program.

    The maps have rows along Y from the front and columns along X, cell centres at (i + 0.5) x cell
    from ``corner_mm``. They cover what was touched, not the whole board; a board not divisible by
    the cell has a last row and column that reach over its edge. Their cells are those of the field,
    or larger where what was touched lies far apart: then each has the highest height and the worst
    error of the cells in it.
    """

    verdict: Verdict
    setup: Setup
    cell_mm: float  #: of the maps
    height_mm: NDArray[np.float32]  #: (rows, columns) as programmed, 0 the board's top
    error_mm: NDArray[np.float32]  #: (rows, columns) as cut minus as programmed; NaN: not touched
    series: Series
    usual_chips: Mapping[int, ChipRange] = field(default_factory=dict)  #: by slot, of what cut
    groups: Groups | None = None  #: what the series was made from
    corner_mm: tuple[float, float] = (0.0, 0.0)  #: on the board, of the first cell of the maps
    into_bed_mm: float = 0.0  #: how deep it cuts into what the board lies on
    left: Field | None = None  #: the board as the program leaves it, if that was asked for
    workings: Workings | None = None  #: if they were asked for
