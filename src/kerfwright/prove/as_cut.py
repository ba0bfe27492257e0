"""The part as it will be, against the part as programmed: the top by height, the walls by side."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from kerfwright.basics import Estimate, Spot
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.kernels import cutting
from kerfwright.machine import MachineModel
from kerfwright.prove.spread import FORCE, around
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.prove.verdict import AsCut
from kerfwright.prove.walls import walls
from kerfwright.setup import Setup
from kerfwright.stock.by_block import extremes_by_block, worst_by_block
from kerfwright.stock.field import NEVER, Field, Span

FloatArray = NDArray[np.float64]
Part = Literal["set-up", "machine", "cut", ""]

#: Steeper than this a cell belongs to a wall: its height says nothing of its surface.
STEEPEST = 2.0
#: Less than this beside the programmed cut leaves no mark that anyone sees.
GRAZE_MM = 0.02
STRIP_CELLS = 2_000_000  #: of the map worked on at once
#: Where more cells lie between the places that were cut, those of the map are coarser.
MOST_CELLS = 16_000_000
_MARGIN = 3  #: cells to each side that what is steep, or more than a single cell, looks at
ZERO, PLAY = "how Z was zeroed", "play in the machine"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The largest error one way, and the cell that has it."""

    error_mm: float = 0.0  #: above 0 proud
    row: int = 0
    column: int = 0
    height_mm: float = 0.0  #: as programmed


@dataclass(frozen=True, slots=True, kw_only=True)
class Map:
    """Error of the top where the board was touched, and what it was made from.

    A cell of the arrays stands for ``block`` x ``block`` cells of the field: the highest height in
    it, the error farthest from 0.
    """

    first: tuple[int, int]  #: row and column of the field where the arrays begin
    block: int
    height_mm: NDArray[np.float32]
    error_mm: NDArray[np.float32]  #: NaN where not touched or too steep
    known_mm: NDArray[np.float32]  #: (k,) the error of every cell of the field that has one
    proud: Place
    shy: Place


def error_map(programmed: Field, as_run: Field) -> Map:
    """Error square to the surface: above 0 the wood is proud, below 0 shy."""
    first, end, left, right = _window(programmed, as_run)
    rows, columns = end - first, right - left
    block = max(1, int(np.ceil(np.sqrt(rows * columns / MOST_CELLS))))
    shape = (-(-rows // block), -(-columns // block))
    height, error = np.empty(shape, np.float32), np.empty(shape, np.float32)
    known: list[NDArray[np.float32]] = []
    extremes = _Extremes((first, left))
    strip = block * max(1, STRIP_CELLS // (block * max(columns, 1)))
    for row in range(first, end, strip):
        stop = min(row + strip, end)
        begin, over = max(row - _MARGIN, 0), min(stop + _MARGIN, programmed.rows)
        told = _error_strip(programmed, as_run, (begin, over, left, right))
        high, off = (part[row - begin : stop - begin] for part in told)
        some = np.isfinite(off)
        if some.any():
            known.append(off[some])
            # The row before tells whether one in the first row is more than a single cell.
            extremes.look(told[1][max(row - 1, first) - begin : stop - begin], high, row - first)
        into = slice((row - first) // block, -(-(stop - first) // block))
        height[into] = extremes_by_block(high, block)[0]
        error[into] = worst_by_block(off, block)
    return Map(
        first=(first, left),
        block=block,
        height_mm=height,
        error_mm=error,
        known_mm=np.concatenate(known or [np.empty(0, np.float32)]),
        proud=extremes.place(1.0),
        shy=extremes.place(-1.0),
    )


def _window(programmed: Field, as_run: Field) -> Span:
    """All that either of two fields touched, and a margin."""
    spans = [one.touched() for one in (programmed, as_run)]
    spans = [span for span in spans if span[1] > span[0]]
    if not spans:
        return 0, 0, 0, 0
    first, end, left, right = np.array(spans).T
    return (
        max(int(first.min()) - _MARGIN, 0), min(int(end.max()) + _MARGIN, programmed.rows),
        max(int(left.min()) - _MARGIN, 0), min(int(right.max()) + _MARGIN, programmed.columns),
    )  # fmt: skip


class _Extremes:
    """The highest and the lowest place that are more than a single cell, strip by strip."""

    def __init__(self, first: tuple[int, int]) -> None:
        self._first = first
        self._broad: dict[float, Place] = {}
        self._single: dict[float, Place] = {}

    def look(self, error_mm: NDArray[np.float32], height: NDArray[np.float32], row: int) -> None:
        """``error_mm`` has the row before ``height``'s first as well, if there is one."""
        more = len(error_mm) - len(height)
        for sign in (1.0, -1.0):
            filled = np.where(np.isfinite(error_mm), sign * error_mm, np.float32(-np.inf))
            broad = ndimage.minimum_filter(filled, size=2)[more:]
            for found, values in ((self._broad, broad), (self._single, filled[more:])):
                where = np.unravel_index(int(np.argmax(values)), values.shape)
                value, before = float(values[where]), found.get(sign)
                if np.isfinite(value) and (before is None or value > sign * before.error_mm):
                    found[sign] = Place(
                        error_mm=sign * value,
                        row=self._first[0] + row + int(where[0]),
                        column=self._first[1] + int(where[1]),
                        height_mm=float(height[where]),
                    )

    def place(self, sign: float) -> Place:
        return self._broad.get(sign) or self._single.get(sign) or Place()


def _error_strip(
    programmed: Field, as_run: Field, span: Span
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Height as programmed and error of some cells."""
    height, made_by, _ = programmed.maps(*span)
    run, made_run, _ = as_run.maps(*span)
    if (made_by == NEVER).all() and (made_run == NEVER).all():
        return height, np.full_like(height, np.nan)
    slope2 = np.zeros_like(height)
    for axis in (0, 1):
        step = np.abs(np.diff(height, axis=axis)) / np.float32(programmed.cell_mm)
        grown = [(0, 0), (0, 0)]
        grown[axis] = (1, 0)
        before = np.pad(step, grown)
        grown[axis] = (0, 1)
        slope2 += np.maximum(before, np.pad(step, grown)) ** 2
    # At a foot or a rim the map's slope is not the surface's: keep clear by a cell.
    steep = ndimage.maximum_filter(slope2 > STEEPEST**2, size=3)
    # A tip that gives way may graze the board on its way; that alone is no cut.
    touched = (made_by != NEVER) | ((made_run != NEVER) & (run < height - GRAZE_MM))
    through = (height <= programmed.floor_mm) | (run <= programmed.floor_mm)
    error = (run - height) / np.sqrt(np.float32(1.0) + slope2)
    error[~touched | steep | through] = np.nan
    return height, error


def as_cut(
    top: Map,
    swept: Swept,
    offset_mm: FloatArray,
    tools: Tooling,
    line_of: NDArray[np.int64],
    setup: Setup,
    machine: MachineModel,
    log_spread: float,
    rounding_mm: float,
) -> AsCut:
    """What is wrong with the part, where, and what it comes from.

    ``log_spread``: standard deviation of the logarithm of the give, by law and by machine.
    ``rounding_mm``: how far the machine may round corners off the path.
    """
    cell = swept.field.cell_mm
    error = top.known_mm.astype(np.float64)
    cut = swept.column[:, cutting.TAKEN] > 0.0
    give = np.linalg.norm(swept.give_mm[cut], axis=1)
    most_give = float(np.quantile(give, 0.95)) if len(give) else 0.0
    others = _others(setup, machine, rounding_mm)

    def estimate(value: float) -> Estimate:
        by_force = float(np.clip(value, -most_give, most_give))
        return around(value, by_force, log_spread, others)

    proud, proud_spot = _extreme(top.proud, cell, 1.0, estimate)
    shy, shy_spot = _extreme(top.shy, cell, -1.0, estimate)
    outside = float((np.abs(error) > setup.tolerance_mm).mean() * 100.0) if len(error) else 0.0
    return AsCut(
        cell_mm=cell,
        tolerance_mm=setup.tolerance_mm,
        mean_mm=float(error.mean()) if len(error) else 0.0,
        ninety_five_mm=float(np.quantile(np.abs(error), 0.95)) if len(error) else 0.0,
        proud=proud,
        proud_spot=proud_spot,
        shy=shy,
        shy_spot=shy_spot,
        outside_percent=outside,
        ruled_by=_ruled_by(most_give, log_spread, others),
        walls=walls(swept, offset_mm, tools, line_of, setup, machine, log_spread),
    )


def _others(setup: Setup, machine: MachineModel, rounding_mm: float) -> dict[str, float]:
    """What else than force moves a height, half widths of 95 %. [mm]"""
    return {
        ZERO: TWO_SIDED_95 * setup.zero_u_mm[2],
        PLAY: float(np.hypot(0.5 * machine.z.play_mm, rounding_mm)),
    }


def _ruled_by(most_give_mm: float, log_spread: float, others: Mapping[str, float]) -> Part:
    told = around(most_give_mm, most_give_mm, log_spread, others).mostly_from
    rooms: dict[str, Part] = {ZERO: "set-up", PLAY: "machine", FORCE: "cut"}
    return rooms.get(told, "")


def _extreme(
    place: Place, cell_mm: float, sign: float, estimate: Callable[[float], Estimate]
) -> tuple[Estimate, Spot]:
    """The highest or lowest place; nothing where no error is known."""
    value = sign * max(0.0, sign * place.error_mm)
    if place == Place():
        return Estimate(value=0.0, low=0.0, high=0.0), Spot(x_mm=0.0, y_mm=0.0, z_mm=0.0)
    return estimate(value), Spot(
        x_mm=(place.column + 0.5) * cell_mm,
        y_mm=(place.row + 0.5) * cell_mm,
        z_mm=place.height_mm,
    )
