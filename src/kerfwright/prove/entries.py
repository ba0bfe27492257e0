"""Cutters sent where they cannot cut: straight down without an edge there, a drill sideways."""

from dataclasses import replace
from math import ceil, radians, sin, tan

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.kernels import cutting
from kerfwright.program.changed import Put, Run, Step
from kerfwright.prove.again import changed_s
from kerfwright.prove.another_cutter import SAME_MM, in_its_place, why_not
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import tried

PLUNGE, SIDEWAYS = "plunge", "drill sideways"
#: Steeper than that a cutter bores rather than mills. A ramp is far flatter.
_STEEP = 0.5
_TOLD_MM = 0.1  #: shallower is a touch
#: Slope of a ramp that any cutter takes: common practice, no source.
_RAMP_RAD = radians(3.0)


def entries(facts: Facts) -> list[Finding]:
    """Both, the first place and the deepest for each cutter."""
    swept = facts.swept
    down = -swept.motion_mm[:, 2].astype(np.float64)
    way = np.maximum(swept.column[:, cutting.WAY].astype(np.float64), 1e-9)
    out = []
    for slot, cutter in sorted(facts.setup.slots.items()):
        mine = facts.groups_of(slot)
        steep = mine[down[mine] > _STEEP * way[mine]]
        flat = mine[np.abs(down[mine]) < _STEEP * way[mine]]
        if cutter.plunges is False and len(steep):
            out += _plunge(facts, slot, steep, down)
        if not cutter.cuts_sideways and len(flat):
            out += _sideways(facts, slot, flat)
    return out


def _plunge(
    facts: Facts, slot: int, steep: NDArray[np.int64], down: NDArray[np.float64]
) -> list[Finding]:
    lines = np.array([facts.group_line(int(group)) for group in steep])
    way = facts.swept.column[steep, cutting.WAY].astype(np.float64)
    deep = {
        int(line): _bored_mm(down[steep[lines == line]], way[lines == line])
        for line in np.unique(lines)
    }
    told = [line for line, mm in deep.items() if mm > _TOLD_MM]
    if not told:
        return []
    line = int(lines[np.isin(lines, told)][0])
    group = int(steep[lines == line][0])
    mm = deep[line]
    cutter = facts.setup.slots[slot]
    known = cutter.known.get("centre_cutting")
    severity: Severity = "caution" if known is not None and known.kind == "default" else "stop"
    more = f"; and so on {len(told) - 1} more lines" if len(told) > 1 else ""
    words = (
        f"Cutter {slot} ({cutter.name}) has no edge in the middle of its end and is sent straight"
        f" down {mm:.1f} mm into wood: it burns, lifts the work or breaks{more}"
    )
    found = at_group(facts, group, PLUNGE, severity, words, (mm, 0.0, "mm"), ())
    ramps = _ramps(facts, slot, line, mm, found)
    otherwise = _in_place(facts, slot, found, "flat") or Remedy(
        words="Or drill there first, or take a cutter that cuts in the middle",
        not_tried="a hole needs a program of its own, and the rack has no flat cutter of this width"
        " that cuts in the middle",
    )
    return [replace(found, remedies=(ramps, otherwise))]


def _bored_mm(down_mm: NDArray[np.float64], way_mm: NDArray[np.float64]) -> float:
    """How far it goes down in all where it bores rather than mills."""
    return float(down_mm[down_mm > _STEEP * way_mm].sum())


def _ramps(facts: Facts, slot: int, line: int, mm: float, found: Finding) -> Remedy:
    """Down on a slope along the cut that follows, to and fro where that is short."""
    long = mm / tan(_RAMP_RAD)
    mine = facts.groups_of(slot)
    lines = facts.line[facts.swept.segment[mine]]
    column = facts.swept.column[mine].astype(np.float64)
    after = lines > line
    if not after.any():
        words = f"Go down on a slope to and fro, over {long:.0f} mm or more in all (3 degrees)"
        return Remedy(words=words, not_tried="no cut follows along which it could go down")
    follows = after & (lines == lines[after][0])
    room = max(float(column[follows, cutting.WAY].sum()), 1e-9)
    turns = ceil(long / room - 1e-9)
    way = "along the cut" if turns == 1 else f"{turns} times to and fro along the cut"
    change = Change(
        path=f"line {line}", old=f"straight down {mm:.1f} mm", new=f"down over {long:.0f} mm of cut"
    )
    bored = _bored_mm(np.array([mm]), np.array([mm / sin(_RAMP_RAD)]))
    return Remedy(
        words=f"Go down on a slope {way}, over {long:.0f} mm or more (3 degrees)",
        changes=(change,),
        tried=tried(found, f"On that slope it bores {bored:.1f} mm", exact(bored), None),
        more_s=_ramped_s(facts, line, int(lines[after][0]), room, long),
    )


def _ramped_s(facts: Facts, line: int, then: int, room: float, long: float) -> float | None:
    """How much longer it takes to go down to and fro along the cut that follows, and back."""
    program = facts.program
    if program is None:
        return None
    plunge = int(np.flatnonzero(program.line == line)[-1])
    cut = int(np.flatnonzero(program.line == then)[0])
    feed = float(program.feed_mm_per_s[cut])
    begin, end = program.from_mm[plunge], program.end_mm[plunge]
    way = program.end_mm[cut] - program.from_mm[cut]
    way = way / max(float(np.linalg.norm(way)), 1e-9)
    turns = ceil(long / room - 1e-9)
    reach = long / turns
    steps: list[Step] = [Run(first=0, end=plunge)]
    for turn in range(1, turns + 1):
        at = end + way * (reach if turn % 2 else 0.0)
        at[2] = begin[2] + (end[2] - begin[2]) * turn / turns
        steps.append(Put(to_mm=(float(at[0]), float(at[1]), float(at[2])), feed_mm_per_s=feed))
    x, y, z = end.tolist()
    # What was ramped over is cut once more, level: back to where it was to come down.
    steps.append(Put(to_mm=(x, y, z), feed_mm_per_s=feed))
    return changed_s(facts, [*steps, Run(first=plunge + 1, end=program.moves)])


def _sideways(facts: Facts, slot: int, flat: NDArray[np.int64]) -> list[Finding]:
    flat = facts.solid(flat)
    if not len(flat):
        return []
    way = float(facts.swept.column[flat, cutting.WAY].sum())
    group = int(flat[0])
    words = (
        f"Cutter {slot} ({facts.setup.slots[slot].name}) is a drill and is sent sideways through"
        f" wood, {way:.0f} mm in all: it has no edges on its sides, so it bends and breaks"
    )
    found = at_group(facts, group, SIDEWAYS, "stop", words, (way, 0.0, "mm"), ())
    remedy = _in_place(facts, slot, found, "flat") or Remedy(
        words="Use a flat cutter here, or lift the drill out before moving sideways",
        not_tried="the rack has no flat cutter of this width with flutes as long",
    )
    return [replace(found, remedies=(remedy,))]


def _in_place(facts: Facts, slot: int, found: Finding, shape: str) -> Remedy | None:
    """A cutter of the rack as wide, that goes straight down and sideways."""
    old = facts.setup.slots[slot]
    for cutter in facts.setup.rack.values():
        serves = cutter.name != old.name and cutter.shape == shape and cutter.plunges is not False
        if serves and abs(cutter.diameter_mm - old.diameter_mm) < SAME_MM:
            if why_not(facts, slot, cutter):
                continue
            after = tried(found, f"With {cutter.name} it can", exact(0.0), None)
            return in_its_place(facts, slot, cutter, after)
    return None
