"""Clamps in the way of the cutter and of what stands above it, on rapids as well."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy, Severity, Spot
from kerfwright.fixture import Clamp
from kerfwright.kernels.bodies import run_into_box
from kerfwright.prove.bodies import CUTTER, Body, bodies, end_of, higher, part_of_spread, tried
from kerfwright.prove.facts import Facts
from kerfwright.prove.margins import exact
from kerfwright.prove.sweep import NOT_CUT

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CODE = "clamp in the way"
_TOUCH_MM = 1e-6  #: bodies that just touch
_FARTHEST_MM = 300  #: a clamp is not moved further than this
_TRIES = 12
_WAYS = ("to the left", "to the right", "to the front", "to the back")
_ALONG = np.array([(-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0)])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Path:
    """The path on the board by segments, with what each spans."""

    start: FloatArray  #: (n, 3)
    end: FloatArray
    low: FloatArray  #: (n, 3)
    high: FloatArray
    slot: IntArray  #: (n,) -1 where no such cutter is set up
    assumed: int  #: so many segments begin where the cutter is taken to stand before the program

    @classmethod
    def of(cls, facts: Facts) -> "_Path":
        point = facts.on_board(facts.trajectory.point_mm)
        start, end = point[:-1], point[1:]
        slot = np.where(facts.tools.kind == NOT_CUT, -1, facts.tools.slot)
        low, high = np.minimum(start, end), np.maximum(start, end)
        moves = (start[:, :2] != end[:, :2]).any(axis=1)
        assumed = int(np.argmax(moves)) + 1 if moves.any() else len(moves)
        return cls(start=start, end=end, low=low, high=high, slot=slot, assumed=assumed)

    def without_assumed(self) -> "_Path":
        """The same with only the ends of those first segments: there it goes in any case."""
        first = np.arange(len(self.start))[:, None] < self.assumed
        return replace(self, start=np.where(first, self.end, self.start))

    def near(self, slot: int, box: FloatArray, top: float, discs: FloatArray) -> IntArray:
        """Segments of a cutter whose bodies might be in a box."""
        reach, height = discs.max(axis=0)[0], discs.min(axis=0)[1]
        near = self.low[:, 2] + height < top
        near &= self.slot == slot
        for axis in range(2):
            near &= self.low[:, axis] - reach < box[axis + 2]
            near &= self.high[:, axis] + reach > box[axis]
        return np.flatnonzero(near)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hits:
    """Where one body runs into one box."""

    segment: IntArray  #: (k,) in order
    enters: FloatArray  #: (k,) share of the segment
    sunk: FloatArray  #: (k,) how far below the box's top [mm]
    aside: FloatArray  #: (k, 4) how far the box would have to go each way [mm]


def clamps(facts: Facts) -> list[Finding]:
    """For each clamp and body the first time that they meet."""
    setup = facts.setup
    if not setup.clamps:
        return []
    path = _Path.of(facts)
    mine = bodies(setup, facts.machine)
    told = []
    for clamp in setup.clamps:
        met: dict[str, tuple[Body, _Hits, bool]] = {}
        for body in mine:
            found = _meets(path, clamp, body)
            if found is None:
                continue
            # The same body above two cutters: a certain meeting is told before the first one.
            before = met.get(body.name)
            if before is None or _order(found) < _order(before[1:]):
                met[body.name] = (body, *found)
        if met:
            move = _move(path, clamp, mine)
            told += [_finding(facts, path, clamp, *one, move) for one in met.values()]
    return told


def _order(found: tuple[_Hits, bool]) -> tuple[bool, int]:
    hits, sure = found
    return not sure, int(hits.segment[0])


def _meets(path: _Path, clamp: Clamp, body: Body) -> tuple[_Hits, bool] | None:
    """Where the body may meet the clamp; where it does so for certain, only that, and True."""
    box = np.array(clamp.box_mm)
    hits = _hits(path, box, end_of(clamp.height_mm, 1.0), body.slot, body.most)
    if hits is None:
        return None
    if body.given and clamp.height_mm.kind != "default":
        top = end_of(clamp.height_mm, -1.0)
        sure = _hits(path.without_assumed(), box, top, body.slot, body.sure)
        if sure is not None:
            return sure, True
    return hits, False


def _hits(path: _Path, box: FloatArray, top: float, slot: int, discs: FloatArray) -> _Hits | None:
    if not len(discs):
        return None
    near = path.near(slot, box, top, discs)
    if not len(near):
        return None
    shrunk = discs - np.array([_TOUCH_MM, -_TOUCH_MM])
    enters, sunk, aside = np.empty(len(near)), np.empty(len(near)), np.empty((len(near), 4))
    run_into_box(path.start[near], path.end[near], shrunk, box, top, enters, sunk, aside)
    hit = np.isfinite(enters)
    if not hit.any():
        return None
    return _Hits(segment=near[hit], enters=enters[hit], sunk=sunk[hit], aside=aside[hit])


def _finding(
    facts: Facts,
    path: _Path,
    clamp: Clamp,
    body: Body,
    hits: _Hits,
    sure: bool,
    move: tuple[str, int] | None,
) -> Finding:
    segment, share = int(hits.segment[0]), float(hits.enters[0])
    line = int(facts.line[segment])
    lines = len(np.unique(facts.line[hits.segment]))
    severity: Severity = "stop" if sure else "caution"
    name = f'the clamp "{clamp.name}"'
    words = f"The {body.name} {'runs' if sure else 'may run'} into {name}"
    words += f", {_about(clamp, body, sure)}{float(hits.sunk.max()):.1f} mm lower than its top"
    if facts.tools.rapid[segment]:
        words += ", on a rapid move"
    if lines > 1:
        words += f"; first here, and on {lines - 1} more {'line' if lines == 2 else 'lines'}"
    if not sure:
        words += _why_not_sure(path, clamp, body, segment)
    x, y, z = (path.start[segment] + share * (path.end[segment] - path.start[segment])).tolist()
    begin, after = facts.start_s(segment), facts.start_s(segment + 1)
    found = Finding(
        id=f"clamp-in-the-way-{line}-{body.name}-{clamp.name}".replace(" ", "-"),
        code=CODE,
        severity=severity,
        words=words,
        value=exact(float(hits.sunk.max())),
        limit=0.0,
        unit="mm",
        likelihood=None if sure else _likelihood(path, clamp, body),
        line=line,
        time_s=begin + share * (after - begin),
        spot=Spot(x_mm=x, y_mm=y, z_mm=z),
    )
    return replace(found, remedies=tuple(_remedies(facts, path, clamp, body, hits, move, found)))


def _about(clamp: Clamp, body: Body, sure: bool) -> str:
    """Which end of what is known a depth stands for."""
    height = clamp.height_mm
    if np.array_equal(body.most, body.sure) and end_of(height, 1.0) == end_of(height, -1.0):
        return ""
    return "at least " if sure else "up to "


def _likelihood(path: _Path, clamp: Clamp, body: Body) -> float:
    """The part of what the sizes may be in which they meet."""
    box = np.array(clamp.box_mm)
    low, high = end_of(clamp.height_mm, -1.0), end_of(clamp.height_mm, 1.0)
    return part_of_spread(
        body,
        lambda discs, share: _hits(path, box, high + share * (low - high), body.slot, discs),
    )


def _why_not_sure(path: _Path, clamp: Clamp, body: Body, segment: int) -> str:
    taken = list(body.unknown)
    if clamp.height_mm.kind == "default":
        taken.append("height of the clamp")
    if taken:
        return f" (not measured, so taken as wide and low as is usual: {', '.join(taken)})"
    if segment < path.assumed:
        return " (if it starts from zero, as is assumed)"
    return " (within the spread of what was measured)"


def _remedies(
    facts: Facts,
    path: _Path,
    clamp: Clamp,
    body: Body,
    hits: _Hits,
    move: tuple[str, int] | None,
    found: Finding,
) -> Iterable[Remedy]:
    if move is not None:
        way, mm = move
        change = Change(path=clamp.place or clamp.name, old="as placed", new=f"{mm} mm {way}")
        after = tried(found, f"With the clamp {mm} mm further {way} nothing runs into it")
        yield Remedy(
            words=f'Move the clamp "{clamp.name}" {mm} mm {way}', changes=(change,), tried=after,
            more_s=0.0,
        )  # fmt: skip
    if facts.tools.rapid[hits.segment].all():
        least = end_of(clamp.height_mm, 1.0) - float(body.most[:, 1].min())
        zero = facts.setup.zero_on_board_mm[2]
        high = ceil(least - zero + 1.0)
        gap = high + zero - least
        yield Remedy(
            words=f"Lift to Z{high} or more before line {found.line}",
            changes=(Change(path=f"line {found.line}", old="as it is", new=f"at Z{high}"),),
            tried=tried(found, f"At that height it goes {gap:.1f} mm above the clamp"),
        )
    if body.name != CUTTER:
        mm = ceil(float(hits.sunk.max()) + 0.1)
        if not _any(path, clamp, [body.raised(mm)]):
            after = tried(found, f"With {mm} mm more the {body.name} clears the clamp")
            yield higher(facts.setup, facts.machine, body, mm, after)


def _any(path: _Path, clamp: Clamp, mine: Iterable[Body]) -> bool:
    return any(
        _hits(
            path, np.array(clamp.box_mm), end_of(clamp.height_mm, 1.0), body.slot, body.most
        ) is not None
        for body in mine
    )  # fmt: skip


def _move(path: _Path, clamp: Clamp, mine: list[Body]) -> tuple[str, int] | None:
    """The least way, in whole millimetres, that takes a clamp out of reach of everything."""
    top = end_of(clamp.height_mm, 1.0)
    best: tuple[str, int] | None = None
    for side, words in enumerate(_WAYS):
        farthest = best[1] if best is not None else _FARTHEST_MM
        mm = 0
        for _ in range(_TRIES):
            box = np.array(clamp.box_mm) + mm * np.tile(_ALONG[side], 2)
            all_hits = (_hits(path, box, top, body.slot, body.most) for body in mine)
            need = max((float(h.aside[:, side].max()) for h in all_hits if h), default=0.0)
            if need == 0.0:
                if mm < farthest or best is None:
                    best = (words, mm)
                break
            mm += max(ceil(need - 1e-9), 1)
            if mm > farthest:
                break
    return best
