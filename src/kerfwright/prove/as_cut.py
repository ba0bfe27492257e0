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
from kerfwright.stock.field import NEVER, Field

FloatArray = NDArray[np.float64]
Part = Literal["set-up", "machine", "cut", ""]

#: Steeper than this a cell belongs to a wall: its height says nothing of its surface.
STEEPEST = 2.0
#: Less than this beside the programmed cut leaves no mark that anyone sees.
GRAZE_MM = 0.02
STRIP = 512  #: rows of the map worked on at once
ZERO, PLAY = "how Z was zeroed", "play in the machine"


@dataclass(frozen=True, slots=True, kw_only=True)
class Map:
    """Error of the top as an array, and what it was made from."""

    height_mm: NDArray[np.float32]
    error_mm: NDArray[np.float32]  #: NaN where not touched or too steep


def error_map(programmed: Field, as_run: Field) -> Map:
    """Error square to the surface: above 0 the wood is proud, below 0 shy."""
    shape = (programmed.rows, programmed.columns)
    height, error = np.empty(shape, np.float32), np.empty(shape, np.float32)
    for first in range(0, programmed.rows, STRIP):
        end = min(first + STRIP, programmed.rows)
        # What is steep looks two cells to each side.
        begin, stop = max(first - 2, 0), min(end + 2, programmed.rows)
        told = _error_strip(programmed, as_run, begin, stop)
        mine = slice(first - begin, end - begin)
        height[first:end], error[first:end] = (part[mine] for part in told)
    return Map(height_mm=height, error_mm=error)


def _error_strip(
    programmed: Field, as_run: Field, begin: int, stop: int
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Height as programmed and error of the rows from ``begin`` to ``stop``."""
    height, made_by, _ = programmed.maps(begin, stop)
    run, made_run, _ = as_run.maps(begin, stop)
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
    known = np.isfinite(top.error_mm)
    error = top.error_mm[known].astype(np.float64)
    cut = swept.column[:, cutting.TAKEN] > 0.0
    give = np.linalg.norm(swept.give_mm[cut], axis=1)
    most_give = float(np.quantile(give, 0.95)) if len(give) else 0.0
    others = _others(setup, machine, rounding_mm)

    def estimate(value: float) -> Estimate:
        by_force = float(np.clip(value, -most_give, most_give))
        return around(value, by_force, log_spread, others)

    proud, proud_spot = _extreme(top, cell, 1.0, estimate)
    shy, shy_spot = _extreme(top, cell, -1.0, estimate)
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
        walls=walls(top.height_mm, swept, offset_mm, tools, line_of, setup, machine, log_spread),
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
    top: Map, cell_mm: float, sign: float, estimate: Callable[[float], Estimate]
) -> tuple[Estimate, Spot]:
    """The highest or lowest place that is more than a single cell."""
    filled = np.where(np.isfinite(top.error_mm), sign * top.error_mm, np.float32(-np.inf))
    if not np.isfinite(filled).any():
        return Estimate(value=0.0, low=0.0, high=0.0), Spot(x_mm=0.0, y_mm=0.0, z_mm=0.0)
    broad = ndimage.minimum_filter(filled, size=2)
    where = broad if np.isfinite(broad).any() else filled
    row, column = np.unravel_index(int(np.argmax(where)), where.shape)
    value = max(0.0, float(where[row, column])) * sign
    return estimate(value), Spot(
        x_mm=(float(column) + 0.5) * cell_mm,
        y_mm=(float(row) + 0.5) * cell_mm,
        z_mm=float(top.height_mm[row, column]),
    )
