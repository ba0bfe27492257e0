"""The part as it will be, against the part as programmed: the top by height, the walls by side."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from kerfwright.basics import Estimate, Spot
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.kernels import cutting
from kerfwright.loads import log_spread_in
from kerfwright.machine import MachineModel
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.prove.verdict import AsCut, Wall
from kerfwright.setup import Setup
from kerfwright.stock.field import NEVER, Field

FloatArray = NDArray[np.float64]
Part = Literal["set-up", "machine", "cut", ""]

#: Steeper than this a cell belongs to a wall: its height says nothing of its surface.
STEEPEST = 2.0
#: A wall is worth telling from this depth and length on.
LEAST_WALL_DEPTH_MM, LEAST_WALL_LENGTH_MM = 0.5, 3.0
MOST_WALLS = 200
#: Less than this beside the programmed cut leaves no mark that anyone sees.
GRAZE_MM = 0.02
_BENT_RAD = np.radians(20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Map:
    """Error of the top as an array, and what it was made from."""

    height_mm: NDArray[np.float32]
    error_mm: NDArray[np.float32]  #: NaN where not touched or too steep
    made_by: NDArray[np.int32]


def error_map(programmed: Field, as_run: Field) -> Map:
    """Error square to the surface: above 0 the wood is proud, below 0 shy."""
    height, made_by, _ = programmed.maps()
    run, made_run, _ = as_run.maps()
    slope2 = np.zeros_like(height)
    for axis in (0, 1):
        step = np.abs(np.diff(height, axis=axis)) / programmed.cell_mm
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
    return Map(height_mm=height, error_mm=error.astype(np.float32), made_by=made_by)


def as_cut(
    top: Map,
    swept: Swept,
    offset_mm: FloatArray,
    tools: Tooling,
    line_of: NDArray[np.int64],
    setup: Setup,
    machine: MachineModel,
) -> AsCut:
    """What is wrong with the part, where, and what it comes from."""
    cell = swept.field.cell_mm
    known = np.isfinite(top.error_mm)
    error = top.error_mm[known].astype(np.float64)
    spread = _spread(swept, setup, machine)
    proud, proud_spot = _extreme(top, cell, 1.0, spread)
    shy, shy_spot = _extreme(top, cell, -1.0, spread)
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
        ruled_by=_ruled_by(spread),
        walls=_walls(top, swept, offset_mm, tools, line_of, setup, machine),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spread:
    """Half widths of 95 % intervals, in height. [mm]"""

    set_up_mm: float
    machine_mm: float
    cut_share: float  #: of an error that comes from force
    cut_mm: float

    def around(self, value: float) -> Estimate:
        half = float(
            np.sqrt(self.set_up_mm**2 + self.machine_mm**2 + (self.cut_share * value) ** 2)
        )
        parts = {
            "how Z was zeroed": self.set_up_mm,
            "play in the machine": self.machine_mm,
            "the force of the cut": self.cut_share * abs(value),
        }
        return Estimate(
            value=value,
            low=value - half,
            high=value + half,
            mostly_from=max(parts, key=lambda name: parts[name]) if half > 0.0 else "",
        )


def _spread(swept: Swept, setup: Setup, machine: MachineModel) -> _Spread:
    cut = swept.column[:, cutting.TAKEN] > 0.0
    give = np.abs(swept.give_mm[cut, 2]) if cut.any() else np.zeros(1)
    share = float(np.exp(TWO_SIDED_95 * log_spread_in(setup.board.wood)) - 1.0)
    corner = machine.controller.corner_tolerance_mm
    rounding = corner if machine.controller.corner_rule == "path tolerance" else 0.0
    return _Spread(
        set_up_mm=TWO_SIDED_95 * setup.zero_u_mm[2],
        machine_mm=float(np.hypot(0.5 * machine.z.play_mm, rounding)),
        cut_share=share,
        cut_mm=float(np.quantile(give, 0.95)) * share,
    )


def _ruled_by(spread: _Spread) -> Part:
    parts: dict[Part, float] = {
        "set-up": spread.set_up_mm,
        "machine": spread.machine_mm,
        "cut": spread.cut_mm,
    }
    name = max(parts, key=lambda part: parts[part])
    return name if parts[name] > 0.0 else ""


def _extreme(top: Map, cell_mm: float, sign: float, spread: _Spread) -> tuple[Estimate, Spot]:
    """The highest or lowest place that is more than a single cell."""
    filled = np.where(np.isfinite(top.error_mm), sign * top.error_mm, np.float32(-np.inf))
    if not np.isfinite(filled).any():
        return Estimate(value=0.0, low=0.0, high=0.0), Spot(x_mm=0.0, y_mm=0.0, z_mm=0.0)
    broad = ndimage.minimum_filter(filled, size=2)
    where = broad if np.isfinite(broad).any() else filled
    row, column = np.unravel_index(int(np.argmax(where)), where.shape)
    value = max(0.0, float(where[row, column])) * sign
    return spread.around(value), Spot(
        x_mm=(float(column) + 0.5) * cell_mm,
        y_mm=(float(row) + 0.5) * cell_mm,
        z_mm=float(top.height_mm[row, column]),
    )


def _walls(
    top: Map,
    swept: Swept,
    offset_mm: FloatArray,
    tools: Tooling,
    line_of: NDArray[np.int64],
    setup: Setup,
    machine: MachineModel,
) -> tuple[Wall, ...]:
    found: list[Wall] = []
    for side, sign, depth_column in (("left", 1.0, cutting.LEFT), ("right", -1.0, cutting.RIGHT)):
        depth = swept.column[:, depth_column].astype(np.float64)
        flat = swept.motion_mm[:, :2].astype(np.float64)
        length = np.linalg.norm(flat, axis=1)
        feed = ~tools.rapid[swept.segment] & (length > 0.0)
        some = np.flatnonzero(feed & (depth >= LEAST_WALL_DEPTH_MM))
        if not len(some):
            continue
        along = flat[some] / length[some, None]
        out = sign * np.stack([-along[:, 1], along[:, 0]], axis=1)
        radius = np.array([_wall_radius(setup, int(tools.slot[s])) for s in swept.segment[some]])
        stands, where = _still_stands(top, swept, some, out, radius, depth[some])
        some, along, out, where = some[stands], along[stands], out[stands], where[stands]
        # A tip that stands too far towards the wall leaves it shy.
        error = -(offset_mm[some, :2] * out).sum(axis=1)
        pushed = -(swept.give_mm[some, :2] * out).sum(axis=1)
        unsure = _beside_force(out, setup, machine)
        found.extend(
            _runs(
                some, along, error, pushed, unsure, where, depth, length, side, swept, line_of,
                setup,
            )
        )  # fmt: skip
    found.sort(key=lambda wall: -abs(wall.worst_mm))
    return tuple(found[:MOST_WALLS])


def _beside_force(out: FloatArray, setup: Setup, machine: MachineModel) -> FloatArray:
    """Half width of 95 % of a wall's place, by zero and by play, square to it. (n, 2) [mm]"""
    zero = TWO_SIDED_95 * np.array(setup.zero_u_mm[:2])
    play = 0.5 * np.array([machine.x.play_mm, machine.y.play_mm])
    return np.stack([np.hypot(*(out * half).T) for half in (zero, play)], axis=1)


def _wall_radius(setup: Setup, slot: int) -> float:
    return setup.slots[slot].radius_mm if slot in setup.slots else 0.0


def _still_stands(
    top: Map,
    swept: Swept,
    some: NDArray[np.int64],
    out: FloatArray,
    radius: FloatArray,
    depth: FloatArray,
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Whether wood is left behind each piece of wall in the end, and where the wall is."""
    cell = swept.field.cell_mm
    centre = swept.column[some][:, [cutting.X, cutting.Y]].astype(np.float64)
    tip = swept.column[some, cutting.Z].astype(np.float64)
    behind = centre + out * (radius + 2.0 * cell)[:, None]
    row = np.clip((behind[:, 1] / cell).astype(np.int64), 0, swept.field.rows - 1)
    column = np.clip((behind[:, 0] / cell).astype(np.int64), 0, swept.field.columns - 1)
    inside = (behind >= 0.0).all(axis=1)
    inside &= (behind[:, 0] < swept.field.columns * cell) & (behind[:, 1] < swept.field.rows * cell)
    stands = inside & (top.height_mm[row, column] > tip + 0.5 * depth)
    return stands, centre + out * radius[:, None]


def _runs(
    some: NDArray[np.int64],
    along: FloatArray,
    error: FloatArray,
    pushed: FloatArray,
    unsure: FloatArray,
    where: FloatArray,
    depth: FloatArray,
    length: FloatArray,
    side: str,
    swept: Swept,
    line_of: NDArray[np.int64],
    setup: Setup,
) -> list[Wall]:
    """Neighbouring pieces gathered into walls."""
    if not len(some):
        return []
    z = swept.column[some, cutting.Z]
    turned = (along[1:] * along[:-1]).sum(axis=1) < np.cos(_BENT_RAD)
    broken = (np.diff(some) > 1) | turned | (np.abs(np.diff(z)) > 0.1)
    begin = np.concatenate([[0], np.flatnonzero(broken) + 1])
    many = np.diff(np.concatenate([begin, [len(some)]]))
    total = np.add.reduceat(length[some], begin)
    mean = np.add.reduceat(error * length[some], begin) / total
    by_force = np.abs(np.add.reduceat(pushed * length[some], begin) / total)
    deepest = np.maximum.reduceat(depth[some], begin)
    share = float(np.exp(TWO_SIDED_95 * log_spread_in(setup.board.wood)) - 1.0)
    walls = []
    long = np.flatnonzero(total >= LEAST_WALL_LENGTH_MM)
    # Only the worst are told; the rest need no objects.
    for k in long[np.argsort(-np.abs(mean[long]))][:MOST_WALLS].tolist():
        piece = slice(int(begin[k]), int(begin[k] + many[k]))
        worst = int(begin[k]) + int(np.argmax(np.abs(error[piece])))
        zero, play = unsure[worst].tolist()
        parts = {
            "the force of the cut": share * float(by_force[k]),
            "how X and Y were zeroed": zero,
            "play in the machine": play,
        }
        half = float(np.linalg.norm(list(parts.values())))
        walls.append(
            Wall(
                first_line=int(line_of[swept.segment[some[piece][0]]]),
                last_line=int(line_of[swept.segment[some[piece][-1]]]),
                side="left" if side == "left" else "right",
                length_mm=float(total[k]),
                depth_mm=float(deepest[k]),
                offset=Estimate(
                    value=float(mean[k]),
                    low=float(mean[k]) - half,
                    high=float(mean[k]) + half,
                    mostly_from=max(parts, key=lambda name: parts[name]) if half > 0.0 else "",
                ),
                worst_mm=float(error[worst]),
                spot=Spot(
                    x_mm=float(where[worst, 0]),
                    y_mm=float(where[worst, 1]),
                    z_mm=float(z[worst]),
                ),
            )
        )
    return walls
