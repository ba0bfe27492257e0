"""The height field: how high the wood still stands, cell by cell."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.tiles import BLOCK, TILE
from kerfwright.stock.board import Board

FloatArray = NDArray[np.float32]
IntArray = NDArray[np.int32]
Scalar = TypeVar("Scalar", np.float32, np.int32)

_BLOCKS = (TILE // BLOCK) ** 2
NEVER = -1  #: in ``made_by`` and ``through_at``


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Heights on a square grid over a board, kept only for the tiles that were touched.

    Cell (row, column) has its centre at x = (column + 0.5) cell, y = (row + 0.5) cell from the
    board's left front corner; heights are in the board's frame, 0 its top and ``floor_mm`` its
    underside. Where a tile was never touched the wood stands at 0. Tiles are stored by blocks of
    8 x 8 cells; use ``maps`` for plain arrays.
    """

    cell_mm: float
    rows: int
    columns: int
    floor_mm: float
    place: NDArray[np.int64]  #: (tiles_y x tiles_x,) where each tile stands in the stores, or -1
    height_mm: FloatArray  #: (places, TILE²)
    top_mm: FloatArray  #: (places, blocks) highest cell of each block
    made_by: IntArray  #: (places, TILE²) last step that lowered the cell
    through_at: IntArray  #: (places, TILE²) first step that left nothing of it

    @classmethod
    def of_board(cls, board: Board, cell_mm: float) -> "Field":
        """The untouched board."""
        rows = max(1, int(np.ceil(board.width_mm / cell_mm - 1e-9)))
        columns = max(1, int(np.ceil(board.length_mm / cell_mm - 1e-9)))
        tiles = -(-rows // TILE) * -(-columns // TILE)
        return cls(
            cell_mm=cell_mm,
            rows=rows,
            columns=columns,
            floor_mm=-board.thickness_mm,
            place=np.full(tiles, -1, np.int64),
            height_mm=np.empty((0, TILE * TILE), np.float32),
            top_mm=np.empty((0, _BLOCKS), np.float32),
            made_by=np.empty((0, TILE * TILE), np.int32),
            through_at=np.empty((0, TILE * TILE), np.int32),
        )

    @property
    def tiles_x(self) -> int:
        """Tiles in a row."""
        return -(-self.columns // TILE)

    @property
    def tiles_y(self) -> int:
        """Rows of tiles."""
        return -(-self.rows // TILE)

    def with_room(self, tiles: NDArray[np.int64]) -> "Field":
        """The same field with the given tiles in its stores, which are then its own to write."""
        new = tiles[self.place[tiles] < 0]
        old = len(self.height_mm)
        place = self.place.copy()
        place[new] = np.arange(old, old + len(new))
        height = np.zeros((old + len(new), TILE * TILE), np.float32)
        height[:old] = self.height_mm
        made_by = np.full(height.shape, NEVER, np.int32)
        made_by[:old] = self.made_by
        through_at = np.full(height.shape, NEVER, np.int32)
        through_at[:old] = self.through_at
        for tile, where in zip(new.tolist(), range(old, old + len(new)), strict=True):
            self._empty_beyond_the_edge(tile, height[where])
        top = np.empty((len(height), _BLOCKS), np.float32)
        top[:old] = self.top_mm
        top[old:] = height[old:].reshape(len(new), _BLOCKS, -1).max(axis=2)
        return Field(
            cell_mm=self.cell_mm,
            rows=self.rows,
            columns=self.columns,
            floor_mm=self.floor_mm,
            place=place,
            height_mm=height,
            top_mm=top,
            made_by=made_by,
            through_at=through_at,
        )

    def maps(self, first: int = 0, end: int | None = None) -> tuple[FloatArray, IntArray, IntArray]:
        """Height, made_by and through_at of the rows ``first`` to ``end``, as plain arrays."""
        rows = range(first, self.rows if end is None else end)
        return (
            self._map(rows, self.height_mm, np.float32(0.0)),
            self._map(rows, self.made_by, np.int32(NEVER)),
            self._map(rows, self.through_at, np.int32(NEVER)),
        )

    def _map(self, rows: range, store: NDArray[Scalar], untouched: Scalar) -> NDArray[Scalar]:
        tile_rows = range(rows.start // TILE, -(-rows.stop // TILE))
        place = self.place[tile_rows.start * self.tiles_x : tile_rows.stop * self.tiles_x]
        by_tile = np.full((len(place), TILE * TILE), untouched, store.dtype)
        there = place >= 0
        by_tile[there] = store[place[there]]
        side = TILE // BLOCK
        whole = by_tile.reshape(len(tile_rows), self.tiles_x, side, side, BLOCK, BLOCK)
        whole = whole.transpose(0, 2, 4, 1, 3, 5)
        whole = whole.reshape(len(tile_rows) * TILE, self.tiles_x * TILE)
        top = tile_rows.start * TILE
        return np.ascontiguousarray(whole[rows.start - top : rows.stop - top, : self.columns])

    def _empty_beyond_the_edge(self, tile: int, cells: FloatArray) -> None:
        # Where there is no board there is nothing to take.
        ty, tx = divmod(tile, self.tiles_x)
        rows, columns = self.rows - ty * TILE, self.columns - tx * TILE
        if rows >= TILE and columns >= TILE:
            return
        side = TILE // BLOCK
        view = cells.reshape(side, side, BLOCK, BLOCK).transpose(0, 2, 1, 3)
        row, column = np.mgrid[0:TILE, 0:TILE]
        outside = ((row >= rows) | (column >= columns)).reshape(side, BLOCK, side, BLOCK)
        view[outside] = self.floor_mm
