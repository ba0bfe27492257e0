"""Shank, collet nut, spindle nose and dust boot against the wood that stands at that moment.

Wood only ever gets less. So what stands in the end stood at any moment before, and a body below it
hits it for certain; and what stood before the first cut is the most that can ever have stood. Where
a cell was last cut before the moment asked for it stands as in the end. What lies between is
settled by cutting the region again in portions, and those in portions, until each moment that
matters has been seen: nothing is guessed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.bodies import HIT, OPEN, stand_in_wood, tops
from kerfwright.kernels.tiles import TILE
from kerfwright.prove.bodies import Body
from kerfwright.prove.facts import Facts
from kerfwright.prove.removal import Remover
from kerfwright.prove.sweep import NOT_CUT, Window, windows
from kerfwright.stock.field import Field

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Cells = NDArray[np.generic]

GRAZE_MM = 0.02  #: as for rapids: less is the rounding of a surface that was cut
PARTS = 16  #: portions into which a stretch of the path is cut to see the moments between
MOST_AGAIN = 4_000_000  #: steps that are cut again at most
_HERE = np.zeros(6)
_PORTION = 2048  #: steps in one call, so that none runs long


@dataclass(frozen=True, slots=True, kw_only=True)
class Met:
    """Where a body meets wood."""

    number: IntArray  #: (k,) steps that do, in order
    segment: IntArray  #: (k,)
    deepest_mm: float
    deepest_segment: int
    left_open: int = 0  #: steps that could not be settled, for there are too many to cut again


@dataclass(slots=True, kw_only=True)
class _Steps:
    """Steps of one body; ``done``: how many steps are cut when each is over."""

    steps: FloatArray
    number: IntArray
    segment: IntArray
    done: IntArray

    def __getitem__(self, which: NDArray[np.bool_] | slice) -> "_Steps":
        return _Steps(
            steps=self.steps[which], number=self.number[which], segment=self.segment[which],
            done=self.done[which],
        )  # fmt: skip


@dataclass(slots=True, kw_only=True)
class _Tally:
    """What was found of one body so far."""

    hit: list[_Steps] = field(default_factory=list)
    open: list[_Steps] = field(default_factory=list)
    deepest_mm: float = 0.0
    deepest_segment: int = -1
    left_open: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wood:
    """A region of the board at two moments. Arrays (rows, columns)."""

    cell_mm: float
    first: tuple[int, int]  #: row and column where the arrays begin
    least: Cells  #: at the later moment
    most: Cells  #: at the earlier one
    made: Cells  #: last step that lowered the cell
    blocks: tuple[Cells, Cells, Cells]

    @classmethod
    def of(
        cls, least: Cells, most: Cells, made: Cells, cell_mm: float, first: tuple[int, int]
    ) -> "_Wood":
        return cls(
            cell_mm=cell_mm, first=first, least=least, most=most, made=made,
            blocks=(tops(least), tops(most), tops(made)),
        )  # fmt: skip

    def look(
        self, asked: _Steps, disc: FloatArray, tally: _Tally, at_mm: FloatArray = _HERE
    ) -> _Steps:
        """Add what hits to the tally; what these two moments leave open comes back."""
        state = np.empty(len(asked.number), np.int64)
        radius, height = disc
        steps = asked.steps - at_mm
        deepest = np.array([tally.deepest_mm, -1.0])
        for begin in range(0, len(state), _PORTION):
            part = slice(begin, begin + _PORTION)
            deepest[1] = -1.0
            stand_in_wood(
                steps[part], asked.done[part], radius, height, self.cell_mm, *self.first,
                self.least, self.most, self.made, *self.blocks, GRAZE_MM, state[part], deepest,
            )  # fmt: skip
            if deepest[1] >= 0.0:
                tally.deepest_mm = float(deepest[0])
                tally.deepest_segment = int(asked.segment[begin + int(deepest[1])])
        if (state == HIT).any():
            tally.hit.append(asked[state == HIT])
        return asked[state == OPEN]


def standing(facts: Facts, wanted: Sequence[Body]) -> list[Met | None]:
    """Where each of some bodies, of one disc each, meets wood; None where it does not."""
    if all(facts.lowest_mm + body.most[0, 1] >= -GRAZE_MM for body in wanted):
        return [None for _ in wanted]
    point = facts.on_board(facts.trajectory.point_mm)
    low, high = np.minimum(point[:-1], point[1:]), np.maximum(point[:-1], point[1:])
    flags = [_may_meet(facts, low, high, body) for body in wanted]
    tallies = [_Tally() for _ in wanted]
    some = np.logical_or.reduce(flags)
    if not some.any():
        return [None for _ in wanted]
    reach = max(float(body.most[:, 0].max()) for body in wanted)
    wood = _in_the_end(facts, low[some].min(axis=0), high[some].max(axis=0), reach)
    last = int(np.flatnonzero(some)[-1])
    for window in _until(facts, last):
        for body, flag, tally in zip(wanted, flags, tallies, strict=True):
            asked = _asked(window, flag[window.segment_of])
            if len(asked.number):
                tally.open.append(wood.look(asked, body.most[0], tally))
    _settle_all(facts, wanted, tallies)
    return [_met(tally) for tally in tallies]


def _may_meet(facts: Facts, low: FloatArray, high: FloatArray, body: Body) -> NDArray[np.bool_]:
    """Segments on which the body comes below the top of the board, over the board."""
    radius, height = body.most[0]
    board = facts.setup.board
    may = (low[:, 2] + height < -GRAZE_MM) & (facts.tools.slot == body.slot)
    may &= facts.tools.kind != NOT_CUT
    for axis, size in enumerate((board.length_mm, board.width_mm)):
        may &= (high[:, axis] > -radius) & (low[:, axis] < size + radius)
    return np.asarray(may)


def _until(facts: Facts, segment: int) -> Iterator[Window]:
    """The windows of the path up to the one that holds a segment."""
    cell = facts.swept.field.cell_mm
    for window in windows(facts.trajectory, facts.tools, facts.setup, cell, motion=False):
        if window.begin > segment:
            return
        yield window


def _asked(window: Window, which: NDArray[np.bool_]) -> _Steps:
    number = window.first_step + np.flatnonzero(which)
    return _Steps(
        steps=window.steps[which], number=number, segment=window.segment_of[which],
        done=number + 1,
    )  # fmt: skip


def _span(
    low: FloatArray, high: FloatArray, reach: float, whole: Field
) -> tuple[int, int, int, int]:
    """First and end row, first and end column of the cells within reach, and two more around."""
    out: list[int] = []
    for axis, cells in ((1, whole.rows), (0, whole.columns)):
        first = int(np.floor((low[axis] - reach) / whole.cell_mm)) - 2
        end = int(np.ceil((high[axis] + reach) / whole.cell_mm)) + 2
        first = min(max(first, 0), cells - 1)
        out += [first, min(max(end, first + 1), cells)]
    return out[0], out[1], out[2], out[3]


def _in_the_end(facts: Facts, low: FloatArray, high: FloatArray, reach: float) -> _Wood:
    """The board as it is in the end, against the board before the first cut."""
    r0, r1, c0, c1 = _span(low, high, reach, facts.swept.field)
    field = facts.swept.field
    height, made = field.heights(r0, r1, c0, c1), field.makers(r0, r1, c0, c1)
    least = _opened(height)
    whole = facts.setup.board.start is None
    most = np.zeros_like(least) if whole else field.untouched().heights(r0, r1, c0, c1)
    return _Wood.of(least, most, made, field.cell_mm, (r0, c0))


def _opened(height: NDArray[np.float32]) -> NDArray[np.float32]:
    """Heights without what is a single cell wide: the chords of two passes leave such slivers."""
    from scipy import ndimage  # large, and asked for where something may stand in wood

    if min(height.shape) < 2:
        return np.ascontiguousarray(height)
    return np.ascontiguousarray(ndimage.grey_opening(height, size=(2, 2)))


def _settle_all(facts: Facts, wanted: Sequence[Body], tallies: list[_Tally]) -> None:
    asked = [_joined(tally.open) for tally in tallies]
    if not any(len(one.number) for one in asked):
        return
    corners = np.vstack([one.steps.reshape(-1, 3) for one in asked])
    reach = max(float(body.most[:, 0].max()) for body in wanted)
    r0, r1, c0, c1 = _span(corners.min(axis=0), corners.max(axis=0), reach, facts.swept.field)
    last = max(int(one.segment.max()) for one in asked if len(one.number))
    again = _Again.of(facts, (r0, r1, c0, c1), last)
    if again is None:
        for one, tally in zip(asked, tallies, strict=True):
            tally.left_open = len(one.number)
        return
    shift = np.array([c0, r0, 0, c0, r0, 0]) * again.field.cell_mm
    nowhere = np.zeros(6)
    whole = (0, again.field.rows, 0, again.field.columns)
    untouched = _between(again.field, nowhere, again.field, whole)
    for one, body, tally in zip(asked, wanted, tallies, strict=True):
        one.steps = one.steps - shift
        one.done = np.searchsorted(again.number, one.number, side="right")
        untouched.look(one[one.done == 0], body.most[0], tally)
    again.settle(again.field, nowhere, 0, len(again.number), wanted, asked, tallies)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Again:
    """A region of the board, untouched, and all steps that reach it, in its own frame."""

    facts: Facts
    field: Field
    steps: FloatArray
    follows: NDArray[np.bool_]
    slot: IntArray
    number: IntArray  #: in the whole path

    @classmethod
    def of(cls, facts: Facts, span: tuple[int, int, int, int], last: int) -> "_Again | None":
        r0, r1, c0, c1 = span
        cell = facts.swept.field.cell_mm
        wide_mm, deep_mm = (c1 - c0) * cell, (r1 - r0) * cell
        shift = np.array([c0, r0, 0, c0, r0, 0]) * cell
        parts: list[tuple[FloatArray, NDArray[np.bool_], IntArray, IntArray]] = []
        many = 0
        for window in _until(facts, last):
            slot = int(facts.tools.slot[window.begin])
            reach = facts.setup.slots[slot].radius_mm + cell
            steps = window.steps - shift
            low, high = (
                np.minimum(steps[:, :3], steps[:, 3:]),
                np.maximum(steps[:, :3], steps[:, 3:]),
            )
            touch = (low[:, 2] < 0.0) & (high[:, 0] > -reach) & (high[:, 1] > -reach)
            touch &= (low[:, 0] < wide_mm + reach) & (low[:, 1] < deep_mm + reach)
            number = window.first_step + np.flatnonzero(touch)
            parts.append((steps[touch], window.follows[touch], np.full(len(number), slot), number))
            many += len(number)
            if many > MOST_AGAIN:
                return None
        steps, follows, slots, numbers = (
            np.concatenate(column) for column in zip(*parts, strict=True)
        )
        return cls(
            facts=facts, field=Field.part_of(facts.setup.board, cell, span), steps=steps,
            follows=follows, slot=slots, number=numbers,
        )  # fmt: skip

    def settle(
        self,
        field: Field,
        at_mm: FloatArray,
        begin: int,
        end: int,
        wanted: Sequence[Body],
        asked: Sequence[_Steps],
        tallies: Sequence[_Tally],
    ) -> None:
        """Cut the steps from begin to end in portions, and look at what is asked after each.

        ``at_mm`` is where the field begins in this region; it is the caller's no more.
        """
        remover = Remover(field, 1, weighed=False)
        size = max(1, -(-(end - begin) // PARTS))
        for a in range(begin, end, size):
            b = min(a + size, end)
            mine = [one[(one.done > a) & (one.done <= b)] for one in asked]
            if not any(len(one.number) for one in mine):
                self._take(remover, a, b, at_mm)
                continue
            span = _cells_of(mine, wanted, at_mm, field)
            before, first_mm = _crop(remover.field, span)
            self._take(remover, a, b, at_mm)
            wood = _between(before, first_mm, remover.field, span)
            left = [
                wood.look(one, body.most[0], tally, at_mm) if len(one.number) else one
                for one, body, tally in zip(mine, wanted, tallies, strict=True)
            ]
            if b - a > 1 and any(len(one.number) for one in left):
                self.settle(before, at_mm + first_mm, a, b, wanted, left, tallies)
        remover.close()

    def _take(self, remover: Remover, a: int, b: int, at_mm: FloatArray) -> None:
        """Take steps a to b, each run of one cutter by itself."""
        ends = a + 1 + np.flatnonzero(np.diff(self.slot[a:b]))
        for first, end in zip([a, *ends.tolist()], [*ends.tolist(), b], strict=True):
            cutter = self.facts.setup.slots[int(self.slot[first])]
            for c in range(first, end, _PORTION * 8):
                part = slice(c, min(c + _PORTION * 8, end))
                remover.take(self.steps[part] - at_mm, self.follows[part], c, cutter)


def _cells_of(
    asked: Sequence[_Steps], wanted: Sequence[Body], at_mm: FloatArray, field: Field
) -> tuple[int, int, int, int]:
    """First and end row, first and end column of a field that some steps ask for."""
    corners = np.vstack([one.steps.reshape(-1, 3) for one in asked]) - at_mm[:3]
    reach = max(float(body.most[0, 0]) for body in wanted)
    return _span(corners.min(axis=0), corners.max(axis=0), reach, field)


def _between(
    before: Field, first_mm: FloatArray, after: Field, span: tuple[int, int, int, int]
) -> _Wood:
    """Some cells before and after; ``before`` holds only the tiles around them."""
    r0, r1, c0, c1 = span
    row, column = (round(float(mm) / after.cell_mm) for mm in (first_mm[1], first_mm[0]))
    most = before.heights(r0 - row, r1 - row, c0 - column, c1 - column)
    least, made = after.heights(r0, r1, c0, c1), after.makers(r0, r1, c0, c1)
    return _Wood.of(_opened(least), most, made, after.cell_mm, (r0, c0))


def _crop(field: Field, span: tuple[int, int, int, int]) -> tuple[Field, FloatArray]:
    """A copy of the tiles that hold some cells, and where it begins in the field. [mm] (6,)"""
    r0, r1, c0, c1 = span
    ty, tx = slice(r0 // TILE, -(-r1 // TILE)), slice(c0 // TILE, -(-c1 // TILE))

    def kept(numbers: IntArray) -> tuple[IntArray, IntArray]:
        """Which of what tiles have is held here, and where each tile has it then, or -1."""
        there = numbers.reshape(field.tiles_y, field.tiles_x)[ty, tx].flatten()
        held = there[there >= 0]
        there[there >= 0] = np.arange(len(held))
        return held, there

    held, place = kept(field.place)
    layers, layer = kept(field.layer) if len(field.layer) else (field.layer, field.layer)
    first = np.array([tx.start, ty.start, 0, tx.start, ty.start, 0]) * TILE * field.cell_mm
    part = replace(
        field,
        rows=min(field.rows, ty.stop * TILE) - ty.start * TILE,
        columns=min(field.columns, tx.stop * TILE) - tx.start * TILE,
        place=place,
        first=(field.first[0] + ty.start * TILE, field.first[1] + tx.start * TILE),
        height_mm=field.height_mm[held],
        beneath_mm=field.beneath_mm[held] if field.hollow else field.beneath_mm,
        top_mm=field.top_mm[held],
        made_by=field.made_by[held],
        through_at=field.through_at[held],
        layer=layer,
        spans=field.spans[layers],
        lost=field.lost[layers],
    )
    return part, first


def _joined(parts: list[_Steps]) -> _Steps:
    if not parts:
        none = np.empty(0, np.int64)
        return _Steps(steps=np.empty((0, 6)), number=none, segment=none, done=none)
    return _Steps(
        steps=np.concatenate([part.steps for part in parts]),
        number=np.concatenate([part.number for part in parts]),
        segment=np.concatenate([part.segment for part in parts]),
        done=np.concatenate([part.done for part in parts]),
    )


def _met(tally: _Tally) -> Met | None:
    hit = _joined(tally.hit)
    if not len(hit.number) and not tally.left_open:
        return None
    order = np.argsort(hit.number, kind="stable")
    return Met(
        number=hit.number[order], segment=hit.segment[order], deepest_mm=tally.deepest_mm,
        deepest_segment=tally.deepest_segment, left_open=tally.left_open,
    )  # fmt: skip
