"""Pieces that the job cuts free and nothing holds, by which step, and what would hold them."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.joining import join_cut, join_rows
from kerfwright.prove.facts import Facts
from kerfwright.stock.field import NEVER, Field

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

#: Smaller ones are splinters, which the chip stream takes along. Common practice, no source.
SPLINTER_MM2 = 25.0
_WOOD_MM = 1e-3
_AT_ONCE = 1_000_000  #: cells in one kernel call
#: Bridges that are usual: common practice, no source.
BRIDGES, BRIDGE_WIDE_MM, BRIDGE_HIGH_MM = 3, 6.0, 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """Wood that is left standing across a cut."""

    at_mm: tuple[float, float]  #: on the board
    step: int  #: that cuts it through


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Wood that has no bridge left to anything that is held."""

    area_mm2: float
    middle_mm: tuple[float, float]  #: a place in the piece, far from its edges
    box: tuple[slice, slice]  #: rows and columns around it
    freed_at: int  #: the step that took the last bridge
    bridges: tuple[Bridge, ...]  #: where three would hold it; none where there is no room
    bridged: bool  #: whether it hangs on what is held with these bridges alone
    freed_in: Callable[[Field], int]  #: the step that frees it where the same is cut in other order


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wood:
    """The board where it was cut and a cell around, which stands for all of it beyond.

    Arrays cover rows and columns from ``first`` on.
    """

    first: tuple[int, int]
    shape: tuple[int, int]  #: rows and columns of the whole board
    label: NDArray[Any]  #: number of the piece that a cell belongs to, 0 where nothing is left
    height_mm: NDArray[np.float32]
    through_at: NDArray[np.int32]

    @classmethod
    def of(cls, field: Field) -> "_Wood":
        from scipy import ndimage

        rows, columns = field.rows, field.columns
        span = (0, rows, 0, columns)
        if field.start is None:  # beyond what was touched it is whole
            top, bottom, left, right = field.touched()
            span = (
                max(top - 1, 0), min(bottom + 1, rows), max(left - 1, 0), min(right + 1, columns)
            )  # fmt: skip
        height, through = field.heights(*span), field.openers(*span)
        label, _ = ndimage.label((height > field.floor_mm + _WOOD_MM) & (through == NEVER))
        return cls(
            first=(span[0], span[2]), shape=(rows, columns), label=label, height_mm=height,
            through_at=through,
        )  # fmt: skip

    def over(self, values: NDArray[Any], box: tuple[slice, slice]) -> NDArray[Any]:
        """One of the arrays over rows and columns of the board."""
        for axis, (part, first) in enumerate(zip(box, self.first, strict=True)):
            many = values.shape[axis]
            at = np.clip(np.arange(part.start - first, part.stop - first), 0, many - 1)
            inside = slice(part.start - first, part.stop - first)
            whole = inside.start >= 0 and inside.stop <= many
            part_of: list[Any] = [slice(None), slice(None)]
            part_of[axis] = inside if whole else at
            values = values[tuple(part_of)]
        return values

    def cells(self) -> NDArray[np.int64]:
        """How many each piece has, those of number 0 first."""
        out = np.bincount(self.label.ravel())
        for number, rows, columns in self._beyond():
            out[number] += (rows.stop - rows.start) * (columns.stop - columns.start)
        return out

    def boxes(self) -> list[tuple[slice, slice]]:
        """The rows and columns that hold each piece, from number 1 on."""
        from scipy import ndimage

        out = []
        for box in ndimage.find_objects(self.label):
            rows, columns = (
                slice(part.start + first, part.stop + first)
                for part, first in zip(box, self.first, strict=True)
            )
            out.append((rows, columns))
        for number, *strip in self._beyond():
            rows, columns = (
                slice(min(one.start, two.start), max(one.stop, two.stop))
                for one, two in zip(out[number - 1], strip, strict=True)
            )
            out[number - 1] = (rows, columns)
        return out

    def most_of_rim(self) -> int:
        """Number of the piece that has the most of the board's outer edge; 0 if none has any."""
        rows, columns = self.shape
        whole = slice(0, rows), slice(0, columns)
        sides = [(slice(0, 1), whole[1]), (slice(rows - 1, rows), whole[1])]
        sides += [(whole[0], slice(0, 1)), (whole[0], slice(columns - 1, columns))]
        along = np.bincount(np.concatenate([self.over(self.label, side).ravel() for side in sides]))
        along[0] = 0
        return int(np.argmax(along))

    def _beyond(self) -> Iterator[tuple[int, slice, slice]]:
        """The board beyond the arrays in strips: of which piece, rows and columns."""
        (rows, columns), (top, left) = self.shape, self.first
        bottom, right = top + self.label.shape[0], left + self.label.shape[1]
        strips = (
            (0, 0, slice(0, top), slice(0, columns)),
            (-1, 0, slice(bottom, rows), slice(0, columns)),
            (0, 0, slice(top, bottom), slice(0, left)),
            (0, -1, slice(top, bottom), slice(right, columns)),
        )
        for row, column, *strip in strips:
            if all(part.stop > part.start for part in strip):
                yield int(self.label[row, column]), *strip


def loose(facts: Facts) -> Iterator[Piece]:
    """Each piece that the job cuts free and nothing holds."""
    field = facts.swept.field
    wood = _Wood.of(field)
    area = wood.cells().astype(np.float64) * field.cell_mm**2
    area[0] = 0.0
    held = _held(facts, field, wood, area)
    numbers = [one for one in np.flatnonzero(area >= SPLINTER_MM2).tolist() if one not in held]
    boxes = wood.boxes() if numbers else []
    margin = int(np.ceil(2.0 * _widest_mm(facts) / field.cell_mm)) + 2
    for number in numbers:
        box = boxes[number - 1]
        around = (_wider(box[0], margin, wood.shape[0]), _wider(box[1], margin, wood.shape[1]))
        near = _nearest_other(np.pad(wood.over(wood.label, box) == number, 1))
        down, across = np.ogrid[0 : near.shape[1], 0 : near.shape[2]]
        deep2 = (near[0] - down) ** 2 + (near[1] - across) ** 2
        deep2 = deep2[1:-1, 1:-1]
        row, column = np.unravel_index(int(np.argmax(deep2)), deep2.shape)
        middle = (
            (box[1].start + int(column) + 0.5) * field.cell_mm,
            (box[0].start + int(row) + 0.5) * field.cell_mm,
        )
        label, through = wood.over(wood.label, around), wood.over(wood.through_at, around)
        open_side = np.zeros(label.shape, np.bool_)  # beyond it the board goes on
        for axis, part in enumerate(around):
            first: list[slice | int] = [slice(None), slice(None)]
            last = list(first)
            first[axis], last[axis] = 0, -1
            open_side[tuple(first)] |= part.start > 0
            open_side[tuple(last)] |= part.stop < wood.shape[axis]
        fast = open_side | np.isin(label, list(held))
        stands = wood.over(wood.height_mm, around) > field.floor_mm + _WOOD_MM
        here = label == number
        bridges, bridged = _bridged(field, around, through, here, fast, stands)
        yield Piece(
            bridges=bridges,
            bridged=bridged,
            area_mm2=float(area[number]),
            middle_mm=middle,
            box=(box[0], box[1]),
            freed_at=_freed_at(through, stands, here, fast),
            freed_in=partial(_freed_in, wood, around, stands, here, fast),
        )


def _nearest_other(those: BoolArray) -> NDArray[np.int32]:
    """Row and column of the nearest cell that is none of those. (2, rows, columns)"""
    from scipy import ndimage

    return np.asarray(
        ndimage.distance_transform_edt(those, return_distances=False, return_indices=True)
    )


def _freed_in(
    wood: _Wood, around: tuple[slice, slice], stands: BoolArray, piece: BoolArray,
    fast: BoolArray, other: Field,
) -> int:  # fmt: skip
    """When a piece comes loose in a field that has the same wood left."""
    (top, left), (high, wide) = wood.first, wood.label.shape
    through = replace(wood, through_at=other.openers(top, top + high, left, left + wide))
    return _freed_at(through.over(through.through_at, around), stands, piece, fast)


def _bridged(
    field: Field,
    around: tuple[slice, slice],
    through: NDArray[np.int32],
    piece: BoolArray,
    fast: BoolArray,
    stands: BoolArray,
) -> tuple[tuple[Bridge, ...], bool]:
    """Up to three bridges round a piece, and whether the last of them alone would hold it.

    Each is the shortest way from the piece to wood that is held, in its third of the way round.
    """
    from scipy import ndimage

    if not fast.any():
        return (), False
    near = _nearest_other(~fast)
    edge = np.argwhere(piece & ~ndimage.binary_erosion(piece))
    middle = edge.mean(axis=0)
    turn = np.arctan2(edge[:, 0] - middle[0], edge[:, 1] - middle[1])
    part = np.floor((turn + np.pi) / (2.0 * np.pi / BRIDGES)).astype(np.int64) % BRIDGES
    out, whole = [], True
    for number in range(BRIDGES):
        mine = edge[part == number]
        if not len(mine):
            continue
        gap = np.sqrt(((near[:, mine[:, 0], mine[:, 1]] - mine.T) ** 2).sum(axis=0))
        # Of the places that are as near as any, the one amid them: not a corner.
        close = mine[gap <= gap.min() + 1.0]
        row, column = close[len(close) // 2].tolist()
        to_row, to_column = near[0, row, column], near[1, row, column]
        steps = max(abs(to_row - row), abs(to_column - column), 1)
        rows = np.linspace(row, to_row, 2 * steps + 1).round().astype(np.int64)
        columns = np.linspace(column, to_column, 2 * steps + 1).round().astype(np.int64)
        cut = through[rows, columns]
        if not (cut != NEVER).any():
            continue
        left = np.zeros(piece.shape, np.bool_)
        left[rows, columns] = True
        left = ndimage.binary_dilation(
            left, iterations=max(int(0.5 * BRIDGE_WIDE_MM / field.cell_mm), 1)
        )
        wood = (stands & (through == NEVER)) | piece | fast | left
        label, _ = ndimage.label(wood)
        whole &= bool((fast & (label == label[row, column])).any())
        at = len(rows) // 2
        out.append(
            Bridge(
                at_mm=(
                    (around[1].start + int(columns[at]) + 0.5) * field.cell_mm,
                    (around[0].start + int(rows[at]) + 0.5) * field.cell_mm,
                ),
                step=int(cut[cut != NEVER].max()),
            )
        )
    return tuple(out), whole and len(out) >= 2


def _wider(part: slice, margin: int, size: int) -> slice:
    return slice(max(part.start - margin, 0), min(part.stop + margin, size))


def _freed_at(
    through: NDArray[np.int32], stands: BoolArray, piece: BoolArray, fast: BoolArray
) -> int:
    """The first step after which no way through wood leads from the piece to what is ``fast``."""
    cut = np.flatnonzero(through != NEVER)
    if not len(cut):
        return 0
    step = through.ravel()[cut]
    order = np.argsort(-step, kind="stable")
    cut, step = cut[order], step[order]
    there = (through == NEVER) & stands
    rows, columns = there.shape
    parent = np.arange(rows * columns + 1, dtype=np.int32)
    strip = max(1, _AT_ONCE // columns)
    for row in range(0, rows, strip):
        join_rows(row, min(row + strip, rows), there, fast, parent)
    some = int(np.argmax(piece))
    for begin in range(0, len(cut), _AT_ONCE):
        end = min(begin + _AT_ONCE, len(cut))
        joined = join_cut(begin, end, cut, some, there, fast, parent)
        if joined >= 0:
            return int(step[joined])
    return int(step[-1])


def _held(facts: Facts, field: Field, wood: _Wood, area: NDArray[np.float64]) -> set[int]:
    """Numbers of the pieces that something holds.

    Where nothing is said of it, a board is held by its rim: by the piece that has most of it, or by
    the largest where the rim is all cut away.
    """
    hold = facts.setup.hold
    grips = hold.grips if hold is not None else ()
    cell, (rows, columns) = field.cell_mm, wood.shape
    if any(grip.whole for grip in grips):
        return set(range(1, len(area)))
    out: set[int] = set()
    for grip in grips:
        for x, y in grip.at_mm:
            column, row = min(int(x / cell), columns - 1), min(int(y / cell), rows - 1)
            out.add(
                int(wood.over(wood.label, (slice(row, row + 1), slice(column, column + 1)))[0, 0])
            )
    out.discard(0)
    return out or {wood.most_of_rim() or int(np.argmax(area))}


def _widest_mm(facts: Facts) -> float:
    slots = facts.setup.slots.values()
    return max((cutter.diameter_mm for cutter in slots), default=6.0)
