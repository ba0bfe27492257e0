"""Cutters that undercut, lifted where wood stands above their widest part."""

from dataclasses import replace
from math import pi

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy
from kerfwright.kernels import cutting
from kerfwright.kernels.engagement import STEEP_UP
from kerfwright.program import Program
from kerfwright.program.changed import Put, Run, Step
from kerfwright.prove.again import changed_s
from kerfwright.prove.facts import Facts, at_group

LIFT = "lift through wood"
_STRAY = 3.0  #: cells at the rim that may be the grid's alone

IntArray = NDArray[np.int64]


def lifts(facts: Facts) -> list[Finding]:
    """The first place of each cutter that is lifted through wood at feed."""
    out = []
    for slot, cutter in sorted(facts.setup.slots.items()):
        torn = lifted(facts, facts.groups_of(slot)) if cutter.undercuts else ()
        if not len(torn):
            continue
        lines = facts.line[facts.swept.segment[torn]]
        told = np.unique(lines)
        here = torn[lines == lines[0]]
        mm = up_mm(facts, here)
        taken = float(facts.swept.column[here, cutting.TAKEN].sum())
        more = f"; and so on {len(told) - 1} more lines" if len(told) > 1 else ""
        words = (
            f"Cutter {slot} ({cutter.name}) is wider below than above and is"
            f" lifted through {mm:.1f} mm of wood: it tears {taken:.0f} mm³ out above its widest"
            f" part, which spoils the cut and may break the cutter or throw the piece{more}"
        )
        found = at_group(facts, int(here[0]), LIFT, "stop", words, (mm, 0.0, "mm"), ())
        out.append(replace(found, remedies=ways_out(facts, found)))
    return out


def lifted(facts: Facts, groups: IntArray) -> IntArray:
    """Those of some groups in which a cutter is lifted through wood above its widest part.

    A line on which it takes no more than the tolerance off half a turn is left out.
    """
    slots = [slot for slot, cutter in facts.setup.slots.items() if cutter.undercuts]
    segment = facts.swept.segment[groups]
    way = facts.swept.column[groups, cutting.WAY].astype(np.float64)
    up = facts.swept.motion_mm[groups, 2] > STEEP_UP * way
    groups = groups[up & np.isin(facts.tools.slot[segment], slots)]
    segment = facts.swept.segment[groups]
    radius = np.array([facts.setup.slots[slot].radius_mm for slot in facts.tools.slot[segment]])
    # Of wood this thick on half a turn, and of more than stray cells at the rim.
    least_mm2 = np.maximum(
        pi * radius * facts.setup.tolerance_mm, _STRAY * facts.swept.field.cell_mm**2
    )
    taken_mm2 = facts.swept.column[groups, cutting.TAKEN] / facts.swept.motion_mm[groups, 2]
    lines = facts.line[segment]
    return groups[np.isin(lines, lines[taken_mm2 > least_mm2])]


def up_mm(facts: Facts, groups: IntArray) -> float:
    """How far some groups go up in all."""
    return float(facts.swept.motion_mm[groups, 2].sum(dtype=np.float64))


def ways_out(facts: Facts, found: Finding) -> tuple[Remedy, ...]:
    """Where the cutter of a line can be lifted without tearing wood out."""
    return (
        _back(facts, found),
        Remedy(
            words="Or run it on, out of the wood at the open end of the slot, and lift it there",
            not_tried="how far the slot may go on is not in the program",
        ),
    )


def _back(facts: Facts, found: Finding) -> Remedy:
    """Along its own cut to where it came down: it swept all of that way before."""
    words = "Go back the way it came, to {}where it came down, and lift it there"
    program = facts.program
    if program is None:
        return Remedy(words=words.format(""), not_tried="the program itself is not at hand")
    lift = int(np.flatnonzero(program.line == found.line)[0])
    down = _came_down(facts, program, lift)
    if down is None:
        not_tried = "the program begins with this cutter in the wood"
        return Remedy(words=words.format(""), not_tried=not_tried)
    x, y, z = program.from_mm[down].tolist()
    steps: list[Step] = [Run(first=0, end=lift)]
    for move in range(lift - 1, down - 1, -1):
        feed = float(program.feed_mm_per_s[move])
        to_x, to_y, to_z = program.from_mm[move].tolist()
        steps.append(Put(to_mm=(to_x, to_y, to_z), feed_mm_per_s=feed))
    end_x, end_y, end_z = program.end_mm[lift].tolist()
    high = max(z, end_z)
    steps += [Put(to_mm=(x, y, high)), Put(to_mm=(end_x, end_y, high))]
    arcs = np.isin(program.arcs.move, np.arange(down, lift)).any()
    place = f"X{x:g} Y{y:g}"
    return Remedy(
        words=words.format(f"{place} "),
        changes=(Change(path=f"line {found.line}", old="up", new=f"back to {place}, then up"),),
        not_tried="the cutter swept all of that way before, and nothing is left there to take",
        more_s=None if arcs else changed_s(facts, [*steps, Run(first=lift, end=program.moves)]),
    )


def _came_down(facts: Facts, program: Program, lift: int) -> int | None:
    """The move before ``lift`` with which the same cutter came down from above the board."""
    top = facts.setup.board.highest_mm - facts.setup.zero_on_board_mm[2]
    before = slice(0, lift)
    above = (program.from_mm[before, 2] >= top) & (program.slot[before] == program.slot[lift])
    return int(np.flatnonzero(above)[-1]) if above.any() else None
