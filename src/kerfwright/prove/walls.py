"""Upright walls that the job leaves, and how far each stands from where the program puts it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import exp, hypot
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Spot
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.loads import edge_law_for
from kerfwright.loads.teeth import (
    SideCuts,
    scaled,
    share_of_power,
    side_arcs,
    swing,
)
from kerfwright.machine import MachineModel, NoseModes
from kerfwright.prove.flanks import MISSES, PLAY, RUNOUT, STEPS, SWINGS
from kerfwright.prove.largest import largest
from kerfwright.prove.run_path import AsRun, miss_unsure_mm, step_unsure_mm
from kerfwright.prove.spread import around
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.prove.verdict import Share, Shares, Wall
from kerfwright.setup import Setup

FloatArray = NDArray[np.float64]
Side = Literal["left", "right"]

#: A wall is worth telling from this depth and length on.
LEAST_DEPTH_MM, LEAST_LENGTH_MM = 0.5, 3.0
MOST_WALLS = 200
#: Heights at which a wall is read, foot and top among them.
HEIGHTS = 5
#: Pieces that stand for a whole run: quantiles of how far force moves them.
STANDS_FOR = (0.1, 0.5, 0.9)
#: Places looked at together: bounds the memory.
AT_ONCE = 256
_LOOKED_AT = 32_768  #: groups looked at in one go
ZERO = "how X and Y were zeroed"
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
        some: Any = {name: getattr(self, name)[those] for name in _EACH}
        return replace(self, **some)

    def and_these(self, others: Sequence["_Pieces"]) -> "_Pieces":
        every = (self, *others)
        whole: Any = {name: np.concatenate([getattr(one, name) for one in every]) for name in _EACH}
        return replace(self, **whole)


_EACH = ("group", "along", "out", "radius_mm", "length_mm", "depth_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Errors:
    """What moves each piece of wall, square to it. Above 0 proud. [mm]"""

    total_mm: FloatArray
    by_force_mm: FloatArray
    zero_mm: FloatArray  #: half width of 95 %
    play_mm: FloatArray  #: the same
    runout_mm: FloatArray  #: the same
    runs_out_mm: FloatArray  #: what runout takes
    misses_mm: FloatArray  #: half width of 95 %
    steps_mm: FloatArray  #: the same
    swings_mm: FloatArray  #: the same


def walls(
    swept: Swept,
    run: AsRun,
    tools: Tooling,
    line_of: NDArray[np.int32],
    setup: Setup,
    machine: MachineModel,
    log_spread: float,
    frames: Sequence[NoseModes],
) -> tuple[Wall, ...]:
    """The walls that still stand in the end, the worst first.

    ``line_of`` is the program line of each segment; ``frames`` as for ``loads.teeth.swing``.
    """
    found: list[Wall] = []
    sides: tuple[Side, Side] = ("left", "right")
    for side in sides:
        pieces = _pieces(side, swept, tools, setup)
        if len(pieces.group):
            errors = _errors(pieces, swept, run, tools, setup, machine)
            found.extend(
                _runs(pieces, errors, swept, tools, line_of, setup, machine, log_spread, frames)
            )
    found.sort(key=lambda wall: -abs(wall.worst_mm))
    return tuple(found[:MOST_WALLS])


def _pieces(side: Side, swept: Swept, tools: Tooling, setup: Setup) -> _Pieces:
    """Those of one side that still stand; few of many, so they are looked for bit by bit."""
    begins = range(0, max(len(swept.column), 1), _LOOKED_AT)
    first, *others = (
        _pieces_of(slice(a, a + _LOOKED_AT), side, swept, tools, setup) for a in begins
    )
    return first.and_these(others)


def _pieces_of(groups: slice, side: Side, swept: Swept, tools: Tooling, setup: Setup) -> _Pieces:
    """Those among some groups."""
    depth = swept.column[groups, cutting.LEFT if side == "left" else cutting.RIGHT]
    deep = np.flatnonzero(depth >= LEAST_DEPTH_MM)
    group = groups.start + deep
    slot = tools.slot[swept.segment[group]]
    x, y = swept.motion_mm[group, :2].astype(np.float64).T
    length = np.sqrt(x * x + y * y)
    feed = ~tools.rapid[swept.segment[group]] & (length > 0.0)
    hidden = [number for number, cutter in setup.slots.items() if cutter.undercuts]
    feed &= ~np.isin(slot, hidden)  # no upright walls: see ``undercuts``
    group, slot, length, deep = group[feed], slot[feed], length[feed], deep[feed]
    along = np.stack([x[feed], y[feed]], axis=1) / length[:, None]
    sign = 1.0 if side == "left" else -1.0
    pieces = _Pieces(
        side=side,
        group=group,
        along=along,
        out=sign * np.stack([-along[:, 1], along[:, 0]], axis=1),
        radius_mm=_by_slot(slot, setup, lambda cutter: cutter.radius_mm),
        length_mm=length,
        depth_mm=depth[deep].astype(np.float64),
    )
    return pieces.only(_still_stands(swept, pieces))


def _by_slot(
    slot: NDArray[np.int16], setup: Setup, figure: Callable[[Cutter], float]
) -> FloatArray:
    out = np.zeros(len(slot))
    for number, cutter in setup.slots.items():
        out[slot == number] = figure(cutter)
    return out


def _still_stands(swept: Swept, pieces: _Pieces) -> NDArray[np.bool_]:
    """Whether wood is left behind each piece of wall when all is cut."""
    cell = swept.field.cell_mm
    rows, columns = swept.field.rows, swept.field.columns
    tip = swept.column[pieces.group, cutting.Z]
    behind = _centre(swept, pieces) + pieces.out * (pieces.radius_mm + 2.0 * cell)[:, None]
    column, row = np.floor(behind / cell).astype(np.int64).T
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    row, column = np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)
    return np.asarray(inside & (swept.field.at(row, column) > tip + 0.5 * pieces.depth_mm))


def _centre(swept: Swept, pieces: _Pieces) -> FloatArray:
    return swept.column[pieces.group, cutting.X : cutting.Y + 1].astype(np.float64)


def _errors(
    pieces: _Pieces,
    swept: Swept,
    run: AsRun,
    tools: Tooling,
    setup: Setup,
    machine: MachineModel,
) -> _Errors:
    slot = tools.slot[swept.segment[pieces.group]]
    # A tip that stands too far towards the wall leaves it shy, and so does one that runs out:
    # a slot is as wide as the cutter and its total runout.
    runout = _by_slot(slot, setup, lambda cutter: 0.5 * cutter.runout_mm)
    pushed = (swept.give_mm[pieces.group, :2] * pieces.out).sum(axis=1)
    offset = (run.offset_mm[pieces.group, :2] * pieces.out).sum(axis=1)
    at = swept.column[pieces.group, cutting.X : cutting.Z + 1].astype(np.float64)
    out = np.column_stack([pieces.out, np.zeros(len(at))])
    steps = np.array([step_unsure_mm(axis) for axis in (machine.x, machine.y)])
    swing = (run.swing_mm[pieces.group, :2] * pieces.out).sum(axis=1)
    zero = TWO_SIDED_95 * np.array(setup.zero_u_mm[:2])
    play = 0.5 * np.array([machine.x.play_mm, machine.y.play_mm])
    return _Errors(
        total_mm=-offset - runout,
        by_force_mm=-pushed,
        zero_mm=np.hypot(*(pieces.out * zero).T),
        play_mm=np.hypot(*(pieces.out * play).T),
        runout_mm=_by_slot(slot, setup, _runout_unsure_mm),
        runs_out_mm=-runout,
        misses_mm=np.hypot(
            miss_unsure_mm(at, out, setup, machine), _lean_unsure_mm(pieces, machine)
        ),
        steps_mm=np.hypot(*(pieces.out * steps).T),
        swings_mm=np.abs(swing),
    )


def _lean_unsure_mm(pieces: _Pieces, machine: MachineModel) -> FloatArray:
    """By how much half way up a wall a spindle may lean that nobody has trammed. [mm]"""
    whole = np.zeros(len(pieces.group))
    for axis, letter in enumerate("xy"):
        known = machine.known.get(f"geometry.tram_{letter}")
        low, high = known.interval() if known is not None else (0.0, 0.0)
        whole += (0.5 * (high - low) * 0.5 * pieces.depth_mm * pieces.out[:, axis]) ** 2
    return np.sqrt(whole)


def _runout_unsure_mm(cutter: Cutter) -> float:
    known = cutter.known.get("runout_mm")
    low, high = known.interval() if known is not None else (cutter.runout_mm, cutter.runout_mm)
    return 0.25 * (high - low)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Faces:
    """What the tip's offset does not say of some pieces of wall, by height. (places, heights)"""

    change_mm: FloatArray  #: to add to the offset of the wall; above 0 proud
    unsure_mm: FloatArray  #: half width of 95 %
    frame_unsure_mm: FloatArray  #: the same, of how the machine swings


def _faces(
    at: NDArray[np.int64],
    pieces: _Pieces,
    swept: Swept,
    tools: Tooling,
    setup: Setup,
    frames: Sequence[NoseModes],
) -> _Faces:
    """Pieces number ``at`` tooth by tooth, from foot to top. Flat cutters only."""
    slot = tools.slot[swept.segment[pieces.group[at]]]
    told = np.zeros((3, len(at), HEIGHTS))
    for number, cutter in setup.slots.items():
        mine = np.flatnonzero(slot == number)
        if cutter.shape != "flat":
            continue
        for begin in range(0, len(mine), AT_ONCE):
            some = mine[begin : begin + AT_ONCE]
            turning = swept.column[pieces.group[at[some]], cutting.SPEED].astype(np.float64)
            told[:, some] = _of_cutter(cutter, at[some], turning, pieces, swept, setup, frames)
    change, unsure, frame_unsure = told
    return _Faces(change_mm=change, unsure_mm=unsure, frame_unsure_mm=frame_unsure)


def _of_cutter(
    cutter: Cutter,
    at: NDArray[np.int64],
    rev_per_s: FloatArray,
    pieces: _Pieces,
    swept: Swept,
    setup: Setup,
    frames: Sequence[NoseModes],
) -> FloatArray:
    """Of one cutter's pieces what ``_Faces`` has, (3, places, heights). [mm]"""
    cuts = _side_cuts(at, pieces, swept, cutter)
    asked = swept.column[pieces.group[at], cutting.POWER].astype(np.float64)
    arcs = side_arcs(edge_law_for(setup.board, cutter), cutter, cuts)
    # Forces as the sweep has them: what the cells round off is scaled away.
    arcs = scaled(arcs, share_of_power(arcs, cutter, cuts.depth_mm, rev_per_s, asked))
    height = pieces.depth_mm[at][:, None] * np.linspace(0.0, 1.0, HEIGHTS)
    swings = swing(arcs, cutter, cuts.wall_rad, height, cuts.depth_mm, rev_per_s, frames)
    return np.stack([-swings.out_mm, swings.unsure_mm, swings.frame_unsure_mm])


def _side_cuts(at: NDArray[np.int64], pieces: _Pieces, swept: Swept, cutter: Cutter) -> SideCuts:
    """The engagement of some pieces: how wide and deep each group cut, once it had given way."""
    column = swept.column[pieces.group[at]].astype(np.float64)
    deep = np.maximum(column[:, cutting.DEPTH], 1e-3)
    both = np.minimum(column[:, cutting.LEFT], column[:, cutting.RIGHT]) > 0.8 * deep
    width = column[:, cutting.WIDTH]
    return SideCuts(
        heading_rad=np.arctan2(pieces.along[at, 1], pieces.along[at, 0]),
        side=np.full(len(at), 1.0 if pieces.side == "left" else -1.0),
        width_mm=np.where(both, cutter.diameter_mm, np.minimum(width, cutter.diameter_mm)),
        depth_mm=deep,
        feed_per_tooth_mm=column[:, cutting.FEED_PER_TOOTH],
    )


def _runs(
    pieces: _Pieces,
    errors: _Errors,
    swept: Swept,
    tools: Tooling,
    line_of: NDArray[np.int32],
    setup: Setup,
    machine: MachineModel,
    log_spread: float,
    frames: Sequence[NoseModes],
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
    long = np.flatnonzero(length >= LEAST_LENGTH_MM)
    # Only the worst are told; the rest need no objects, and no look tooth by tooth.
    told = long[largest(np.abs(mean[long]), MOST_WALLS)]
    if not len(told):
        return []
    places = np.array([_places(errors, int(begin[k]), int(end[k])) for k in told])
    faces = _faces(places.ravel(), pieces, swept, tools, setup, frames)
    change = faces.change_mm.reshape(*places.shape, HEIGHTS)
    unsure = faces.unsure_mm.reshape(*places.shape, HEIGHTS)
    shaken = faces.frame_unsure_mm.reshape(len(told), -1).mean(axis=1)
    # A spindle that leans leans the wall.
    up = pieces.depth_mm[places, None] * np.linspace(0.0, 1.0, HEIGHTS)
    leans = -up * (pieces.out[places] @ np.array(machine.geometry.tram))[..., None]
    machine_mm = errors.total_mm - errors.by_force_mm - errors.runs_out_mm
    by_machine = np.add.reduceat(machine_mm * pieces.length_mm, begin) / length
    where = _centre(swept, pieces) + pieces.out * pieces.radius_mm[:, None]
    line = line_of[swept.segment[pieces.group]]
    found = []
    for row, k in enumerate(told.tolist()):
        first, last, worst = int(begin[k]), int(end[k]) - 1, int(places[row, 0])
        along, tilt = change[row, 1:].mean(axis=0), leans[row, 1:].mean(axis=0)
        others = {
            ZERO: float(errors.zero_mm[worst]),
            PLAY: float(errors.play_mm[worst]),
            MISSES: float(errors.misses_mm[worst]),
            STEPS: float(errors.steps_mm[worst]),
            SWINGS: hypot(float(errors.swings_mm[worst]), float(shaken[row])),
            RUNOUT: float(errors.runout_mm[worst]),
            "how the cutter swings": float(unsure[row].mean()),
        }
        at_worst = errors.total_mm[worst] + change[row, 0] + leans[row, 0]
        forced = float(by_force[k] + along.mean())
        offset = around(float(mean[k] + along.mean() + tilt.mean()), forced, log_spread, others)
        found.append(
            Wall(
                first_line=int(line[first]),
                last_line=int(line[last]),
                side=pieces.side,
                length_mm=float(length[k]),
                depth_mm=float(deepest[k]),
                offset=offset,
                foot_mm=float(mean[k] + along[0] + tilt[0]),
                top_mm=float(mean[k] + along[-1] + tilt[-1]),
                worst_mm=float(at_worst[np.argmax(np.abs(at_worst))]),
                spot=Spot(
                    x_mm=float(where[worst, 0]), y_mm=float(where[worst, 1]), z_mm=float(z[worst])
                ),
                shares=Shares(
                    set_up=Share(
                        mm=float(errors.runs_out_mm[worst]),
                        unsure_mm=hypot(others[ZERO], others[RUNOUT]),
                    ),
                    machine=Share(
                        mm=float(by_machine[k] + tilt.mean()),
                        unsure_mm=hypot(
                            others[PLAY], others[MISSES], others[STEPS], others[SWINGS]
                        ),
                    ),
                    cut=Share(
                        mm=forced, unsure_mm=abs(forced) * (exp(TWO_SIDED_95 * log_spread) - 1.0)
                    ),
                ),
            )
        )
    return found


def _places(errors: _Errors, begin: int, end: int) -> list[int]:
    """The worst piece of a run, then those that stand for it: by how far force moves them."""
    worst = begin + int(np.argmax(np.abs(errors.total_mm[begin:end])))
    order = begin + np.argsort(errors.by_force_mm[begin:end], kind="stable")
    return [worst, *(int(order[int(share * (len(order) - 1))]) for share in STANDS_FOR)]
