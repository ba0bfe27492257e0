"""Upright walls that the job leaves, and how far each stands from where the program puts it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Spot
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.machine import MachineModel
from kerfwright.prove.spread import around
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.prove.verdict import Wall
from kerfwright.setup import Setup

FloatArray = NDArray[np.float64]
Side = Literal["left", "right"]

#: A wall is worth telling from this depth and length on.
LEAST_DEPTH_MM, LEAST_LENGTH_MM = 0.5, 3.0
MOST_WALLS = 200
_BENT = float(np.cos(np.radians(20.0)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pieces:
    """Groups of steps that left a piece of wall on one side. All arrays have a row for each."""

    side: Side
    group: NDArray[np.int64]
    along: FloatArray  #: (k, 2) direction of travel
    out: FloatArray  #: (k, 2) from the cutter's axis to the wall
    radius_mm: FloatArray
    length_mm: FloatArray
    depth_mm: FloatArray

    def only(self, those: NDArray[np.bool_]) -> "_Pieces":
        return _Pieces(
            side=self.side,
            group=self.group[those],
            along=self.along[those],
            out=self.out[those],
            radius_mm=self.radius_mm[those],
            length_mm=self.length_mm[those],
            depth_mm=self.depth_mm[those],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Errors:
    """What moves each piece of wall, square to it. Above 0 proud. [mm]"""

    total_mm: FloatArray
    by_force_mm: FloatArray
    zero_mm: FloatArray  #: half width of 95 %
    play_mm: FloatArray  #: the same
    runout_mm: FloatArray  #: the same


def walls(
    height_mm: NDArray[np.float32],
    swept: Swept,
    offset_mm: FloatArray,
    tools: Tooling,
    line_of: NDArray[np.int64],
    setup: Setup,
    machine: MachineModel,
    log_spread: float,
) -> tuple[Wall, ...]:
    """The walls that still stand in the end, the worst first.

    ``height_mm`` is the board as programmed; ``line_of`` the program line of each segment.
    """
    found: list[Wall] = []
    sides: tuple[Side, Side] = ("left", "right")
    for side in sides:
        pieces = _pieces(side, swept, tools, setup)
        pieces = pieces.only(_still_stands(height_mm, swept, pieces))
        if len(pieces.group):
            errors = _errors(pieces, swept, offset_mm, tools, setup, machine)
            found.extend(_runs(pieces, errors, swept, line_of, log_spread))
    found.sort(key=lambda wall: -abs(wall.worst_mm))
    return tuple(found[:MOST_WALLS])


def _pieces(side: Side, swept: Swept, tools: Tooling, setup: Setup) -> _Pieces:
    depth = swept.column[:, cutting.LEFT if side == "left" else cutting.RIGHT].astype(np.float64)
    flat = swept.motion_mm[:, :2].astype(np.float64)
    length = np.linalg.norm(flat, axis=1)
    feed = ~tools.rapid[swept.segment] & (length > 0.0)
    group = np.flatnonzero(feed & (depth >= LEAST_DEPTH_MM))
    along = flat[group] / length[group, None]
    sign = 1.0 if side == "left" else -1.0
    slot = tools.slot[swept.segment[group]]
    return _Pieces(
        side=side,
        group=group,
        along=along,
        out=sign * np.stack([-along[:, 1], along[:, 0]], axis=1),
        radius_mm=_by_slot(slot, setup, lambda cutter: cutter.radius_mm),
        length_mm=length[group],
        depth_mm=depth[group],
    )


def _by_slot(
    slot: NDArray[np.int64], setup: Setup, figure: Callable[[Cutter], float]
) -> FloatArray:
    out = np.zeros(len(slot))
    for number, cutter in setup.slots.items():
        out[slot == number] = figure(cutter)
    return out


def _still_stands(
    height_mm: NDArray[np.float32], swept: Swept, pieces: _Pieces
) -> NDArray[np.bool_]:
    """Whether wood is left behind each piece of wall when all is cut."""
    cell = swept.field.cell_mm
    rows, columns = height_mm.shape
    tip = swept.column[pieces.group, cutting.Z]
    behind = _centre(swept, pieces) + pieces.out * (pieces.radius_mm + 2.0 * cell)[:, None]
    column, row = np.floor(behind / cell).astype(np.int64).T
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    row, column = np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)
    return np.asarray(inside & (height_mm[row, column] > tip + 0.5 * pieces.depth_mm))


def _centre(swept: Swept, pieces: _Pieces) -> FloatArray:
    return swept.column[pieces.group][:, [cutting.X, cutting.Y]].astype(np.float64)


def _errors(
    pieces: _Pieces,
    swept: Swept,
    offset_mm: FloatArray,
    tools: Tooling,
    setup: Setup,
    machine: MachineModel,
) -> _Errors:
    slot = tools.slot[swept.segment[pieces.group]]
    # A tip that stands too far towards the wall leaves it shy, and so does one that runs out:
    # a slot is as wide as the cutter and its total runout.
    runout = _by_slot(slot, setup, lambda cutter: 0.5 * cutter.runout_mm)
    pushed = (swept.give_mm[pieces.group, :2] * pieces.out).sum(axis=1)
    offset = (offset_mm[pieces.group, :2] * pieces.out).sum(axis=1)
    zero = TWO_SIDED_95 * np.array(setup.zero_u_mm[:2])
    play = 0.5 * np.array([machine.x.play_mm, machine.y.play_mm])
    return _Errors(
        total_mm=-offset - runout,
        by_force_mm=-pushed,
        zero_mm=np.hypot(*(pieces.out * zero).T),
        play_mm=np.hypot(*(pieces.out * play).T),
        runout_mm=_by_slot(slot, setup, _runout_unsure_mm),
    )


def _runout_unsure_mm(cutter: Cutter) -> float:
    known = cutter.known.get("runout_mm")
    low, high = known.interval() if known is not None else (cutter.runout_mm, cutter.runout_mm)
    return 0.25 * (high - low)


def _runs(
    pieces: _Pieces,
    errors: _Errors,
    swept: Swept,
    line_of: NDArray[np.int64],
    log_spread: float,
) -> list[Wall]:
    """Neighbouring pieces gathered into walls."""
    z = swept.column[pieces.group, cutting.Z]
    turned = (pieces.along[1:] * pieces.along[:-1]).sum(axis=1) < _BENT
    broken = (np.diff(pieces.group) > 1) | turned | (np.abs(np.diff(z)) > 0.1)
    begin = np.concatenate([[0], np.flatnonzero(broken) + 1])
    end = np.concatenate([begin[1:], [len(z)]])
    length = np.add.reduceat(pieces.length_mm, begin)
    mean = np.add.reduceat(errors.total_mm * pieces.length_mm, begin) / length
    by_force = np.add.reduceat(errors.by_force_mm * pieces.length_mm, begin) / length
    deepest = np.maximum.reduceat(pieces.depth_mm, begin)
    where = _centre(swept, pieces) + pieces.out * pieces.radius_mm[:, None]
    line = line_of[swept.segment[pieces.group]]
    found = []
    long = np.flatnonzero(length >= LEAST_LENGTH_MM)
    # Only the worst are told; the rest need no objects.
    for k in long[np.argsort(-np.abs(mean[long]), kind="stable")][:MOST_WALLS].tolist():
        first, last = int(begin[k]), int(end[k]) - 1
        worst = first + int(np.argmax(np.abs(errors.total_mm[first : last + 1])))
        others = {
            "how X and Y were zeroed": float(errors.zero_mm[worst]),
            "play in the machine": float(errors.play_mm[worst]),
            "how true the cutter runs": float(errors.runout_mm[worst]),
        }
        found.append(
            Wall(
                first_line=int(line[first]),
                last_line=int(line[last]),
                side=pieces.side,
                length_mm=float(length[k]),
                depth_mm=float(deepest[k]),
                offset=around(float(mean[k]), float(by_force[k]), log_spread, others),
                worst_mm=float(errors.total_mm[worst]),
                spot=Spot(
                    x_mm=float(where[worst, 0]), y_mm=float(where[worst, 1]), z_mm=float(z[worst])
                ),
            )
        )
    return found
