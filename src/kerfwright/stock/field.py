"""The height field: how high the wood still stands, cell by cell."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.tiles import BLOCK, TILE, lay_out
from kerfwright.kernels.undercut import SPANS
from kerfwright.stock.board import Board
from kerfwright.stock.start import Start

FloatArray = NDArray[np.float32]
IntArray = NDArray[np.int32]
Scalar = TypeVar("Scalar", np.float32, np.int32)
Span = tuple[int, int, int, int]  #: first and end row, first and end column

_SIDE = TILE // BLOCK
_BLOCKS = _SIDE**2
NEVER = -1  #: for the steps of cells that none has lowered, or cut through
_RESERVED = 1024  #: tiles that room is kept for from the start
_NO_LAYER = np.empty(0, np.int64)
_NO_SPANS = np.empty((0, TILE * TILE, SPANS, 2), np.float32)
_NONE_LOST = np.empty((0, 1), np.int64)


def _one_by_one(work: Callable[[int], None], numbers: list[int]) -> None:
    for number in numbers:
        work(number)


class Stores:
    """Room for the tiles of a field that grows: what it holds is not copied for each new tile."""

    def __init__(self) -> None:
        self._kept: dict[str, NDArray[Any]] = {}

    def of(self, name: str, held: NDArray[Scalar], count: int, most: int) -> NDArray[Scalar]:
        """Rows for ``count`` tiles of at most ``most``; the first are those held, others nought.

        What is nought takes no memory: the system gives it when it is first written to.
        """
        kept = self._kept.get(name)
        if kept is None or held.base is not kept or len(kept) < count:
            room = min(most, max(_RESERVED, 2 * len(held)))
            kept = np.zeros((max(count, room), *held.shape[1:]), held.dtype)
            if len(held):
                says = np.flatnonzero(held.any(axis=1))
                kept[says] = held[says]
            self._kept[name] = kept
        return kept[:count]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Heights on a square grid over a board, kept only for the tiles that were touched.

    Cell (row, column) has its centre at x = (column + 0.5) cell, y = (row + 0.5) cell from the
    board's left front corner; heights are in the board's frame, 0 its top and ``floor_mm`` its
    underside. Where a tile was never touched the wood stands as it did at the ``start``: at 0, if
    there is none. Tiles are stored by blocks of 8 x 8 cells; use ``maps`` for plain arrays.
    """

    cell_mm: float
    rows: int
    columns: int
    floor_mm: float
    place: NDArray[np.int64]  #: (tiles_y x tiles_x,) where each tile stands in the stores, or -1
    height_mm: FloatArray  #: (places, TILE²)
    beneath_mm: FloatArray  #: (places, TILE²) underside of hollow boards; (0, TILE²) for others
    top_mm: FloatArray  #: (places, blocks) highest cell of each block
    #: (places, TILE²) last step that lowered the cell; (0, TILE²) if that is not asked, as below
    made_by: IntArray
    through_at: IntArray  #: (places, TILE²) 1 + first step that left nothing of it; 0 if none did
    #: (tiles,) where each tile's spans stand below, or -1; empty where no cutter undercut anything.
    layer: NDArray[np.int64] = field(default_factory=lambda: _NO_LAYER)
    #: (layers, TILE², SPANS, 2) wood of those tiles, see ``kernels.undercut``.
    spans: FloatArray = field(default_factory=lambda: _NO_SPANS)
    #: (layers, 1) gaps in them that were filled in again for want of room.
    lost: NDArray[np.int64] = field(default_factory=lambda: _NONE_LOST)
    start: Start | None = None  #: how the board stood before the first cut
    first: tuple[int, int] = (0, 0)  #: row and column of the board where a part of it begins

    @classmethod
    def of_board(cls, board: Board, cell_mm: float) -> "Field":
        """The board before the first cut."""
        rows = max(1, int(np.ceil(board.width_mm / cell_mm - 1e-9)))
        columns = max(1, int(np.ceil(board.length_mm / cell_mm - 1e-9)))
        return cls.part_of(board, cell_mm, (0, rows, 0, columns))

    @classmethod
    def part_of(cls, board: Board, cell_mm: float, span: Span) -> "Field":
        """Some cells of the board before the first cut, as a field of their own."""
        row, end_row, column, end_column = span
        rows, columns = end_row - row, end_column - column
        tiles = -(-rows // TILE) * -(-columns // TILE)
        return cls(
            cell_mm=cell_mm,
            rows=rows,
            columns=columns,
            floor_mm=-board.thickness_mm,
            place=np.full(tiles, -1, np.int64),
            height_mm=np.empty((0, TILE * TILE), np.float32),
            beneath_mm=np.empty((0, TILE * TILE), np.float32),
            top_mm=np.empty((0, _BLOCKS), np.float32),
            made_by=np.empty((0, TILE * TILE), np.int32),
            through_at=np.empty((0, TILE * TILE), np.int32),
            start=board.start,
            first=(row, column),
        )

    @property
    def tiles_x(self) -> int:
        """Tiles in a row."""
        return -(-self.columns // TILE)

    @property
    def tiles_y(self) -> int:
        """Rows of tiles."""
        return -(-self.rows // TILE)

    @property
    def hollow(self) -> bool:
        """Whether the underside is not the same everywhere."""
        return self.start is not None and self.start.hollow

    def with_room(
        self,
        tiles: NDArray[np.int64],
        stores: Stores | None = None,
        each: Callable[[Callable[[int], None], list[int]], None] = _one_by_one,
        *,
        dated: bool = True,
    ) -> "Field":
        """The same field with the given tiles in its stores, which are then its own to write.

        With ``stores`` a field that came from them shares the tiles that it had with the new one.
        Not ``dated`` it has no rows for the steps that made its cells.
        ``each`` does something for each of some numbers, on several threads, say.
        """
        new = tiles[self.place[tiles] < 0]
        old, count = len(self.height_mm), len(self.height_mm) + len(new)
        place = self.place.copy()
        place[new] = np.arange(old, count)
        stores, most = stores or Stores(), len(place)
        height = stores.of("height", self.height_mm, count, most)
        beneath = stores.of("beneath", self.beneath_mm, *((count, most) if self.hollow else (0, 0)))
        dates = (count, most) if dated else (0, 0)
        made_by = stores.of("made by", self.made_by, *dates)
        through_at = stores.of("through at", self.through_at, *dates)
        top = stores.of("top", self.top_mm, count, most)

        def fill(where: int) -> None:
            tile = int(new[where - old])
            if dated:
                made_by[where] = NEVER
            if self.start is not None:
                above, below = self._at_start(tile)
                height[where] = _by_blocks(above)
                if self.hollow:
                    beneath[where] = _by_blocks(below)
            self._empty_beyond_the_edge(tile, height[where])
            top[where] = height[where].reshape(_BLOCKS, -1).max(axis=1)

        each(fill, list(range(old, count)))
        roomy = replace(
            self,
            place=place,
            height_mm=height,
            beneath_mm=beneath,
            top_mm=top,
            made_by=made_by,
            through_at=through_at,
        )
        return roomy._hollowed(new)

    def in_spans(self, tiles: NDArray[np.int64]) -> "Field":
        """The same field with the given tiles, which are in its stores, kept in spans of wood."""
        layer = self.layer if len(self.layer) else np.full(len(self.place), -1, np.int64)
        new = tiles[layer[tiles] < 0]
        if not len(new):
            return self
        old = len(self.spans)
        layer = layer.copy()
        layer[new] = np.arange(old, old + len(new))
        height = self.height_mm[self.place[new]]
        spans = np.full((old + len(new), TILE * TILE, SPANS, 2), self.floor_mm, np.float32)
        spans[:old] = self.spans
        spans[old:, :, 0, 1] = height
        if self.hollow:
            spans[old:, :, 0, 0] = self.beneath_mm[self.place[new]]
        lost = np.concatenate([self.lost, np.zeros((len(new), 1), np.int64)])
        return replace(self, layer=layer, spans=spans, lost=lost)

    def _hollowed(self, new: NDArray[np.int64]) -> "Field":
        """The same field with the spans of its start in those of some fresh tiles that have any."""
        if self.start is None or not self.start.undercut:
            return self
        found = {}
        for tile in new.tolist():
            spans = self.start.spans(*self._centres(tile))
            if spans is not None:
                found[tile] = spans
        field = self.in_spans(np.array(list(found), np.int64))
        for tile, spans in found.items():
            stored = field.spans[field.layer[tile]]
            # What hangs over the edge of the board stays empty.
            there = field.height_mm[field.place[tile]] > self.floor_mm
            stored[there] = np.clip(_by_blocks(spans), self.floor_mm, 0.0)[there]
        return field

    def maps(
        self, first: int = 0, end: int | None = None, left: int = 0, right: int | None = None
    ) -> tuple[FloatArray, IntArray, IntArray]:
        """Height, made_by and through_at of some rows and columns, as plain arrays."""
        span = self._span(first, end, left, right)
        return self.heights(*span), self.makers(*span), self.openers(*span)

    def heights(
        self, first: int = 0, end: int | None = None, left: int = 0, right: int | None = None
    ) -> FloatArray:
        """How high the wood stands in some rows and columns.

        Where nothing is left above a hollow it is ``floor_mm``: it is open there.
        """
        span = self._span(first, end, left, right)
        height = self._map(span, self.height_mm, np.float32(0.0))
        if self.start is not None:
            for tile, cells, inside in self._tiles_over(span):
                if self.place[tile] < 0:
                    height[cells] = self._at_start(tile)[0][inside]
        if self.hollow:
            height[height <= self.undersides(*span)] = self.floor_mm
        return height

    def makers(
        self, first: int = 0, end: int | None = None, left: int = 0, right: int | None = None
    ) -> IntArray:
        """The last step that lowered each cell of some rows and columns."""
        return self._map(self._span(first, end, left, right), self.made_by, np.int32(NEVER))

    def openers(
        self, first: int = 0, end: int | None = None, left: int = 0, right: int | None = None
    ) -> IntArray:
        """The first step that left nothing of each cell of some rows and columns."""
        opened = self._map(self._span(first, end, left, right), self.through_at, np.int32(0))
        opened += np.int32(NEVER)
        return opened

    def at(self, row: NDArray[np.int64], column: NDArray[np.int64]) -> FloatArray:
        """Height of some cells of the board, all of them on it. (k,)"""
        tile, cell = _stored_at(row, column, self.tiles_x)
        place = self.place[tile]
        held = np.flatnonzero(place >= 0)
        out = np.zeros(len(row), np.float32)
        out[held] = self.height_mm[place[held], cell[held]]
        if self.start is not None:
            for one in np.unique(tile[place < 0]).tolist():
                mine = np.flatnonzero(tile == one)
                out[mine] = self._at_start(one)[0][row[mine] % TILE, column[mine] % TILE]
        return out

    def made_at(self, row: NDArray[np.int64], column: NDArray[np.int64]) -> IntArray:
        """The last step that lowered each of some cells of the board. (k,)"""
        tile, cell = _stored_at(row, column, self.tiles_x)
        place = self.place[tile]
        held = np.flatnonzero(place >= 0)
        out = np.full(len(row), NEVER, np.int32)
        out[held] = self.made_by[place[held], cell[held]]
        return out

    def undersides(
        self, first: int = 0, end: int | None = None, left: int = 0, right: int | None = None
    ) -> FloatArray:
        """Where the wood of each cell ends below, of some rows and columns."""
        span = self._span(first, end, left, right)
        out = np.full((span[1] - span[0], span[3] - span[2]), self.floor_mm, np.float32)
        if self.hollow:
            for tile, cells, inside in self._tiles_over(span):
                out[cells] = self._at_start(tile)[1][inside]
        return out

    def touched(self) -> Span:
        """The rows and columns that hold all tiles in the stores; none if there are none."""
        held = self.place.reshape(self.tiles_y, self.tiles_x) >= 0
        if not held.any():
            return 0, 0, 0, 0
        ty, tx = (np.flatnonzero(held.any(axis=axis)) * TILE for axis in (1, 0))
        return (
            int(ty[0]), min(int(ty[-1]) + TILE, self.rows),
            int(tx[0]), min(int(tx[-1]) + TILE, self.columns),
        )  # fmt: skip

    def untouched(self) -> "Field":
        """The board before the first cut, on the same cells."""
        none = slice(0, 0)
        return replace(
            self,
            place=np.full(len(self.place), -1, np.int64),
            height_mm=self.height_mm[none],
            beneath_mm=self.beneath_mm[none],
            top_mm=self.top_mm[none],
            made_by=self.made_by[none],
            through_at=self.through_at[none],
            layer=_NO_LAYER,
            spans=_NO_SPANS,
            lost=_NONE_LOST,
        )

    def tiles_that_say_anything(self) -> NDArray[np.int64]:
        """Tiles that are not simply whole: touched, or so before the first cut."""
        says = self.place >= 0
        if self.start is not None:
            for tile in np.flatnonzero(~says).tolist():
                above, below = self._at_start(tile)
                says[tile] = (above != 0.0).any() or (below != self.floor_mm).any()
                if self.start.undercut and not says[tile]:
                    says[tile] = self.start.spans(*self._centres(tile)) is not None
        return np.flatnonzero(says)

    def stored(self, tile: int) -> tuple[FloatArray, FloatArray]:
        """Heights and undersides of a tile as it is stored, by blocks. (TILE²,) each"""
        at = int(self.place[tile])
        above, below = (_by_blocks(part) for part in self._at_start(tile))
        return (above if at < 0 else self.height_mm[at]), below

    def spans_of(self, tile: int) -> FloatArray | None:
        """Wood of a tile that is kept in spans, (TILE², SPANS, 2); None for any other."""
        here = self
        if self.place[tile] < 0 and self.start is not None and self.start.undercut:
            here = self.untouched().with_room(np.array([tile]))
        layer = int(here.layer[tile]) if len(here.layer) else -1
        spans: FloatArray | None = here.spans[layer] if layer >= 0 else None
        return spans

    def wood_mm3(self) -> float:
        """Volume of the wood that is there, by the heights and spans at the cells' centres."""
        total = 0.0
        for row in range(0, self.rows, TILE):
            end = min(row + TILE, self.rows)
            high = self.heights(row, end).astype(np.float64)
            low = self.undersides(row, end).astype(np.float64)
            total += float(np.maximum(high - low, 0.0).sum())
        for tile in range(len(self.place)):
            spans = self.spans_of(tile)
            if spans is not None:
                thick = np.maximum(spans[..., 1].astype(np.float64) - spans[..., 0], 0.0)
                above = np.where(thick[:, 0] > 0.0, spans[:, 0, 1].astype(np.float64), -np.inf)
                total += float(thick.sum())
                total -= float(np.maximum(above - self.stored(tile)[1], 0.0).sum())
        return total * self.cell_mm**2

    def _centres(self, tile: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Where the columns and the rows of a tile are on the board. [mm] (TILE,) each"""
        ty, tx = divmod(tile, self.tiles_x)
        across = np.arange(TILE, dtype=np.float64)
        x = (self.first[1] + tx * TILE + across + 0.5) * self.cell_mm
        y = (self.first[0] + ty * TILE + across + 0.5) * self.cell_mm
        return x, y

    def _at_start(self, tile: int) -> tuple[FloatArray, FloatArray]:
        """Top and underside of a tile before the first cut. (TILE, TILE) each"""
        if self.start is None:
            flat = np.zeros((TILE, TILE), np.float32)
            return flat, np.full_like(flat, self.floor_mm)
        top, beneath = self.start.heights(*self._centres(tile))
        low = np.clip(beneath, self.floor_mm, 0.0).astype(np.float32)
        return np.maximum(np.clip(top, self.floor_mm, 0.0).astype(np.float32), low), low

    def _span(self, first: int, end: int | None, left: int, right: int | None) -> Span:
        return (
            first, self.rows if end is None else end,
            left, self.columns if right is None else right,
        )  # fmt: skip

    def _tiles_over(
        self, span: Span
    ) -> Iterator[tuple[int, tuple[slice, slice], tuple[slice, slice]]]:
        """Tiles that hold some cells, and which of them those are: in the map, in the tile."""
        for ty in range(span[0] // TILE, -(-span[1] // TILE)):
            rows = max(span[0], ty * TILE), min(span[1], (ty + 1) * TILE)
            for tx in range(span[2] // TILE, -(-span[3] // TILE)):
                columns = max(span[2], tx * TILE), min(span[3], (tx + 1) * TILE)
                yield (
                    ty * self.tiles_x + tx,
                    (
                        slice(rows[0] - span[0], rows[1] - span[0]),
                        slice(columns[0] - span[2], columns[1] - span[2]),
                    ),
                    (
                        slice(rows[0] - ty * TILE, rows[1] - ty * TILE),
                        slice(columns[0] - tx * TILE, columns[1] - tx * TILE),
                    ),
                )

    def _map(self, span: Span, store: NDArray[Scalar], untouched: Scalar) -> NDArray[Scalar]:
        first, end, left, right = span
        whole = np.empty((end - first, right - left), store.dtype)
        lay_out(store, self.place, self.tiles_x, first, left, untouched, whole)
        return whole

    def _empty_beyond_the_edge(self, tile: int, cells: FloatArray) -> None:
        # Where there is no board there is nothing to take.
        ty, tx = divmod(tile, self.tiles_x)
        rows, columns = self.rows - ty * TILE, self.columns - tx * TILE
        if rows >= TILE and columns >= TILE:
            return
        view = cells.reshape(_SIDE, _SIDE, BLOCK, BLOCK).transpose(0, 2, 1, 3)
        row, column = np.mgrid[0:TILE, 0:TILE]
        outside = ((row >= rows) | (column >= columns)).reshape(_SIDE, BLOCK, _SIDE, BLOCK)
        view[outside] = self.floor_mm


def _by_blocks(tile: NDArray[Any]) -> NDArray[Any]:
    """A plain tile as it is stored. (TILE, TILE, ..) to (TILE², ..)"""
    each = tile.shape[2:]
    blocks = tile.reshape(_SIDE, BLOCK, _SIDE, BLOCK, *each).swapaxes(1, 2)
    return np.ascontiguousarray(blocks).reshape(-1, *each)


def _stored_at(
    row: NDArray[np.int64], column: NDArray[np.int64], tiles_x: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The tile that each of some cells is in, and where it is stored there."""
    r, c = row % TILE, column % TILE
    block = r // BLOCK * _SIDE + c // BLOCK
    return row // TILE * tiles_x + column // TILE, (block * BLOCK + r % BLOCK) * BLOCK + c % BLOCK
