"""One window of steps taken out of a field, tile by tile, on several threads."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import Cutter
from kerfwright.kernels import removal
from kerfwright.stock.field import Field

SHAPES = {"flat": removal.FLAT, "ball": removal.BALL, "v": removal.VEE}


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What the steps of a window took: rows of each step are entry[i] to entry[i + 1]."""

    entry: NDArray[np.int64]  #: (steps + 1,)
    volume: NDArray[np.float32]  #: (rows,) sum of depths [mm]; times the cell's area a volume
    engagement: NDArray[np.float32]  #: (rows, 3, BINS), see ``kernels.removal``


class Remover:
    """Takes windows of steps out of a field. The tiles are shared out between threads.

    Every tile sees its steps in the program's order, so neither the number of threads nor the
    windows change a bit of the result.
    """

    def __init__(self, field: Field, threads: int) -> None:
        self.field = field
        self._threads = max(1, threads)
        self._pool = ThreadPoolExecutor(self._threads) if self._threads > 1 else None
        tiles = len(field.place)
        self._many = np.zeros(tiles, np.int64)
        self._start = np.zeros(tiles, np.int64)
        self._touched = np.empty(tiles, np.int64)

    def close(self) -> None:
        """Let the threads go."""
        if self._pool is not None:
            self._pool.shutdown()

    def take(
        self,
        steps: NDArray[np.float64],
        follows: NDArray[np.bool_],
        first_step: int,
        cutter: Cutter,
        engaged: bool = True,
    ) -> Taken:
        """Take one window of steps (w, 6), all with the same cutter, in the board's frame."""
        count = len(steps)
        field = self.field
        rectangle = np.empty((count, 4), np.int64)
        entry = np.empty(count + 1, np.int64)
        rows = removal.touched_tiles(
            steps, count, cutter.radius_mm, field.cell_mm, field.tiles_x, field.tiles_y,
            rectangle, entry,
        )  # fmt: skip
        step_of, row_of = np.empty(rows, np.int64), np.empty(rows, np.int64)
        tiles = removal.sort_by_tile(
            count, rectangle, entry, field.tiles_x, self._many, self._start, self._touched,
            step_of, row_of,
        )  # fmt: skip
        touched = self._touched[:tiles].copy()
        if (field.place[touched] < 0).any():
            field = self.field = field.with_room(touched)
        volume = np.zeros(rows, np.float32)
        engagement = np.empty((rows if engaged else 1, 3, removal.BINS), np.float32)

        def take_tile(tile: int) -> None:
            a, many = int(self._start[tile]), int(self._many[tile])
            removal.cut_tile(
                tile % field.tiles_x, tile // field.tiles_x, int(field.place[tile]), many,
                step_of[a : a + many], row_of[a : a + many], steps, follows, first_step,
                field.cell_mm, SHAPES[cutter.shape], cutter.radius_mm, cutter.flank_slope,
                cutter.tip_diameter_mm / 2.0, field.floor_mm, field.height_mm, field.top_mm,
                field.made_by, field.through_at, engaged, volume, engagement,
            )  # fmt: skip

        self._each(take_tile, touched[np.argsort(-self._many[touched], kind="stable")].tolist())
        self._many[touched] = 0
        return Taken(entry=entry, volume=volume, engagement=engagement)

    def _each(self, work: Callable[[int], None], tiles: list[int]) -> None:
        if self._pool is None or len(tiles) < 2:
            for tile in tiles:
                work(tile)
        else:
            list(self._pool.map(work, tiles))
