"""The cutter held shorter, or another one of the rack: tried where the path stays right with it.

A cutter of another width or shape needs a path of its own; that is told, and what it would bring.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from kerfwright.basics import Change, Finding, Known, Remedy
from kerfwright.cutter import Cutter, with_stick_out
from kerfwright.kernels import cutting
from kerfwright.prove.clamps import clamps
from kerfwright.prove.facts import Facts
from kerfwright.prove.inside import new_stops
from kerfwright.prove.remedies import Told, tried
from kerfwright.prove.room import room

#: Cutters whose widths differ by less cut the same path: walls stand off by half of it at most.
SAME_MM = 0.06
_SAME_RAD = 0.005
_NUT_CLEAR_MM = 3.0  #: between the collet's nut and the board: common practice, no source
_GRAZE_MM = 0.02


def with_cutter(facts: Facts, slot: int, cutter: Cutter) -> Facts:
    """The same with another cutter in a slot; what was swept stays."""
    setup = replace(facts.setup, slots={**facts.setup.slots, slot: cutter})
    return replace(facts, setup=setup)


def held_shorter(facts: Facts, slot: int) -> Cutter | None:
    """The cutter held no longer than its flutes and the deepest cut need; None if it is already."""
    cutter = facts.setup.slots[slot]
    tip = float(facts.swept.column[facts.groups_of(slot), cutting.Z].min())
    flutes = cutter.known.get("flute_length_mm")
    stated = cutter.flute_length_mm if flutes is not None and flutes.kind != "default" else 0.0
    least = float(np.ceil(max(-tip + _NUT_CLEAR_MM, stated)))
    if least > cutter.stick_out_mm - 1.0:
        return None
    return with_stick_out(cutter, Known(value=least, kind="estimated", ref="tried", u=0.5))


def shorter(
    facts: Facts, slot: int, found: Finding, told: Callable[[Cutter], Told],
    enough: Callable[[Told], bool],
) -> Iterator[Remedy]:  # fmt: skip
    """Holding it shorter, if that is enough and nothing runs into the wood or a clamp then."""
    cutter = held_shorter(facts, slot)
    if cutter is None:
        return
    after = told(cutter)
    if not enough(after) or why_not(facts, slot, cutter):
        return
    old = facts.setup.slots[slot].stick_out_mm
    change = Change(
        path=f"slots.{slot}.stick_out", old=f"{old:g} mm", new=f"{cutter.stick_out_mm:g} mm"
    )
    yield Remedy(
        words=f"Let cutter {slot} stick out {cutter.stick_out_mm:g} mm only",
        changes=(change,),
        tried=tried(found, f"Held at {cutter.stick_out_mm:g} mm", *after),
        more_s=0.0,
    )


def another(
    facts: Facts, slot: int, found: Finding, told: Callable[[Cutter], Told],
    enough: Callable[[Told], bool],
) -> Iterator[Remedy]:  # fmt: skip
    """The best cutter of the rack that cuts the same path, if it is enough."""
    best: tuple[Cutter, Told] | None = None
    for cutter in alike(facts, slot):
        after = told(cutter)
        if not enough(after) or why_not(facts, slot, cutter):
            continue
        if best is None or abs(after[0].value - found.limit) > abs(best[1][0].value - found.limit):
            best = (cutter, after)
    if best is not None:
        yield in_its_place(facts, slot, best[0], tried(found, f"With {best[0].name}", *best[1]))


def in_its_place(facts: Facts, slot: int, cutter: Cutter, after: Finding) -> Remedy:
    """A cutter of the rack in place of the one in a slot."""
    old = facts.setup.slots[slot]
    changes = (
        Change(path=f"slots.{slot}", old=old.name, new=cutter.name),
        Change(
            path=f"slots.{slot}.stick_out", old=f"{old.stick_out_mm:g} mm",
            new=f"{cutter.stick_out_mm:g} mm",
        ),
    )  # fmt: skip
    return Remedy(
        words=f"Put {cutter.name} of the rack into slot {slot}: as wide, with flutes of"
        f" {cutter.flute_length_mm:g} mm, sticking out {cutter.stick_out_mm:g} mm",
        changes=changes, tried=after, more_s=0.0,
    )  # fmt: skip


def alike(facts: Facts, slot: int) -> list[Cutter]:
    """Other cutters of the rack that leave the same shape on the same path."""
    old = facts.setup.slots[slot]
    return [
        one
        for one in facts.setup.rack.values()
        if one.name != old.name and one.shape == old.shape and one.corners_mm == old.corners_mm
        and abs(one.diameter_mm - old.diameter_mm) < SAME_MM
        and abs(one.included_angle_rad - old.included_angle_rad) < _SAME_RAD
        and all(
            abs(getattr(one, name) - getattr(old, name)) < SAME_MM
            for name in ("tip_diameter_mm", "corner_radius_mm", "tip_radius_mm")
        )
    ]  # fmt: skip


def thicker(facts: Facts, slot: int) -> Cutter | None:
    """The next thicker cutter of the rack, of the same shape, whose flutes reach as deep."""
    old = facts.setup.slots[slot]
    deep = deepest_mm(facts, slot)
    able = [
        one
        for one in facts.setup.rack.values()
        if one.shape == old.shape and one.diameter_mm > old.diameter_mm + SAME_MM
        and one.flute_length_mm >= deep
    ]  # fmt: skip
    return min(able, key=lambda one: one.diameter_mm, default=None)


def deepest_mm(facts: Facts, slot: int) -> float:
    """How high the wood stands above a cutter's tip at most while it cuts."""
    groups = facts.groups_of(slot)
    return float(facts.swept.column[groups, cutting.DEPTH].max()) if len(groups) else 0.0


def why_not(facts: Facts, slot: int, cutter: Cutter) -> str:
    """What speaks against another cutter in a slot, in words; nothing where it can be used."""
    deep = deepest_mm(facts, slot)
    if deep > cutter.flute_length_mm + _GRAZE_MM:
        return f"its flutes are shorter than the {deep:.1f} mm of wood"
    after = with_cutter(facts, slot, cutter)
    new = new_stops(facts, after)
    if new:
        return new[0]
    before = {one.words for one in clamps(facts)}
    crowded = [one for one in clamps(after) if one.words not in before]
    crowded += [one for one in room(after)[0] if f"cutter {slot} (" in one.words]
    return next((one.words for one in crowded if one.severity == "stop"), "")
