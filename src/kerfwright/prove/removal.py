"""One window of steps taken out of a field, tile by tile, on several threads."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import prod
from typing import Any, TypeVar

import numpy as np
from numpy.typing import DTypeLike, NDArray

from kerfwright.cutter import CORNERED, Cutter
from kerfwright.kernels import profile, removal, tiles
from kerfwright.kernels.engagement import LANE_ROWS, STEEP_UP, lanes_for, row_length
from kerfwright.kernels.runs import LEVEL_MM, make_runs
from kerfwright.kernels.walls import MEAN, MOST_CORNERS, RECORD
from kerfwright.prove.keyframes import Recorder
from kerfwright.stock.field import Field, Stores

T = TypeVar("T")
IntArray = NDArray[np.int64]

_PLAIN = {"flat": profile.FLAT, "ball": profile.BALL, "v": profile.VEE, "drill": profile.VEE}
_NOTHING_LOST = np.zeros(1, np.int64)


def kernel_of(cutter: Cutter) -> int:
    """Which kernel cuts its shape, see ``kernels.profile``."""
    if cutter.shape in CORNERED:
        return profile.UNDERCUT if cutter.undercuts else profile.OUTLINE
    return _PLAIN.get(cutter.shape, profile.ROUND)


def form_of(cutter: Cutter) -> NDArray[np.float64]:
    """A cutter's outline as numbers, see ``kernels.profile``."""
    kernel = kernel_of(cutter)
    if kernel in (profile.OUTLINE, profile.UNDERCUT):
        return profile.outline_form(np.array(cutter.corners_mm, np.float64))
    if kernel == profile.ROUND:
        disc, arc, lean = cutter.disc_arc_lean
        return profile.round_form(cutter.radius_mm, disc, arc, lean)
    tip = cutter.tip_diameter_mm / 2.0
    return profile.form_of(kernel, cutter.radius_mm, cutter.flank_slope, tip)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What the runs of a window took: rows of each run are entry[i] to entry[i + 1]."""

    group_run: NDArray[np.int64]  #: (groups + 1,) first run of each group of steps
    in_lanes: NDArray[np.bool_]  #: (runs,) whether its wood was gathered in lanes; else in bins
    entry: NDArray[np.int64]  #: (runs + 1,)
    volume: NDArray[np.float32]  #: (rows,) sum of depths [mm]; times the cell's area a volume
    lanes: int
    #: (rows, LANE_ROWS, ..), see ``kernels.engagement``. There are one more than ``TAKEN_AHEAD`` of
    #: them, used in turn.
    engagement: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Runs:
    """See ``kernels.runs.make_runs``."""

    part: NDArray[np.float64]
    follows: NDArray[np.bool_]
    number: NDArray[np.int64]
    first: NDArray[np.int64]
    box: NDArray[np.float64]
    along: NDArray[np.bool_]
    of_group: NDArray[np.int64]


def _steeply_up(runs: _Runs) -> NDArray[np.bool_]:
    """Runs in which a cutter is lifted rather than moved along. (runs,)"""
    begin, end = runs.part[runs.first[:-1], :3], runs.part[runs.first[1:] - 1, 3:]
    way = end - begin
    return np.asarray(way[:, 2] > STEEP_UP * np.linalg.norm(way, axis=1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Walls:
    """Walls through the cells of one tile, see ``kernels.walls``."""

    wall_of: NDArray[np.int32]  #: (TILE²,) which record each cell has, 0 for none
    walled: NDArray[np.int32]  #: (blocks,) how many cells of each block have one
    records: NDArray[np.float32]  #: (r, RECORD)
    free: NDArray[np.int32]  #: (r,) how many are free, and which

    def with_room(self) -> "Walls":
        """The same with twice the records, or some if there were none."""
        old = len(self.records)
        more = old or FIRST_RECORDS
        records = np.empty((old + more, RECORD), np.float32)
        records[:old] = self.records
        free = np.zeros(old + more, np.int32)
        left = int(self.free[0]) if old else 0
        free[1 : left + 1] = self.free[1 : left + 1]
        new = np.arange(max(old, 1), old + more, dtype=np.int32)
        free[left + 1 : left + 1 + len(new)] = new[::-1]
        free[0] = left + len(new)
        some = old > 0
        return Walls(
            wall_of=self.wall_of if some else np.zeros(tiles.TILE**2, np.int32),
            walled=self.walled if some else np.zeros((tiles.TILE // tiles.BLOCK) ** 2, np.int32),
            records=records,
            free=free,
        )


NO_WALLS = Walls(
    wall_of=np.empty(0, np.int32), walled=np.empty(0, np.int32),
    records=np.empty((0, RECORD), np.float32), free=np.empty(0, np.int32),
)  # fmt: skip
FIRST_RECORDS = 1024
#: The steps of a run may lie beside its line by this share of a cell.
BESIDE_SHARE = 0.01
#: Windows that may be taken while the loads of one are asked for: at a change of window one of
#: both always has work for all threads.
TAKEN_AHEAD = 2
MOST_AT_ONCE = 8  #: tiles that a thread takes before it looks for more
PARTS = 4  #: of each thread's share: who is done early takes more


class Room:
    """Arrays that are made once and used again for each window: new ones cost a page at a time."""

    def __init__(self) -> None:
        self._kept: dict[str, NDArray[Any]] = {}

    def of(self, name: str, shape: tuple[int, ...], kind: DTypeLike = np.float64) -> NDArray[Any]:
        """One of a shape, with anything in it; that asked for before by this name is given up."""
        size = prod(shape)
        if name not in self._kept or self._kept[name].size < size:
            self._kept[name] = np.empty(size + size // 4, kind)
        return self._kept[name][:size].reshape(shape)


class Remover:
    """Takes windows of steps out of a field. The tiles are shared out between threads.

    Every tile sees its steps in the program's order, so neither the number of threads nor the
    windows change a bit of the result. Not ``weighed``: nothing but heights is asked, volumes are
    rough. Not ``dated``: nor which steps made them.
    """

    def __init__(
        self,
        field: Field,
        threads: int,
        *,
        weighed: bool = True,
        dated: bool = True,
        level_mm: float = LEVEL_MM,
        recorder: Recorder | None = None,
    ) -> None:
        self.field = field
        self.recorder = recorder
        self.room = Room()
        self._stores = Stores()
        self._weighed, self._dated, self._level_mm = weighed, dated, level_mm
        self._walls: dict[int, Walls] = {}
        self._threads = max(1, threads)
        # Two pools: the loads of a window may be asked for while the next is taken.
        self._taking, self._loading = (
            ThreadPoolExecutor(self._threads) if self._threads > 1 else None for _ in range(2)
        )
        self._windows, self._over = 0, False
        count = len(field.place)
        self._many = np.zeros(count, np.int64)
        self._start = np.zeros(count, np.int64)
        self._touched = np.empty(count, np.int64)

    def close(self) -> None:
        """Let the threads go; what they have not begun of a window is left undone."""
        self._over = True
        for pool in (self._taking, self._loading):
            if pool is not None:
                pool.shutdown()

    def take(
        self,
        steps: NDArray[np.float64],
        follows: NDArray[np.bool_],
        first_step: int,
        cutter: Cutter,
        group_first: NDArray[np.int64] | None = None,
    ) -> Taken:
        """Take one window of steps (w, 6), all with the same cutter, in the board's frame.

        ``group_first`` (g + 1,): first step of each group, in which steps may be taken together;
        None: each by itself.
        """
        field = self.field
        groups = np.arange(len(steps) + 1) if group_first is None else group_first
        runs = self._runs(steps, follows, groups)
        count = len(runs.along)
        form = form_of(cutter)
        reach = cutter.radius_mm + (field.cell_mm if self._weighed else 0.0)
        rectangle = np.empty((count, 4), np.int64)
        entry = np.empty(count + 1, np.int64)
        rows = tiles.touched_tiles(
            runs.box, count, reach, field.cell_mm, field.tiles_x, field.tiles_y, rectangle, entry
        )
        run_of, row_of = np.empty(rows, np.int64), np.empty(rows, np.int64)
        many_touched = tiles.sort_by_tile(
            count, rectangle, entry, field.tiles_x, self._many, self._start, self._touched,
            run_of, row_of,
        )  # fmt: skip
        touched = self._touched[:many_touched].copy()
        if self.recorder is not None:
            self.recorder.before_cut(field, touched)
        if (field.place[touched] < 0).any():
            field = self.field = field.with_room(
                touched, self._stores, self._each, dated=self._dated
            )
        kernel, in_lanes = kernel_of(cutter), runs.along
        if kernel == profile.UNDERCUT:
            in_lanes = runs.along & ~_steeply_up(runs)
            field = self.field = field.in_spans(touched)
            for tile in touched.tolist():  # spans have no walls beside them
                self._walls.pop(tile, None)
        layers = field.layer if len(field.layer) else np.full(len(field.place), -1, np.int64)
        volume = np.zeros(rows, np.float32)
        lanes = lanes_for(cutter.radius_mm, field.cell_mm)
        room = rows if self._weighed else 0
        self._windows += 1
        engagement = self.room.of(
            f"engagement {self._windows % (TAKEN_AHEAD + 1)}",
            (room, LANE_ROWS, row_length(lanes)),
            np.float32,
        )

        def take_tiles(some: IntArray) -> None:
            layer = int(layers[some[0]])
            spans = field.spans[layer] if layer >= 0 else None
            lost = field.lost[layer] if layer >= 0 else _NOTHING_LOST
            work = np.empty((removal.WORK_ROWS, tiles.BLOCK**2), np.float32)
            hits, made = np.empty(tiles.BLOCK**2, np.uint32), np.empty(tiles.BLOCK**2, np.int32)
            polygons = np.empty((4, MOST_CORNERS))
            dates = (
                (field.made_by, field.through_at) if self._dated
                else np.empty((2, 1, tiles.TILE**2), np.int32)
            )  # fmt: skip
            taken = 0
            while len(some):
                here = [self._walls.get(tile, NO_WALLS) for tile in some.tolist()]
                # Always as many, so that the kernel is compiled for one length of tuple.
                here += [NO_WALLS] * (MOST_AT_ONCE - len(here))
                done, taken = removal.cut_tiles(
                    some, taken, field.tiles_x, field.place, self._start, self._many, run_of,
                    row_of, runs.part, runs.follows, runs.number, runs.first, runs.along, in_lanes,
                    first_step, field.cell_mm, kernel, form, float(field.floor_mm),
                    field.beneath_mm, field.height_mm, field.top_mm, *dates, self._dated,
                    self._weighed, tuple(one.wall_of for one in here),
                    tuple(one.walled for one in here), tuple(one.records for one in here),
                    tuple(one.free for one in here), spans, lost, lanes, work, hits, made,
                    polygons, volume, engagement,
                )  # fmt: skip
                some = some[done:]
                if len(some):
                    self._walls[int(some[0])] = here[done].with_room()

        touched = touched[np.argsort(-self._many[touched], kind="stable")]
        self._each(take_tiles, self._portions(touched, layers))
        self._many[touched] = 0
        return Taken(
            group_run=runs.of_group, in_lanes=in_lanes, entry=entry, volume=volume, lanes=lanes,
            engagement=engagement,
        )  # fmt: skip

    def _runs(
        self,
        steps: NDArray[np.float64],
        follows: NDArray[np.bool_],
        group_first: NDArray[np.int64],
    ) -> _Runs:
        """Steps of a window put together, in arrays that the next window is written over."""
        count = len(steps)
        made = _Runs(
            part=self.room.of("part", (count, 6)),
            follows=self.room.of("part follows", (count,), np.bool_),
            number=self.room.of("part number", (count,), np.int64),
            first=np.empty(count + 1, np.int64),
            box=np.empty((count, 6)),
            along=np.empty(count, np.bool_),
            of_group=np.empty(len(group_first), np.int64),
        )
        many = make_runs(
            steps, follows, group_first, BESIDE_SHARE * self.field.cell_mm, self._level_mm,
            made.part, made.follows, made.number, made.first, made.box, made.along, made.of_group,
        )  # fmt: skip
        return replace(made, first=made.first[: many + 1], box=made.box[:many],
                       along=made.along[:many])  # fmt: skip

    @property
    def mean_mm(self) -> NDArray[np.float32]:
        """Mean height of each cell, as ``field.height_mm`` has them; those where no wall runs."""
        mean = self.field.height_mm.copy()
        for tile, walls in self._walls.items():
            there = np.flatnonzero(walls.wall_of)
            mean[self.field.place[tile], there] = walls.records[walls.wall_of[there], MEAN]
        return mean

    def in_parts(self, count: int, work: Callable[[int, int], None]) -> None:
        """Do ``work(first, end)`` for ranges that make up ``count``, a few for each thread."""
        parts = min(PARTS * self._threads, max(count, 1))
        bounds = np.linspace(0, count, parts + 1).astype(int).tolist()
        if self._loading is None:
            work(0, count)
        else:
            list(self._loading.map(work, bounds[:-1], bounds[1:]))

    def _portions(self, touched: IntArray, layers: IntArray) -> list[IntArray]:
        """Tiles that one thread takes in a row, ``touched`` beginning with those of most runs.

        Between two portions a thread needs the interpreter, for which it may have to wait. Of what
        is left none holds more than half of a thread's share, if it holds more than one tile. A
        tile that is kept in spans is a portion of its own.
        """
        in_spans = layers[touched] >= 0
        out, whole = list(touched[in_spans, None]), touched[~in_spans]
        up_to = np.cumsum(np.append(0, self._many[whole]))
        begin = 0
        while begin < len(whole):
            most = up_to[begin] + (up_to[-1] - up_to[begin]) // (2 * self._threads)
            end = int(np.searchsorted(up_to, most, side="right")) - 1
            end = min(max(end, begin + 1), begin + MOST_AT_ONCE)
            out.append(whole[begin:end])
            begin = end
        return out

    def _each(self, work: Callable[[T], None], things: list[T]) -> None:
        left = iter(things)

        def share(_: int) -> None:
            for one in left:  # each thread takes the next that nobody has
                if self._over:
                    return
                work(one)

        if self._taking is None or len(things) < 2:
            share(0)
        else:
            list(self._taking.map(share, range(self._threads)))
