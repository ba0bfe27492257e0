"""How wide the slots of upright cutters and the grooves of V cutters are."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.prove.flanks import (
    DIAMETER,
    DRAWS,
    FORCE,
    MISSES,
    RUNOUT,
    Z_ZERO,
    drawn_off,
)
from kerfwright.prove.parts import estimate_of, shares_of
from kerfwright.prove.run_path import AsRun
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.prove.verdict import Kerf
from kerfwright.setup import Setup

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: A slot: wood on both sides at nearly the whole depth.
_BOTH_SIDES, _LEAST_DEPTH_MM = 0.8, 0.5
_LEAST_SLOT_MM = 3.0


def kerfs(
    swept: Swept, run: AsRun, tools: Tooling, setup: Setup, log_spread: float
) -> tuple[Kerf, ...]:
    """How wide each cutter's slots are: the cutter, its runout, and where passes part.

    A V cutter's groove is told at the top of the board, at half its deepest: by geometry it widens
    by twice the tangent of the half angle for each mm that the cutter stands lower.
    """
    deep, left, right = (
        swept.column[:, name] for name in (cutting.DEPTH, cutting.LEFT, cutting.RIGHT)
    )
    both = np.minimum(left, right)
    slotting = (deep >= _LEAST_DEPTH_MM) & (both >= _BOTH_SIDES * deep)
    slotting &= ~tools.rapid[swept.segment]
    slot = tools.slot[swept.segment]
    found = []
    for number, cutter in sorted(setup.slots.items()):
        if cutter.shape not in ("flat", "v"):
            continue
        mine = np.flatnonzero(slotting & (slot == number))
        length = float(np.linalg.norm(swept.motion_mm[mine, :2], axis=1).sum())
        if length < _LEAST_SLOT_MM:
            continue
        if cutter.shape == "v":
            mine = mine[_from_the_top(mine, swept, cutter)]
            length = float(np.linalg.norm(swept.motion_mm[mine, :2], axis=1).sum())
            if length < _LEAST_SLOT_MM:
                continue
        found.append(_kerf(number, mine, length, swept, run, setup, log_spread))
    return tuple(found)


def _kerf(
    number: int,
    group: IntArray,
    length_mm: float,
    swept: Swept,
    run: AsRun,
    setup: Setup,
    log_spread: float,
) -> Kerf:
    cutter = setup.slots[number]
    apart, by_force = _passes_apart(group, swept, run)
    rng = np.random.default_rng(number)
    off = {
        DIAMETER: drawn_off(cutter.known.get("diameter_mm"), rng),
        RUNOUT: np.maximum(drawn_off(cutter.known.get("runout_mm"), rng), -cutter.runout_mm),
        FORCE: by_force * (np.exp(log_spread * rng.normal(size=DRAWS)) - 1.0),
    }
    nominal = {RUNOUT: cutter.runout_mm, FORCE: apart}
    meant, per_z = cutter.diameter_mm, 0.0
    if cutter.shape == "v":
        per_z = 2.0 / cutter.flank_slope
        meant = cutter.tip_diameter_mm - per_z * float(np.median(_tip_mm(group, swept)))
        off[DIAMETER] = drawn_off(cutter.known.get("tip_diameter_mm"), rng)
        give = float(swept.give_mm[group, 2].mean())
        nominal[FORCE] -= per_z * give
        nominal[MISSES] = -per_z * (float(run.offset_mm[group, 2].mean()) - give)
        off[FORCE] = nominal[FORCE] * (np.exp(log_spread * rng.normal(size=DRAWS)) - 1.0)
        off[Z_ZERO] = per_z * setup.zero_u_mm[2] * rng.normal(size=DRAWS)
    value = meant + sum(nominal.values())
    many = value + np.sum(list(off.values()), axis=0)
    return Kerf(
        slot=number,
        cutter=cutter.name,
        meant_mm=meant,
        per_z=per_z,
        width=estimate_of(value, many, off),
        length_mm=length_mm,
        shares=shares_of(nominal, off),
    )


def _tip_mm(group: IntArray, swept: Swept) -> FloatArray:
    """Where the tip was, below the top of the board. [mm]"""
    return np.asarray(swept.column[group, cutting.Z].astype(np.float64))


def _from_the_top(group: IntArray, swept: Swept, cutter: Cutter) -> NDArray[np.bool_]:
    """Whether each group cuts a groove of its own from the top of the board, within the flanks."""
    deep = -_tip_mm(group, swept)
    whole = swept.column[group, cutting.DEPTH] >= _BOTH_SIDES * deep
    return np.asarray(whole & (deep <= cutter.rim_mm))


def _passes_apart(group: IntArray, swept: Swept, run: AsRun) -> tuple[float, float]:
    """How much wider a slot gets where passes over one place stand apart, on average; and what of
    it the give makes. [mm]"""
    way = swept.motion_mm[group, :2].astype(np.float64)
    along = way / np.maximum(np.linalg.norm(way, axis=1), 1e-9)[:, None]
    # Passes to and fro share their line: its normal points one way for both.
    flip = np.where(
        (along[:, 0] < -1e-9) | ((np.abs(along[:, 0]) <= 1e-9) & (along[:, 1] < 0)), -1, 1
    )
    along = along * flip[:, None]
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    turn = np.round(np.arctan2(along[:, 1], along[:, 0]) / np.radians(15.0))
    at = np.floor(swept.column[group, cutting.X : cutting.Y + 1].astype(np.float64))
    _, place = np.unique(np.column_stack([at, turn]), axis=0, return_inverse=True)
    told = []
    for offset in (run.offset_mm, swept.give_mm.astype(np.float64)):
        side = (offset[group, :2] * across).sum(axis=1)
        low, high = np.full(place.max() + 1, np.inf), np.full(place.max() + 1, -np.inf)
        np.minimum.at(low, place, side)
        np.maximum.at(high, place, side)
        told.append(float((high - low).mean()))
    return told[0], told[1]
