"""What lies under the work and hangs over it, with what would help: each looked at once more."""

from collections.abc import Iterator
from dataclasses import replace
from math import ceil

import numpy as np

from kerfwright.basics import Change, Finding, Known, Remedy
from kerfwright.fixture import Bed, Clamp
from kerfwright.prove.bed import BOLT_NEAR_MM, found_of_bed
from kerfwright.prove.clamps import clamps
from kerfwright.prove.facts import Facts
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import tried

_WAYS = {
    "to the left": (-1.0, 0.0), "to the right": (1.0, 0.0),
    "to the front": (0.0, -1.0), "to the back": (0.0, 1.0),
}  # fmt: skip
_LOOSE_MM = 50.0  #: of a hose, beyond what it must reach: common practice, no source
_NEW_ONE = "write the new one into bed.toml and prove it again"


def bed(facts: Facts) -> list[Finding]:
    """All that is asked of the bed; nothing where none is described."""
    of = facts.setup.bed
    if of is None:
        return []
    ways = {
        "metal under the board": _off_metal,
        "spoil board too thin": _shallower,
        "spoil board nearly used up": _renewed,
        "clamp without a track": _clamp_nearer,
        "screw in the wrong place": _screw_aside,
        "hose pulled taut": _hose_of_length,
        "hose drags": _hose_of_length,
    }
    return [
        replace(one, remedies=tuple(ways[one.code](facts, of, one))) for one in found_of_bed(facts)
    ]


def _still(facts: Facts, found: Finding) -> bool:
    """Whether a changed job still has the finding, wherever on its way."""
    key = found.id.replace(f"-{found.line}", "", 1)
    return any(one.id.replace(f"-{one.line}", "", 1) == key for one in found_of_bed(facts))


def _no_deeper(facts: Facts, below_mm: float) -> Facts:
    """The same, going no deeper than so far below what the board lies on."""
    setup, path = facts.setup, facts.trajectory.point_mm.copy()
    floor = -setup.board.thickness_mm - below_mm - setup.zero_on_board_mm[2]
    path[:, 2] = np.maximum(path[:, 2], floor)
    return replace(facts, trajectory=replace(facts.trajectory, point_mm=path))


def _off_metal(facts: Facts, of: Bed, found: Finding) -> Iterator[Remedy]:
    metal = next(one for one in of.metal if found.id.endswith(f"-{one.name.replace(' ', '-')}"))
    highest = min(metal.below_mm.value, metal.below_mm.interval()[0])
    if not _still(_no_deeper(facts, highest), found):
        mm = ceil(10.0 * max(found.value.value + metal.below_mm.value - highest, 0.1)) / 10.0
        change = Change(path=f"Z on line {found.line}", old="as it is", new=f"{mm:.1f} mm higher")
        yield Remedy(
            words=f"Let the deepest pass end {mm:.1f} mm higher there",
            changes=(change,),
            tried=tried(found, "Then it stays above the metal", exact(0.0), None),
            more_s=0.0,
        )
    yield Remedy(
        words="Or lay the board elsewhere, or put a thicker spoil board under it",
        not_tried="where there is room for it is best seen at the table; say it under [board] at",
    )


def _shallower(facts: Facts, of: Bed, found: Finding) -> Iterator[Remedy]:
    if of.spoil_board is not None:
        mm = max(of.spoil_board.thickness_mm.value - of.spoil_board.least_mm, 0.0)
        if not _still(_no_deeper(facts, mm), found):
            change = Change(
                path=f"Z on line {found.line}", old="as it is", new=f"{mm:.1f} mm below the board"
            )
            yield Remedy(
                words=f"Cut no more than {mm:.1f} mm below the board",
                changes=(change,),
                tried=tried(found, "Then as much of it stays as should", exact(found.limit), None),
                more_s=0.0,
            )
    yield Remedy(words="Or put a new spoil board on first", not_tried=_NEW_ONE)


def _renewed(facts: Facts, of: Bed, found: Finding) -> Iterator[Remedy]:
    del facts, found
    least = of.spoil_board.least_mm + of.spoil_board.deepest_mm if of.spoil_board else 0.0
    yield Remedy(
        words=f"Have a new one ready, thicker than {ceil(least):.0f} mm", not_tried=_NEW_ONE
    )


def _clamp_nearer(facts: Facts, of: Bed, found: Finding) -> Iterator[Remedy]:
    del of
    clamp = next(
        one for one in facts.setup.clamps if found.id.endswith(f"-{one.name.replace(' ', '-')}")
    )
    mm = ceil(found.value.value - BOLT_NEAR_MM)
    known = {one.id for one in clamps(facts)}
    for words, way in _WAYS.items():
        moved = _moved(clamp, (mm * way[0], mm * way[1]))
        others = tuple(moved if one is clamp else one for one in facts.setup.clamps)
        after = replace(facts, setup=replace(facts.setup, clamps=others))
        if _still(after, found) or any(one.id not in known for one in clamps(after)):
            continue
        change = Change(path=clamp.place or clamp.name, old="as placed", new=f"{mm} mm {words}")
        yield Remedy(
            words=f'Stand the clamp "{clamp.name}" {mm} mm further {words}',
            changes=(change,),
            tried=tried(found, "Then its bolt has something to hold on to", exact(BOLT_NEAR_MM),
                        None),
            more_s=0.0,
        )  # fmt: skip
        return
    yield Remedy(
        words=f"Stand it {mm} mm nearer to a track, or hold this side with screws",
        not_tried=f"it was, {mm} mm to all four sides, and something was in the way each time",
    )


def _moved(clamp: Clamp, by_mm: tuple[float, float]) -> Clamp:
    at = (clamp.at_mm[0] + by_mm[0], clamp.at_mm[1] + by_mm[1])
    return replace(clamp, at_mm=at)


def _screw_aside(facts: Facts, of: Bed, found: Finding) -> Iterator[Remedy]:
    hold, spot = facts.setup.hold, found.spot
    if hold is None or spot is None:
        return
    half = max((one.half_width_mm for one in of.metal), default=0.0)
    board = facts.setup.board
    for mm in (ceil(half + 5.0), ceil(2.0 * half + 10.0)):
        for words, way in _WAYS.items():
            x, y = spot.x_mm + mm * way[0], spot.y_mm + mm * way[1]
            if not (0.0 < x < board.length_mm and 0.0 < y < board.width_mm):
                continue
            grips = tuple(
                replace(
                    grip,
                    at_mm=tuple(
                        (x, y) if at == (spot.x_mm, spot.y_mm) else at for at in grip.at_mm
                    ),
                )
                for grip in hold.grips
            )
            after = replace(facts, setup=replace(facts.setup, hold=replace(hold, grips=grips)))
            moved = found.id.rsplit("-", 2)[0] + f"-{x:.0f}-{y:.0f}"
            if any(one.id == moved for one in found_of_bed(after)):
                continue
            change = Change(
                path="hold.screws", old=f"{spot.x_mm:.0f}, {spot.y_mm:.0f} mm",
                new=f"{x:.0f}, {y:.0f} mm",
            )  # fmt: skip
            yield Remedy(
                words=f"Put it {mm} mm further {words}, clear of the path, and say so under [hold]",
                changes=(change,),
                tried=tried(found, "There it goes into wood", exact(0.0), None),
                more_s=0.0,
            )
            return
    yield Remedy(
        words="Put it elsewhere, and say so under [hold]",
        not_tried="it was, to all four sides, and nowhere near is there wood for it",
    )


def _hose_of_length(facts: Facts, of: Bed, found: Finding) -> Iterator[Remedy]:
    """Another free length: with some slack, and not so much that it hangs down."""
    hose = next(one for one in of.hoses if found.id.endswith(f"-{one.name.replace(' ', '-')}"))
    taut = found.code == "hose pulled taut"
    codes = ("hose pulled taut", "hose drags")
    reach = found.value.value if taut else hose.length_mm.value
    lengths = [reach + _LOOSE_MM, reach + 0.4 * _LOOSE_MM] if taut else [
        reach * share for share in (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3)
    ]  # fmt: skip
    for length in lengths:
        known = Known(value=round(length), kind="estimated", ref="tried")
        others = tuple(replace(one, length_mm=known) if one is hose else one for one in of.hoses)
        after = replace(facts, setup=replace(facts.setup, bed=replace(of, hoses=others)))
        mine = [one for one in found_of_bed(after) if one.code in codes and hose.name in one.words]
        if mine:
            continue
        change = Change(
            path=f"{hose.name}: free length", old=f"{hose.length_mm.value:.0f} mm",
            new=f"{length:.0f} mm",
        )  # fmt: skip
        words = f"Give it {length - hose.length_mm.value:.0f} mm more free length"
        if not taut:
            words = f"Take up the slack: {length:.0f} mm of free length still reach"
        told = exact(found.limit if not taut else found.value.value)
        limit = found.limit if not taut else float(round(length))
        yield Remedy(
            words=words, changes=(change,),
            tried=tried(found, "Then it reaches everywhere and hangs clear", told, None, limit),
            more_s=0.0,
        )  # fmt: skip
        return
    yield Remedy(
        words="Bring its other end nearer, and tie it higher",
        not_tried="other lengths were, and none both reaches everywhere and hangs clear",
    )
