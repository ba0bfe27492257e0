"""All moves inside the travel and above the table; and the least change that brings them there."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Known, Remedy
from kerfwright.cutter import CutterError, with_stick_out
from kerfwright.prove.again import more_s
from kerfwright.prove.bed import found_of_bed
from kerfwright.prove.facts import Facts, at_segment
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import tried

FloatArray = NDArray[np.float64]

_SLACK_MM = 1e-6
_BACK = {"left": "right", "right": "left", "front": "back", "back": "front"}
_CLEARS_MM = 0.5  #: least height of a rapid above the board: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class _End:
    """One end of an axis' travel."""

    axis: str
    name: str
    at_mm: FloatArray  #: (n,) where each segment ends
    limit_mm: float
    sign: float  #: of the way out

    @property
    def over_mm(self) -> FloatArray:
        """How far each segment ends beyond it; below 0 inside. (n,)"""
        return self.sign * (self.at_mm - self.limit_mm)

    @property
    def worst_mm(self) -> float:
        """The furthest of all."""
        furthest = self.at_mm.max() if self.sign > 0.0 else self.at_mm.min()
        return self.sign * (float(furthest) - self.limit_mm)


def inside(facts: Facts) -> list[Finding]:
    """Ends of the travel that are passed, and cuts below what is allowed."""
    return [*_travel(facts), *_table(facts)]


def _ends(facts: Facts) -> Iterator[_End]:
    """Axis after axis: where all segments end is held for one at a time."""
    machine, setup, ends = facts.machine, facts.setup, facts.trajectory.point_mm[1:]
    more = np.add(setup.zero_on_board_mm, setup.board_at_mm)
    for axis, (name, low, high, travel) in enumerate((
        ("X", "left", "right", machine.x.travel_mm), ("Y", "front", "back", machine.y.travel_mm),
    )):  # fmt: skip
        at = ends[:, axis] + more[axis]
        yield _End(axis=name, name=low, at_mm=at, limit_mm=0.0, sign=-1.0)
        yield _End(axis=name, name=high, at_mm=at, limit_mm=travel, sign=1.0)
    reach = np.full(max([0, *setup.slots, int(facts.tools.slot.max())]) + 1, np.nan)
    for slot, cutter in setup.slots.items():
        reach[slot] = cutter.stick_out_mm
    # A cutter that is not set up is told elsewhere; here it stands at the end of the travel.
    nose, highest = reach[facts.tools.slot], machine.nose_height_mm
    nose += ends[:, 2]
    nose += more[2]
    nose[np.isnan(nose)] = highest
    yield _End(axis="Z", name="top", at_mm=nose, limit_mm=highest, sign=1.0)
    lowest = highest - machine.z.travel_mm
    yield _End(axis="Z", name="bottom", at_mm=nose, limit_mm=lowest, sign=-1.0)


def _travel(facts: Facts) -> list[Finding]:
    out = []
    for end in _ends(facts):
        far_mm = end.worst_mm
        if far_mm <= _SLACK_MM:
            continue
        over = end.over_mm
        beyond = np.flatnonzero(over > _SLACK_MM)
        worst = int(beyond[np.argmax(over[beyond])])
        line = int(facts.line[worst])
        words = (
            f"{end.axis} would have to go {far_mm:.2f} mm past the {end.name} end of its"
            f" travel (furthest on line {line})"
        )
        measure = (float(end.at_mm[worst]), end.limit_mm, "mm")
        suffix = f"-{end.axis.lower()}-{end.name}"
        first = int(beyond[0])
        found = at_segment(facts, first, "travel", "stop", words, measure, (), suffix)
        if end.axis != "Z":
            remedies = tuple(_moved(facts, end, found))
        elif end.name == "top":
            remedies = tuple(_lower(facts, end, found, line))
        else:
            remedies = tuple(_longer(facts, end, found))
        out.append(replace(found, remedies=remedies))
    return out


def _moved(facts: Facts, end: _End, found: Finding) -> Iterator[Remedy]:
    """The least shift of the board with which the axis stays between both its ends."""
    number = "XYZ".index(end.axis)
    other = next(e for e in _ends(facts) if e.axis == end.axis and e.name != end.name)
    spare = -other.worst_mm
    if end.worst_mm > spare + _SLACK_MM:
        yield Remedy(
            words=f"The path is {end.worst_mm - spare:.1f} mm longer than the travel of {end.axis}:"
            " cut it in two settings, or turn the job by a quarter on the table",
            not_tried="there is no place of the board at which all of it can be reached",
        )
        return
    # Rounded up to a tenth where there is room for that.
    mm = min(ceil(end.worst_mm * 10.0 - 1e-6) / 10.0, spare)
    corner = list(facts.setup.board_at_mm)
    corner[number] -= end.sign * mm
    setup = replace(facts.setup, board_at_mm=(corner[0], corner[1], corner[2]))
    after = replace(facts, setup=setup)
    way = _BACK[end.name]
    left = -next(e for e in _ends(after) if e.name == end.name).worst_mm
    words = f"Move the board {mm:.1f} mm towards the {way}"
    words += ", its clamps with it" if facts.setup.clamps else ""
    new = new_stops(facts, after) + _over_edge(after)
    if new:
        yield Remedy(words=words, not_tried=f"it was, and there is something else then: {new[0]}")
        return
    table = facts.machine.table_at_mm
    old_at, new_at = (
        ", ".join(f"{one.board_at_mm[k] - table[k]:.1f} mm" for k in range(2))
        for one in (facts.setup, setup)
    )
    says = f"Then {end.axis} stops {left:.1f} mm before that end"
    if left < 0.05:
        says = f"Then {end.axis} just reaches that end"
    yield Remedy(
        words=words,
        changes=(Change(path="board.at", old=old_at, new=new_at),),
        tried=tried(found, says, exact(end.limit_mm - end.sign * left), None),
        more_s=0.0,
    )


def new_stops(before: Facts, after: Facts) -> list[str]:
    """What stops it after a change and did not before, in words."""
    known = _stops(before)
    return [words for key, words in _stops(after).items() if key not in known]


def _stops(facts: Facts) -> dict[str, str]:
    """Ends of the travel, table and metal that are reached; in words, by what they are."""
    out = {
        f"{end.axis} {end.name}": f"{end.axis} goes {end.worst_mm:.1f} mm past its {end.name} end"
        for end in _ends(facts)
        if end.worst_mm > _SLACK_MM
    }
    low = _below(facts)
    if low is not None:
        out["table"] = f"the cutter goes {low.mm:.2f} mm deeper than is allowed"
    for one in found_of_bed(facts):
        if one.severity == "stop":
            out[one.id.replace(f"-{one.line}", "", 1)] = one.words
    return out


def _over_edge(facts: Facts) -> list[str]:
    """Whether the board would lie over the table's edge, in words."""
    setup, machine = facts.setup, facts.machine
    out = []
    for axis, size in enumerate((setup.board.length_mm, setup.board.width_mm)):
        low = machine.table_at_mm[axis]
        high = low + machine.table_mm[axis]
        at = setup.board_at_mm[axis]
        mm = max(low - at, at + size - high)
        if mm > 0.05:
            out.append(f"the board lies {mm:.1f} mm over the edge of the table")
    return out


def _lower(facts: Facts, end: _End, found: Finding, line: int) -> Iterator[Remedy]:
    """Lifting less high: all that is above the travel's end brought down to it."""
    setup, program = facts.setup, facts.program
    mm = ceil(end.worst_mm * 10.0 - 1e-6) / 10.0
    over = end.over_mm > _SLACK_MM
    tip = facts.on_board(facts.trajectory.point_mm[1:])[:, 2]
    lowest = float((tip - mm)[over].min())
    stands = max([setup.board.highest_mm, *(clamp.height_mm.value for clamp in setup.clamps)])
    words = f"Lift {mm:.1f} mm less on line {line}, and wherever it goes as high"
    if lowest < stands + _CLEARS_MM:
        yield Remedy(
            words=f"Take a spoil board or a cutter that is {mm:.1f} mm shorter: the spindle has no"
            " room above",
            not_tried="lifting less would not clear the board and what stands on it",
        )
        return
    longer = None
    if program is not None:
        high = float(tip[over].max()) - setup.zero_on_board_mm[2] - mm
        lower = program.point_mm.copy()
        lower[1:, 2] = np.minimum(lower[1:, 2], high)
        longer = more_s(facts, replace(program, point_mm=lower))
    change = Change(path=f"Z on line {line}", old="as it is", new=f"{mm:.1f} mm lower")
    yield Remedy(
        words=words,
        changes=(change,),
        tried=tried(
            found,
            f"Then it still goes {lowest - stands:.1f} mm above the board and what stands on it",
            exact(end.limit_mm), None,
        ),
        more_s=longer,
    )  # fmt: skip


def _longer(facts: Facts, end: _End, found: Finding) -> Iterator[Remedy]:
    """The cutter held longer, so that the nose need not go so far down."""
    beyond = end.over_mm > _SLACK_MM
    slots, changes = dict(facts.setup.slots), []
    for slot in np.unique(facts.tools.slot[beyond]).tolist():
        mm = ceil(float(end.over_mm[facts.tools.slot == slot].max()) * 10.0 - 1e-6) / 10.0
        cutter = slots[slot]
        out = Known(value=cutter.stick_out_mm + mm, kind="estimated", ref="tried", u=0.5)
        try:
            slots[slot] = with_stick_out(cutter, out)
        except CutterError:
            continue
        changes.append(
            Change(
                path=f"slots.{slot}.stick_out", old=f"{cutter.stick_out_mm:g} mm",
                new=f"{cutter.stick_out_mm + mm:.1f} mm",
            )
        )  # fmt: skip
    after = replace(facts, setup=replace(facts.setup, slots=slots))
    now = next(e for e in _ends(after) if e.axis == "Z" and e.name == "bottom")
    new = new_stops(facts, after)
    mm = ceil(end.worst_mm * 10.0 - 1e-6) / 10.0
    words = f"Let the cutter stick out {mm:.1f} mm more, if its shank is long enough"
    if new or now.worst_mm > _SLACK_MM:
        yield Remedy(
            words=f"Set the board {mm:.1f} mm higher, on a thicker spoil board",
            not_tried="with the cutter held longer it would pass the upper end of the travel;"
            " a spoil board of another thickness changes the machine",
        )
        return
    yield Remedy(
        words=words,
        changes=tuple(changes),
        tried=tried(
            found, "Then Z stops before that end", exact(now.limit_mm - now.worst_mm), None
        ),
        more_s=0.0,
    )
    yield Remedy(
        words=f"Or set the board {mm:.1f} mm higher, on a thicker spoil board",
        not_tried="it changes the machine; write the new spoil board down and prove it again",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Below:
    """Cuts deeper than what is allowed below the board."""

    first: int
    worst: int
    mm: float  #: below what is allowed
    tip_mm: float  #: the deepest, above the table
    underside_mm: float


def _below(facts: Facts) -> _Below | None:
    setup, machine = facts.setup, facts.machine
    underside = setup.board_at_mm[2] - setup.board.thickness_mm
    limit = underside - setup.below_board_mm
    if facts.lowest_mm + setup.board_at_mm[2] >= limit:
        return None
    at = facts.on_board(facts.trajectory.point_mm) + np.array(setup.board_at_mm)
    tip, over_table = lowest_over(at, machine.table_at_mm, machine.table_mm)
    deep = np.flatnonzero(over_table & (tip < limit - _SLACK_MM))
    if not len(deep):
        return None
    worst = int(deep[np.argmin(tip[deep])])
    return _Below(
        first=int(deep[0]), worst=worst, mm=float(limit - tip[worst]), tip_mm=float(tip[worst]),
        underside_mm=underside,
    )  # fmt: skip


def _table(facts: Facts) -> list[Finding]:
    setup, low = facts.setup, _below(facts)
    if low is None:
        return []
    deep = low.underside_mm - low.tip_mm
    into = "the table" if low.tip_mm < -_SLACK_MM else "the spoil board"
    words = (
        f"The cutter goes {deep:.2f} mm below the underside of the board, into {into};"
        f" {setup.below_board_mm:.2f} mm is allowed (deepest on line {int(facts.line[low.worst])})"
    )
    measure = (deep, setup.below_board_mm, "mm")
    found = at_segment(facts, low.first, "table", "stop", words, measure, ())
    return [replace(found, remedies=tuple(_raised(facts, low, found, into)))]


def _raised(facts: Facts, low: _Below, found: Finding, into: str) -> Iterator[Remedy]:
    """The deepest pass raised, Z zero raised, or more allowed: each looked at once more."""
    setup, line = facts.setup, int(facts.line[low.worst])
    floor_z = low.underside_mm - setup.below_board_mm - setup.board_at_mm[2]
    path = facts.trajectory.point_mm.copy()
    path[:, 2] = np.maximum(path[:, 2], floor_z - setup.zero_on_board_mm[2])
    after = _below(replace(facts, trajectory=replace(facts.trajectory, point_mm=path)))
    if after is None:
        change = Change(path=f"Z on line {line}", old="as it is", new=f"{low.mm:.2f} mm higher")
        yield Remedy(
            words=f"Raise the deepest pass by {low.mm:.2f} mm: it still cuts through the board",
            changes=(change,),
            tried=tried(found, "Then it ends where it may", exact(setup.below_board_mm), None),
            more_s=0.0,
        )
    z = setup.zero_on_board_mm[2] + low.mm
    x, y, _ = setup.zero_on_board_mm
    higher = replace(facts, setup=replace(setup, zero_on_board_mm=(x, y, z)))
    if _below(higher) is None and not new_stops(facts, higher):
        change = Change(path="zero.z", old=f"{setup.zero_on_board_mm[2]:.2f} mm", new=f"{z:.2f} mm")
        yield Remedy(
            words=f"Or set Z zero {low.mm:.2f} mm higher: then every cut is that much shallower",
            changes=(change,),
            tried=tried(found, "Then it ends where it may", exact(setup.below_board_mm), None),
            more_s=0.0,
        )
    allowed_mm = setup.below_board_mm + low.mm
    if into == "the spoil board" and allowed_mm <= facts.machine.spoil_board_mm:
        more = replace(facts, setup=replace(setup, below_board_mm=allowed_mm + 0.005))
        metal = [one for one in found_of_bed(more) if one.severity == "stop"]
        allowed = f"{ceil(allowed_mm * 100.0 - 1e-6) / 100.0:.2f} mm"
        change = Change(path="limits.below_board", old=f"{setup.below_board_mm:g} mm", new=allowed)
        words = f"Or allow {allowed} into the spoil board"
        if metal or _below(more) is not None:
            yield Remedy(words=words, not_tried=f"it was, and {metal[0].words}" if metal else "")
        else:
            left = facts.machine.spoil_board_mm - allowed_mm
            yield Remedy(
                words=f"{words}: {floor(left * 10.0) / 10.0:.1f} mm of it are left below the cut",
                changes=(change,),
                tried=tried(found, "Then it is allowed", exact(allowed_mm), None, allowed_mm),
                more_s=0.0,
            )  # fmt: skip


def lowest_over(
    at_mm: FloatArray, corner_mm: tuple[float, float], size_mm: tuple[float, float]
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """How low each segment comes while it is over a rectangle, and whether it ever is. (n,)"""
    start, way = at_mm[:-1], np.diff(at_mm, axis=0)
    enters, leaves = np.zeros(len(way)), np.ones(len(way))
    for axis in range(2):
        low, high = corner_mm[axis], corner_mm[axis] + size_mm[axis]
        still = way[:, axis] == 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            ends = (np.array([[low], [high]]) - start[:, axis]) / way[:, axis]
        inside = (start[:, axis] >= low) & (start[:, axis] <= high)
        first = np.where(still, np.where(inside, 0.0, 2.0), ends.min(axis=0))
        last = np.where(still, 1.0, ends.max(axis=0))
        enters, leaves = np.maximum(enters, first), np.minimum(leaves, last)
    z = start[:, 2] + way[:, 2] * np.where(way[:, 2] < 0.0, leaves, enters)
    return z, enters <= leaves
