"""What stands between neighbouring passes, by formula: never read off the height field.

A field of 0.25 mm cells takes a cusp for up to half of its height too low; the step-over is found
on the path instead: from each pass to the next one beside it that also left its mark.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Spot
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.beside import LEFT, RIGHT, nearest_beside
from kerfwright.machine import MachineModel
from kerfwright.physics.cusps import bull_scallop_mm, ridge_mm, scallop_mm
from kerfwright.prove.flanks import DIAMETER
from kerfwright.prove.frames import PLACE
from kerfwright.prove.run_path import AsRun
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.prove.verdict import Cusp
from kerfwright.setup import Setup
from kerfwright.stock.field import Field

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: Places looked at for each cutter, spread evenly over its way.
MOST_PLACES = 6_000
#: A neighbour stands square to the travel within about a group's length. [mm]
_ALONG_MM = 0.8
#: Nearer than this share of the radius it is the same pass, or one over it. [-]
_SAME = 0.02
#: Steeper than this along its way a group goes down, and leaves no floor.
_STEEPEST = 2.0
_AT_ONCE = 32_768  #: groups looked at in one go
_LEVEL_MM = 0.02  #: two passes over one floor
#: Neighbours that lie more one above the other than this are passes of different depth. [-]
_LEVEL_SHARE = 0.4
#: A pass can be seen while no more than this, or a cell, was taken from under it later.
_SEEN_MM = 0.1
_ALIKE = 0.9  #: cosine of the angle between neighbours' ways, to or fro
LEAST_MM = 0.001
TRAM, PASSES = "how the spindle is trammed", "how far neighbouring passes stand apart"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pairs:
    """Passes beside one another: a group and how far off its neighbour runs."""

    group: IntArray
    other: IntArray
    spacing_mm: FloatArray  #: square to the travel, along the surface
    slope_across: FloatArray  #: rise for each mm across
    heading: FloatArray  #: (k, 2) of the travel in plan


def cusps(
    swept: Swept,
    run: AsRun,
    tools: Tooling,
    line_of: NDArray[np.int32],
    setup: Setup,
    machine: MachineModel,
) -> tuple[Cusp, ...]:
    """For each cutter that works in passes side by side the highest cusp that it leaves."""
    slot = tools.slot[swept.segment]
    standing, own = _standing(swept, tools, setup)
    found = []
    for number, cutter in sorted(setup.slots.items()):
        if cutter.shape != "flat" and not _end_radius_mm(cutter) > 0.0:
            continue
        mine = slot[standing] == number
        pairs = _pairs(standing[mine], own[mine], swept, cutter)
        if pairs is None or not len(pairs.group):
            continue
        told = _of_cutter(number, cutter, pairs, swept, run, line_of, machine)
        if told is not None and told.height.high >= LEAST_MM:
            found.append(told)
    return tuple(found)


def _of_cutter(
    number: int,
    cutter: Cutter,
    pairs: _Pairs,
    swept: Swept,
    run: AsRun,
    line_of: NDArray[np.int32],
    machine: MachineModel,
) -> Cusp | None:
    round_mm = _end_radius_mm(cutter)
    if round_mm > 0.0:
        height = _scallop(cutter, round_mm, pairs)
        return _told("scallop", number, cutter, height, pairs, swept, line_of,
                     lambda at: _scallop_ends(cutter, height, at, pairs, run))  # fmt: skip
    level = np.abs(pairs.slope_across) * pairs.spacing_mm <= _LEVEL_MM
    some = _only(pairs, level)
    if not len(some.group):
        return None
    height = _ridge(cutter, some, np.array(machine.geometry.tram))
    # Where nobody has trammed the spindle the widest spacing stands for the worst place.
    told = height if height.any() else 1e-12 * some.spacing_mm
    return _told("ridge", number, cutter, told, some, swept, line_of,
                 lambda at: _ridge_ends(cutter, float(height[at]), at, some, machine))  # fmt: skip


def _only(pairs: _Pairs, those: BoolArray) -> _Pairs:
    return _Pairs(
        group=pairs.group[those],
        other=pairs.other[those],
        spacing_mm=pairs.spacing_mm[those],
        slope_across=pairs.slope_across[those],
        heading=pairs.heading[those],
    )


def _end_radius_mm(cutter: Cutter) -> float:
    """Of the rounded end; 0 for one that has none."""
    if cutter.shape == "ball":
        return cutter.radius_mm
    if cutter.shape == "bull":
        return cutter.corner_radius_mm
    return cutter.tip_radius_mm if cutter.shape == "taper" else 0.0


def _scallop(cutter: Cutter, round_mm: float, pairs: _Pairs) -> FloatArray:
    """Height between each pair, nothing where they do not meet. (k,)"""
    flat = cutter.diameter_mm - 2.0 * round_mm if cutter.shape == "bull" else 0.0
    sloped = np.where(np.abs(pairs.slope_across) > 0.01, pairs.slope_across, 0.0)
    most = 2.0 * round_mm + np.where(sloped == 0.0, flat, 0.0)
    meets = pairs.spacing_mm <= most
    spacing = np.minimum(pairs.spacing_mm, most)
    if flat > 0.0:
        height = bull_scallop_mm(cutter.diameter_mm, round_mm, spacing, sloped)
    else:
        height = scallop_mm(round_mm, spacing)
    return np.where(meets, height, 0.0)


def _scallop_ends(
    cutter: Cutter, height: FloatArray, at: int, pairs: _Pairs, run: AsRun
) -> tuple[float, float, str]:
    """Lowest and highest nineteen times in twenty, and what rules. [mm]"""
    value = float(height[at])
    known = cutter.known.get("diameter_mm")
    low, high = known.interval() if known is not None else (cutter.diameter_mm,) * 2
    # The height goes with one over the radius.
    by_size = value * 0.5 * (high - low) / cutter.diameter_mm
    # The neighbour that stands lower takes half the difference off; the other keeps it.
    apart = run.offset_mm[pairs.other[at]] - run.offset_mm[pairs.group[at]]
    by_passes = 0.5 * float(np.abs(apart[2]))
    whole = float(np.hypot(by_size, by_passes))
    return max(value - whole, 0.0), value + whole, DIAMETER if by_size > by_passes else PASSES


def _ridge(cutter: Cutter, pairs: _Pairs, tram: FloatArray) -> FloatArray:
    across = np.stack([-pairs.heading[:, 1], pairs.heading[:, 0]], axis=1)
    spacing = np.minimum(pairs.spacing_mm, cutter.diameter_mm)
    return ridge_mm(cutter.diameter_mm, spacing, across @ tram, pairs.heading @ tram)


def _ridge_ends(
    cutter: Cutter, value: float, at: int, pairs: _Pairs, machine: MachineModel
) -> tuple[float, float, str]:
    """From draws of the tram."""
    rng = np.random.default_rng(at)
    tram = np.array(machine.geometry.tram)
    drawn = np.tile(tram, (400, 1))
    for axis, letter in enumerate("xy"):
        known = machine.known.get(f"geometry.tram_{letter}")
        if known is not None:
            drawn[:, axis] += [known.draw(rng) - known.value for _ in range(len(drawn))]
    heading = pairs.heading[at]
    across = np.array([-heading[1], heading[0]])
    spacing = min(float(pairs.spacing_mm[at]), cutter.diameter_mm)
    many = ridge_mm(cutter.diameter_mm, spacing, drawn @ across, drawn @ heading)
    low, high = np.quantile(many, [0.025, 0.975]).tolist()
    return min(low, value), max(high, value), TRAM if high > low else ""


def _told(
    kind: Literal["scallop", "ridge"],
    number: int,
    cutter: Cutter,
    height: FloatArray,
    pairs: _Pairs,
    swept: Swept,
    line_of: NDArray[np.int32],
    ends: Callable[[int], tuple[float, float, str]],
) -> Cusp:
    at = int(np.argmax(height))
    low, high, ruler = ends(at)
    group = int(pairs.group[at])
    x, y, z = swept.column[group, cutting.X : cutting.Z + 1].tolist()
    return Cusp(
        kind=kind,
        slot=number,
        cutter=cutter.name,
        height=Estimate(value=float(height[at]), low=low, high=high, mostly_from=ruler),
        typical_mm=float(np.median(height)),
        spacing_mm=float(pairs.spacing_mm[at]),
        line=int(line_of[swept.segment[group]]),
        spot=Spot(x_mm=x, y_mm=y, z_mm=z),
    )


def _standing(swept: Swept, tools: Tooling, setup: Setup) -> tuple[IntArray, BoolArray]:
    """Groups whose cut can still be seen, and which of them made the cell under their tip.

    Where passes lie closer than cells the one that comes last makes the cell of its neighbours too.
    """
    # The rim of a flat end goes ahead of its middle: there the level tells whose floor it is.
    wide = [n for n, cutter in setup.slots.items() if cutter.shape in ("flat", "bull")]
    last = np.append(swept.first_step[1:], swept.steps)
    parts = []
    for begin in range(0, len(swept.column), _AT_ONCE):
        some = slice(begin, begin + _AT_ONCE)
        x, y, z = swept.motion_mm[some].T
        flat = np.hypot(x, y)
        runs = ~tools.rapid[swept.segment[some]] & (swept.column[some, cutting.TAKEN] > 0.0)
        runs &= (flat > 1e-6) & (np.abs(z) <= _STEEPEST * flat)
        group = begin + np.flatnonzero(runs)
        x, y, z = (swept.column[group, axis] for axis in PLACE)
        height, by = _surface(swept.field, x, y)
        own = (by >= swept.first_step[group]) & (by < last[group])
        level = np.abs(height - z) <= _LEVEL_MM
        own |= level & np.isin(tools.slot[swept.segment[group]], wide)
        seen = own | (height >= z - max(_SEEN_MM, swept.field.cell_mm))
        parts.append((group[seen], own[seen]))
    if not parts:
        return np.empty(0, np.int64), np.empty(0, np.bool_)
    groups, owns = zip(*parts, strict=True)
    return np.concatenate(groups), np.concatenate(owns)


def _surface(field: Field, x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, IntArray]:
    """Height at some places and the step that made it; -inf and -1 outside the board."""
    height, by = np.full(len(x_mm), -np.inf), np.full(len(x_mm), -1, np.int64)
    column = np.floor(x_mm / field.cell_mm).astype(np.int64)
    row = np.floor(y_mm / field.cell_mm).astype(np.int64)
    inside = (row >= 0) & (row < field.rows) & (column >= 0) & (column < field.columns)
    height[inside] = field.at(row[inside], column[inside])
    by[inside] = field.made_at(row[inside], column[inside])
    return height, by


def _pairs(group: IntArray, own: BoolArray, swept: Swept, cutter: Cutter) -> _Pairs | None:
    """The nearest neighbour passes on either side, no farther than the cutter is wide."""
    asked = group[own]
    if not len(asked) or len(group) < 2:
        return None
    few = np.unique(np.linspace(0, len(asked) - 1, MOST_PLACES).round().astype(np.int64))
    asked = asked[few]
    at = swept.column[:, cutting.X : cutting.Z + 1]
    limits = np.array([_ALONG_MM, _SAME * cutter.radius_mm, _LEVEL_SHARE, _ALIKE])
    near, apart, slope = nearest_beside(
        at, swept.motion_mm, group, asked, cutter.diameter_mm, limits
    )
    way = swept.motion_mm[asked, :2].astype(np.float64)
    heading = way / np.linalg.norm(way, axis=1)[:, None]
    parts = []
    for side in (LEFT, RIGHT):
        rows = np.flatnonzero(near[:, side] >= 0)
        parts.append(
            _Pairs(
                group=asked[rows],
                other=near[rows, side],
                spacing_mm=apart[rows, side],
                slope_across=slope[rows, side],
                heading=heading[rows],
            )
        )
    one, two = parts
    return _Pairs(
        **{
            name: np.concatenate([getattr(one, name), getattr(two, name)])
            for name in ("group", "other", "spacing_mm", "slope_across", "heading")
        }
    )
