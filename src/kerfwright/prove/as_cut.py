"""The part as it will be, against the part as programmed: the top by height, the walls by side."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Spot
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.kernels import cutting
from kerfwright.machine import MachineModel
from kerfwright.prove.flanks import MISSES, PLAY, STEPS, SWINGS, Z_ZERO
from kerfwright.prove.frames import PLACE, frames_of
from kerfwright.prove.kerfs import kerfs
from kerfwright.prove.parts import cut_outs, softness_of
from kerfwright.prove.run_path import AsRun, miss_unsure_mm, step_unsure_mm
from kerfwright.prove.spread import FORCE, around
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.prove.usual import Errors, Usual
from kerfwright.prove.verdict import AsCut, Cusp, CutOut, Kerf, Share, Shares, Wall
from kerfwright.prove.walls import walls
from kerfwright.setup import Setup
from kerfwright.stock.by_block import extremes_by_block, worst_by_block
from kerfwright.stock.field import Field, Span
from kerfwright.trajectory import Trajectory

FloatArray = NDArray[np.float64]
Part = Literal["set-up", "machine", "cut", ""]

STRIP_CELLS = 250_000  #: of the map worked on at once
#: Where more cells lie between the places that were cut, those of the map are coarser.
MOST_CELLS = 16_000_000
_MARGIN = 3  #: cells around what was touched that the map shows
CORNERS = "how far corners are rounded"


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
    proud: Place
    shy: Place
    usual: Usual


def error_map(programmed: Field, as_run: Field, tolerance_mm: float) -> Map:
    """Error square to the surface: above 0 the wood is proud, below 0 shy."""
    first, end, left, right = _window(programmed, as_run)
    rows, columns = end - first, right - left
    block = max(1, int(np.ceil(np.sqrt(rows * columns / MOST_CELLS))))
    shape = (-(-rows // block), -(-columns // block))
    error = np.empty(shape, np.float32)
    errors = Errors(programmed, as_run, left, right, tolerance_mm)
    extremes, before = _Extremes((first, left)), np.empty((0, columns), np.float32)
    for row, stop in _rows_of(programmed, as_run, block):
        into = slice((row - first) // block, -(-(stop - first) // block))
        off = error[into] if block == 1 else np.empty((stop - row, columns), np.float32)
        high, least, most = errors.of_rows(row, off)
        if extremes.may_grow(least, most):
            extremes.look(np.concatenate([before, off]), high, row - first)
        before = off[-1:]
        if block > 1:
            error[into] = worst_by_block(off, block)
    usual = errors.usual(_again(programmed, as_run, block, error))
    height = np.empty(shape, np.float32)
    for row, stop in _rows_of(programmed, as_run, block):
        into = slice((row - first) // block, -(-(stop - first) // block))
        height[into] = extremes_by_block(programmed.heights(row, stop, left, right), block)[0]
    return Map(
        first=(first, left),
        block=block,
        height_mm=height,
        error_mm=error,
        proud=extremes.place(1.0),
        shy=extremes.place(-1.0),
        usual=usual,
    )


def _again(
    programmed: Field, as_run: Field, block: int, error_mm: NDArray[np.float32]
) -> Iterator[NDArray[np.float32]]:
    """The errors of all cells once more, strip by strip, since what is made of all is large.

    ``error_mm``: the map of them; where its cells are coarser they are told anew.
    """
    first, _, left, right = _window(programmed, as_run)
    errors = Errors(programmed, as_run, left, right, 0.0)
    for row, stop in _rows_of(programmed, as_run, block):
        if block == 1:
            yield error_mm[row - first : stop - first]
        else:
            off = np.empty((stop - row, right - left), np.float32)
            errors.of_rows(row, off)
            yield off


def _rows_of(programmed: Field, as_run: Field, block: int) -> Iterator[tuple[int, int]]:
    """First row of each strip, and one past its last."""
    first, end, left, right = _window(programmed, as_run)
    strip = block * max(1, STRIP_CELLS // (block * max(right - left, 1)))
    for row in range(first, end, strip):
        yield row, min(row + strip, end)


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

    def may_grow(self, least_mm: float, most_mm: float) -> bool:
        """Whether errors between these may hold one that is beyond what was found."""
        ends = ((1.0, most_mm), (-1.0, -least_mm))
        found = self._broad
        return any(sign not in found or far > sign * found[sign].error_mm for sign, far in ends)

    def look(self, error_mm: NDArray[np.float32], height: NDArray[np.float32], row: int) -> None:
        """``error_mm`` has the row before ``height``'s first as well, if there is one."""
        more = len(error_mm) - len(height)
        for sign in (1.0, -1.0):
            filled = np.where(np.isfinite(error_mm), sign * error_mm, np.float32(-np.inf))
            for found, values in ((self._broad, _least_of_four(filled)), (self._single, filled)):
                values = values[more:]
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


def _least_of_four(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Of each cell and those before it in its row, its column and across."""
    down = values.copy()
    np.minimum(values[1:], values[:-1], out=down[1:])
    out = down.copy()
    np.minimum(down[:, 1:], down[:, :-1], out=out[:, 1:])
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """What is wrong with the part but for its top, and what may move that up or down."""

    ends: "Ends"
    ruled_by: Part
    walls: tuple[Wall, ...]
    parts: tuple[CutOut, ...]
    kerfs: tuple[Kerf, ...]


def sides_of(
    trajectory: Trajectory,
    swept: Swept,
    run: AsRun,
    tools: Tooling,
    line_of: NDArray[np.int32],
    setup: Setup,
    machine: MachineModel,
    log_spread: float,
    rounding_mm: float,
    drawn: Sequence[MachineModel] = (),
) -> Sides:
    """Its walls, what is cut out, and how wide the cutter cuts.

    ``line_of``: program line of each segment.
    ``log_spread``: standard deviation of the logarithm of the give, by law and by machine.
    ``rounding_mm``: how far the machine may round corners off the path.
    ``drawn``: machines that this one might be.
    """
    softness = softness_of(swept, tools, setup, machine, drawn)
    frames = frames_of(swept, tools, setup, machine, drawn)
    ends = Ends(swept, run, setup, machine, log_spread, rounding_mm)
    return Sides(
        ends=ends,
        ruled_by=ends.ruled_by(),
        walls=walls(swept, run, tools, line_of, setup, machine, log_spread, frames),
        parts=cut_outs(trajectory, swept, run, tools, setup, machine, softness) or (),
        kerfs=kerfs(swept, run, tools, setup, log_spread),
    )


def as_cut(
    top: Map, ridges: tuple[Cusp, ...], sides: Sides, cell_mm: float, tolerance_mm: float
) -> AsCut:
    """What is wrong with the part, where, and what it comes from.

    ``ridges``: what stands between passes; ``cell_mm``: of the field.
    """
    cell, ends = cell_mm, sides.ends
    proud, proud_spot = _extreme(top.proud, cell, 1.0)
    shy, shy_spot = _extreme(top.shy, cell, -1.0)
    return AsCut(
        cell_mm=cell,
        tolerance_mm=tolerance_mm,
        mean_mm=top.usual.mean_mm,
        ninety_five_mm=top.usual.ninety_five_mm,
        proud=ends.of(proud, proud_spot),
        proud_spot=proud_spot,
        shy=ends.of(shy, shy_spot),
        shy_spot=shy_spot,
        outside_percent=top.usual.outside_percent,
        ruled_by=sides.ruled_by,
        walls=sides.walls,
        proud_shares=ends.shares(proud_spot),
        shy_shares=ends.shares(shy_spot),
        parts=sides.parts,
        kerfs=sides.kerfs,
        cusps=ridges,
    )


class Ends:
    """How far heights may be off, by what makes it, place by place."""

    def __init__(
        self,
        swept: Swept,
        run: AsRun,
        setup: Setup,
        machine: MachineModel,
        log_spread: float,
        rounding_mm: float,
    ) -> None:
        self._swept, self._run, self._setup, self._machine = swept, run, setup, machine
        self._log_spread, self._rounding_mm = log_spread, rounding_mm
        self._cut = np.flatnonzero(swept.column[:, cutting.TAKEN] > 0.0)
        self._x_mm, self._y_mm = (swept.column[self._cut, axis] for axis in PLACE[:2])
        give = swept.give_mm[self._cut]
        give = np.sqrt(np.einsum("ij,ij->i", give, give))
        self._most_give = float(np.quantile(give, 0.95)) if len(give) else 0.0

    def of(self, value: float, spot: Spot) -> Estimate:
        """A height's error with its ends."""
        by_force = float(np.clip(value, -self._most_give, self._most_give))
        return around(value, by_force, self._log_spread, self._others(spot))

    def ruled_by(self) -> Part:
        """What an error of the usual size comes from mostly."""
        if not len(self._cut):
            return ""
        x, y, z = (float(np.median(self._swept.column[self._cut, axis])) for axis in PLACE)
        middle = Spot(x_mm=x, y_mm=y, z_mm=z)
        others = self._others(middle)
        told = around(self._most_give, self._most_give, self._log_spread, others).mostly_from
        rooms: dict[str, Part] = {Z_ZERO: "set-up", FORCE: "cut"}
        return rooms.get(told, "machine" if told else "")

    def shares(self, spot: Spot) -> Shares:
        """What moves the surface at a place up, and by how much that may be off."""
        others = self._others(spot)
        at = self._near(spot)
        give = float(self._swept.give_mm[at, 2]) if at >= 0 else 0.0
        whole = float(self._run.offset_mm[at, 2]) if at >= 0 else 0.0
        by_cut = around(give, give, self._log_spread, {})
        machine = np.array([value for name, value in others.items() if name != Z_ZERO])
        return Shares(
            set_up=Share(mm=0.0, unsure_mm=others[Z_ZERO]),
            machine=Share(mm=whole - give, unsure_mm=float(np.linalg.norm(machine))),
            cut=Share(mm=give, unsure_mm=max(by_cut.high - give, give - by_cut.low)),
        )

    def _near(self, spot: Spot) -> int:
        """The group that cut nearest to a place; -1: none."""
        if not len(self._cut):
            return -1
        far = np.hypot(self._x_mm - spot.x_mm, self._y_mm - spot.y_mm)
        return int(self._cut[np.argmin(far)])

    def _others(self, spot: Spot) -> Mapping[str, float]:
        """What else than force moves a height, half widths of 95 %. [mm]"""
        machine, setup = self._machine, self._setup
        at = np.array([[spot.x_mm, spot.y_mm, spot.z_mm]])
        near = self._near(spot)
        return {
            Z_ZERO: TWO_SIDED_95 * setup.zero_u_mm[2],
            PLAY: 0.5 * machine.z.play_mm,
            CORNERS: self._rounding_mm,
            MISSES: float(miss_unsure_mm(at, np.array([[0.0, 0.0, 1.0]]), setup, machine)[0]),
            STEPS: step_unsure_mm(machine.z),
            SWINGS: abs(float(self._run.swing_mm[near, 2])) if near >= 0 else 0.0,
        }


def _extreme(place: Place, cell_mm: float, sign: float) -> tuple[float, Spot]:
    """The highest or lowest place; nothing where no error is known."""
    if place == Place():
        return 0.0, Spot(x_mm=0.0, y_mm=0.0, z_mm=0.0)
    return sign * max(0.0, sign * place.error_mm), Spot(
        x_mm=(place.column + 0.5) * cell_mm,
        y_mm=(place.row + 0.5) * cell_mm,
        z_mm=place.height_mm,
    )
