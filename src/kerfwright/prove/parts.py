"""The sizes of what is cut out, as the flank of the cutter leaves them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Spot
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.kernels import cutting
from kerfwright.loads import compliance_at, cutter_compliance_mm_per_n, works_of
from kerfwright.machine import MachineModel
from kerfwright.prove.flanks import DRAWS, ROOM, STEPS, Flanks
from kerfwright.prove.frames import where_it_cuts
from kerfwright.prove.outlines import Outline, Patch, Size, outlines
from kerfwright.prove.run_path import AsRun
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.prove.verdict import CutOut, Dimension, Share, Shares
from kerfwright.setup import Setup
from kerfwright.trajectory import Trajectory

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: A flank this near to an outline makes it. [mm]
_NEAR_MM = 0.05
_FACES = 0.99  #: cosine of the angle between flank and outline
_BENT, _BENT_NEAR_MM = 0.8, 0.6  #: the same where the outline bends within a group
MOST_GROUPS = 24  #: that stand for one patch
MOST_SIZES = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class _Flank:
    """Both flanks of each group that goes through the wood. Rows: left, then right."""

    group: IntArray
    at_mm: FloatArray  #: (k, 2)
    out: FloatArray  #: (k, 2)
    proud_mm: FloatArray  #: (k,) how far it stood back from the wood


def cut_outs(
    trajectory: Trajectory,
    swept: Swept,
    run: AsRun,
    tools: Tooling,
    setup: Setup,
    machine: MachineModel,
    softness: FloatArray,
) -> tuple[CutOut, ...] | None:
    """Each piece that comes out, with its sizes. None where there is too much to follow.

    ``softness`` : see ``softness_of``.
    """
    found = outlines(trajectory, tools, setup)
    if found is None:
        return None
    if not found:
        return ()
    flank = _through(swept, run, tools, setup)
    flanks = Flanks(swept, run, tools, setup, machine, softness)
    out, told = [], 0
    for outline in found:
        sizes = outline.sizes[: max(MOST_SIZES - told, 0)]
        told += len(sizes)
        out.append(_cut_out(outline, sizes, flank, flanks, setup))
    return tuple(out)


def softness_of(
    swept: Swept, tools: Tooling, setup: Setup, machine: MachineModel, drawn: Sequence[MachineModel]
) -> FloatArray:
    """Give along X and Y of machines drawn over this one's, in the middle of what is cut. (k, 2)

    Machine, cutter and work together. The middle of a wide range of stiffness is not the middle of
    its give, so these are no draws about 1.
    """
    where = where_it_cuts(swept, tools, setup)
    if where is None or not drawn:
        return np.ones((1, 2))
    (x, y, z), cutter = where[0][:, None], where[1]
    side = cutter_compliance_mm_per_n(cutter)
    at = np.array([[x[0], y[0], z[0]]])
    give = [
        np.diagonal(compliance_at(one, x, y, z + cutter.stick_out_mm)[0])[:2]
        + side
        + (np.diagonal(work.shifts_at(at)[0])[:2] if work is not None else 0.0)
        for one, work in zip((machine, *drawn), works_of(setup, len(drawn)), strict=True)
    ]
    return np.array(give[1:]) / np.maximum(give[0], 1e-30)


def _cut_out(
    outline: Outline, sizes: tuple[Size, ...], flank: _Flank, flanks: Flanks, setup: Setup
) -> CutOut:
    x, y = outline.middle_mm
    measured = [_dimension(size, flank, flanks, setup) for size in sizes]
    return CutOut(
        number=outline.number,
        inside=outline.inside,
        area_mm2=outline.area_mm2,
        middle=Spot(x_mm=x, y_mm=y, z_mm=0.0),
        dimensions=tuple(one for one in measured if one is not None),
    )


def _through(swept: Swept, run: AsRun, tools: Tooling, setup: Setup) -> _Flank:
    """Flanks of the groups at feed that reach the underside with their whole width."""
    slot = tools.slot[swept.segment]
    radius, deep = np.zeros(len(slot)), np.full(len(slot), -np.inf)
    for number, cutter in setup.slots.items():
        if not cutter.undercuts:
            mine = slot == number
            radius[mine] = cutter.radius_mm
            deep[mine] = -setup.board.thickness_mm - cutter.rim_mm + 1e-4
    way = swept.motion_mm[:, :2].astype(np.float64)
    length = np.linalg.norm(way, axis=1)
    goes = (swept.column[:, cutting.Z] <= deep) & ~tools.rapid[swept.segment] & (length > 1e-6)
    group = np.flatnonzero(goes)
    along = way[group] / length[group, None]
    left = np.stack([-along[:, 1], along[:, 0]], axis=1)
    out = np.concatenate([left, -left])
    centre = swept.column[group, cutting.X : cutting.Y + 1].astype(np.float64)
    both = np.concatenate([group, group])
    return _Flank(
        group=both,
        at_mm=np.tile(centre, (2, 1)) + out * radius[both, None],
        out=out,
        proud_mm=-(run.offset_mm[both, :2] * out).sum(axis=1),
    )


def _dimension(size: Size, flank: _Flank, flanks: Flanks, setup: Setup) -> Dimension | None:
    """One size with its spread; None where no flank was found that makes it."""
    nominal: dict[str, float] = {}
    off: dict[str, FloatArray] = {}
    steps = flanks.steps_mm(np.array([patch.out for patch in size.patches]))
    none = np.zeros(DRAWS)
    for number, patch in enumerate(size.patches):
        rows = _rows_at(patch, flank)
        if not len(rows):
            return None
        # Of a bend what counts is how far it moves along the size, not square to itself.
        shift = flanks.shift(flank.group[rows], np.tile(patch.out, (len(rows), 1)))
        for name, moved in shift.nominal.items():
            nominal[name] = nominal.get(name, 0.0) + patch.weight * float(moved.mean())
        for name, drawn in shift.off.items():
            off[name] = off.get(name, none) + patch.weight * drawn.mean(axis=1)
        off[STEPS] = off.get(STEPS, none) + patch.weight * steps[:, number]
    error = float(sum(nominal.values()))
    many = error + np.sum(list(off.values()), axis=0)
    value = size.programmed_mm + error
    x, y = size.at_mm
    return Dimension(
        name=size.name,
        programmed_mm=size.programmed_mm,
        size=estimate_of(value, size.programmed_mm + many, off),
        likelihood=float((np.abs(many) > setup.tolerance_mm).mean()),
        shares=shares_of(nominal, off),
        spot=Spot(x_mm=x, y_mm=y, z_mm=-setup.board.thickness_mm),
        grows_mm=_grows_mm(size, setup.board.grain_rad),
    )


def _grows_mm(size: Size, grain_rad: float) -> tuple[float, float]:
    """How much a size grows for each unit that the wood grows, along and across the grain.

    Wood that grows moves each wall by its place times the growth; a wall that moves towards the
    cutter stands proud.
    """
    along = np.array([np.cos(grain_rad), np.sin(grain_rad)])
    grows = []
    for way in (along, np.array([-along[1], along[0]])):
        moved = [
            -patch.weight * float(np.dot(patch.out, way)) * float(np.dot(patch.at_mm, way))
            for patch in size.patches
        ]
        grows.append(sum(moved))
    return grows[0], grows[1]


def _rows_at(patch: Patch, flank: _Flank) -> IntArray:
    """Flanks that make a patch, a few that stand for all.

    Of several passes over one place the one that stands farthest into the wood makes the wall.
    """
    out = np.array(patch.out)
    beside = flank.at_mm - np.array(patch.at_mm)
    along = beside @ np.array([-out[1], out[0]])
    near = np.abs(beside @ out) <= _NEAR_MM
    near &= (np.abs(along) <= patch.half_mm + 0.5) & (flank.out @ out >= _FACES)
    rows = np.flatnonzero(near)
    if not len(rows):  # a small hole: whole groups lie around the bend
        off = np.hypot(*beside.T) + np.where(flank.out @ out < _BENT, np.inf, 0.0)
        rows = np.flatnonzero(off <= min(float(off.min(initial=np.inf)) + 1e-6, _BENT_NEAR_MM))
    place = np.round(along[rows])
    order = np.lexsort((flank.proud_mm[rows], place))
    rows = rows[order[np.unique(place[order], return_index=True)[1]]]
    if len(rows) > MOST_GROUPS:
        rows = rows[np.linspace(0, len(rows) - 1, MOST_GROUPS).round().astype(np.int64)]
    return rows


def estimate_of(value: float, many: FloatArray, off: dict[str, FloatArray]) -> Estimate:
    """A figure with its ends over what was drawn, and what widens it most."""
    low, high = np.quantile(many, [0.025, 0.975]).tolist()
    widest = max(off, key=lambda name: float(off[name].std()))
    return Estimate(
        value=value,
        low=min(low, value),
        high=max(high, value),
        mostly_from=widest if off[widest].any() else "",
    )


def shares_of(nominal: dict[str, float], off: dict[str, FloatArray]) -> Shares:
    """What set-up, machine and cut each move, and how far each may be off."""

    def share(room: str) -> Share:
        drawn = [values for name, values in off.items() if ROOM[name] == room]
        whole = np.sum(drawn, axis=0) if drawn else np.zeros(1)
        return Share(
            mm=float(sum(value for name, value in nominal.items() if ROOM[name] == room)),
            unsure_mm=TWO_SIDED_95 * float(np.std(whole)),
        )

    return Shares(set_up=share("set-up"), machine=share("machine"), cut=share("cut"))
