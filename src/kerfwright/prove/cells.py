"""How fine the cells of wood are: as the person says, or by how much the path can touch."""

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import KerfwrightError
from kerfwright.kernels.squares import mark_squares
from kerfwright.kernels.tiles import TILE
from kerfwright.prove.sweep import NOT_CUT, Tooling, clear_of_wood, step_length_mm
from kerfwright.setup import Setup
from kerfwright.trajectory import Trajectory

FloatArray = NDArray[np.float64]

VERDICT_MM = 0.1  #: finer cells are for small jobs
FINEST_MM, COARSEST_MM = 0.05, 2.0
LOADS_MM = 0.5  #: coarser cells do not tell what a cut beside an edge asks
SIZES_MM = (0.05, 0.1, 0.25, 0.5, 1.0, 2.0)  #: that are chosen from, the finest first
#: Cells in the tiles that are touched: about 40 bytes each with both passes and the maps.
MOST_FINE_CELLS = 6_000_000
MOST_CELLS = 30_000_000
#: Cells looked at in one pass, each step's own counted.
MOST_FINE_WORK = 0.5e9
MOST_WORK = 10e9
#: Places of the board, touched or not, for which a tile is only a number.
MOST_TILES = 1_000_000
#: More than that are not cut even on demand: bytes would not do.
MOST_ASKED_CELLS = 150_000_000
_SQUARES = 1_000_000  #: into which the board is divided to see what is touched
_PIECE_MM = 4.0  #: a long move across the grain of the squares touches few of those around it
_AT_ONCE = 65_536


class TooManyCells(KerfwrightError):
    """A cell too fine for what is cut, or no cell at all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """The side of the cells, and why it is so."""

    cell_mm: float
    why: str  #: one plain line


def cells_for(
    trajectory: Trajectory, tools: Tooling, setup: Setup, asked_mm: float | None
) -> Cells:
    """The cells for a job: those asked for, or the finest that memory and work allow.

    The choice hangs on the board, the path and the cutters alone, never on the computer.

    Raises
    ------
    TooManyCells
        If the cells asked for are out of bounds, or too many.
    """
    if asked_mm is not None and not FINEST_MM <= asked_mm <= COARSEST_MM:
        raise TooManyCells(
            f"--cell {asked_mm:g}: cells are from {FINEST_MM} to {COARSEST_MM} mm wide\n"
            "  remedy: leave --cell out, or write --cell verdict"
        )
    reach = _Reach.of(trajectory, tools, setup)
    if asked_mm is not None:
        many = reach.cells(asked_mm)
        if many > MOST_ASKED_CELLS or reach.tiles(asked_mm) > MOST_TILES:
            enough = next((s for s in SIZES_MM if s > asked_mm and reach.fits(s)), COARSEST_MM)
            raise TooManyCells(
                f"--cell {asked_mm:g}: what this program can touch would need"
                f" {many / 1e6:.0f} million cells\n"
                f"  remedy: leave --cell out, or write --cell {enough:g}"
            )
        return Cells(cell_mm=asked_mm, why="as asked for with --cell")
    chosen = next((size for size in SIZES_MM if reach.fits(size)), COARSEST_MM)
    return Cells(cell_mm=chosen, why=_why(reach, chosen))


def too_coarse_words(cell_mm: float) -> str | None:
    """What to think of loads told from such cells, where they are too coarse for them."""
    if cell_mm <= LOADS_MM:
        return None
    return (
        f"cells of {cell_mm:g} mm: the wood gone is roughly right, but force and power of a cut"
        " beside an edge, and how far they push the cutter, may be told at half or less; do not go"
        f" by them, but prove it in parts or with --cell {LOADS_MM:g}"
    )


def _why(reach: "_Reach", chosen_mm: float) -> str:
    area = f"the path can touch {reach.area_mm2 / 100.0:.0f} cm² of the board"
    taken = f"{reach.cells(chosen_mm) / 1e6:.1f} million cells"
    if chosen_mm == SIZES_MM[0]:
        return f"{area}: little enough for the finest, {taken}"
    finer = SIZES_MM[SIZES_MM.index(chosen_mm) - 1]
    many = f"{reach.cells(finer) / 1e6:.0f} million"
    limit = "too much work" if reach.held(finer) else "too many to hold"
    return f"{area}: {taken}; of {finer:g} mm it would be {many}, {limit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reach:
    """What of a board a path can touch, in squares, and how long it is there."""

    touched: NDArray[np.bool_]  #: (rows, columns) of squares
    side_mm: float
    size_mm: tuple[float, float]  #: of the board
    path: tuple[tuple[float, float], ...]  #: radius and length below the top, by cutter [mm]

    @classmethod
    def of(cls, trajectory: Trajectory, tools: Tooling, setup: Setup) -> "_Reach":
        board = setup.board
        side = max(1.0, (board.length_mm * board.width_mm / _SQUARES) ** 0.5)
        rows, columns = ceil(board.width_mm / side), ceil(board.length_mm / side)
        corners = np.zeros((rows + 1, columns + 1), np.int32)
        length = dict.fromkeys(setup.slots, 0.0)
        for begin in range(0, len(trajectory.length_mm), _AT_ONCE):
            some = slice(begin, begin + _AT_ONCE)
            point = trajectory.point_mm[begin : begin + _AT_ONCE + 1]
            point = point + np.array(setup.zero_on_board_mm)
            cuts = ~clear_of_wood(point, setup) & (tools.kind[some] != NOT_CUT)
            for slot, cutter in setup.slots.items():
                mine = cuts & (tools.slot[some] == slot)
                length[slot] += float(trajectory.length_mm[some][mine].sum())
                mark_squares(point, mine, cutter.radius_mm, side, max(_PIECE_MM, side), corners)
        path = [(cutter.radius_mm, length[slot]) for slot, cutter in setup.slots.items()]
        touched = corners.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] > 0
        return cls(
            touched=touched,
            side_mm=side,
            size_mm=(board.length_mm, board.width_mm),
            path=tuple(path),
        )

    @property
    def area_mm2(self) -> float:
        return float(self.touched.sum()) * self.side_mm**2

    def tiles(self, cell_mm: float) -> int:
        """Tiles of the whole board."""
        return ceil(self.size_mm[0] / (TILE * cell_mm)) * ceil(self.size_mm[1] / (TILE * cell_mm))

    def cells(self, cell_mm: float) -> int:
        """Cells of the tiles that can be touched."""
        tile = TILE * cell_mm
        row, column = np.nonzero(self.touched)
        if not len(row):
            return 0
        y, x = (_tiles_at(count, self.side_mm, tile) for count in self.touched.shape)
        held = np.zeros((int(y[1, -1]) + 1, int(x[1, -1]) + 1), np.bool_)
        for of_row in y:
            for of_column in x:
                held[of_row[row], of_column[column]] = True
        whole = self.size_mm[0] * self.size_mm[1] / cell_mm**2
        return int(min(int(held.sum()) * TILE * TILE, whole))

    def work(self, cell_mm: float) -> float:
        """Cells that one pass looks at."""
        step = step_length_mm(cell_mm)
        return sum(
            length / step * (np.pi * radius * (radius + step) / cell_mm**2)
            for radius, length in self.path
        )

    def held(self, cell_mm: float) -> bool:
        """Whether the cells are few enough."""
        most = MOST_FINE_CELLS if cell_mm < VERDICT_MM else MOST_CELLS
        return self.cells(cell_mm) <= most and self.tiles(cell_mm) <= MOST_TILES

    def fits(self, cell_mm: float) -> bool:
        """Whether cells and work are within what is allowed."""
        most = MOST_FINE_WORK if cell_mm < VERDICT_MM else MOST_WORK
        return self.held(cell_mm) and self.work(cell_mm) <= most


def _tiles_at(count: int, side_mm: float, tile_mm: float) -> NDArray[np.int64]:
    """In which tile the two ends of each of some squares in a row lie. (2, count)"""
    square = np.arange(count)
    ends = np.stack([square * side_mm, (square + 1) * side_mm - 1e-6])
    return np.floor_divide(ends, tile_mm).astype(np.int64)
