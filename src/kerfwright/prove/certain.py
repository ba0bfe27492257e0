"""Findings that hang on no law: rapids through wood, cutters and spindle."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy
from kerfwright.kernels import cutting
from kerfwright.program import MoveKind
from kerfwright.program.changed import Put, Run, Step
from kerfwright.prove.again import changed_s, clear_z_mm, more_s
from kerfwright.prove.facts import LEAST_MM3, Facts, at_group, at_segment
from kerfwright.prove.lifts import lifted, up_mm, ways_out
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import tried

FloatArray = NDArray[np.float64]

MOST_OF_A_KIND = 12
_GRAZE_MM = 0.02  #: a rapid that touches less than this rubs along a cut surface


def certain(facts: Facts) -> list[Finding]:
    """All of them."""
    return [
        *_rapids(facts),
        *_missing_cutters(facts),
        *_ignored_changes(facts),
        *_spindle_off(facts),
        *_backwards(facts),
    ]


def _rapids(facts: Facts) -> list[Finding]:
    swept = facts.swept
    deep = swept.column[:, cutting.DEPTH]
    taken = swept.column[:, cutting.TAKEN] > LEAST_MM3
    hit = np.flatnonzero(facts.tools.rapid[swept.segment] & taken & (deep > _GRAZE_MM))
    hit = facts.solid(hit)
    lines = facts.line[swept.segment[hit]]
    told = np.unique(lines)
    out = []
    for line in told[:MOST_OF_A_KIND].tolist():
        same = hit[lines == line]
        worst = int(same[np.argmax(deep[same])])
        depth = max(float(deep[worst]), _sunk_mm(facts, same))
        words = f"A rapid move goes through wood, {depth:.2f} mm deep"
        torn = lifted(facts, same)
        if len(torn):
            worst, depth = int(torn[0]), up_mm(facts, torn)
            slot = int(facts.tools.slot[swept.segment[worst]])
            name = facts.setup.slots[slot].name
            words = f"A rapid move lifts cutter {slot} ({name}) through {depth:.1f} mm of wood"
        more = len(told) - MOST_OF_A_KIND
        if more > 0 and line == told[0]:
            words += f" (and so do {more} more lines)"
        found = at_group(facts, worst, "rapid through wood", "stop", words, (depth, 0.0, "mm"), ())
        remedies = ways_out(facts, found) if len(torn) else _otherwise(facts, found, worst)
        out.append(replace(found, remedies=remedies))
    return out


def _otherwise(facts: Facts, found: Finding, group: int) -> tuple[Remedy, ...]:
    """Above the wood, or through it as a cut; not what a cutter that undercuts does not bear."""
    slot = int(facts.tools.slot[facts.swept.segment[group]])
    if not facts.setup.slots[slot].undercuts:
        return _lifted(facts, found), _at_feed(facts, found)
    if _sunk_mm(facts, np.array([group])) > 0.0:
        return (
            Remedy(
                words="Come down beside the wood, and go in from the side at feed (G1)",
                not_tried="from where it may go in is not in the program",
            ),
        )
    return (_at_feed(facts, found),)


def _lifted(facts: Facts, found: Finding) -> Remedy:
    """Up, across through the air, and down at feed."""
    words = "Lift Z above the board before this line, and go down at feed where it ends"
    program = facts.program
    if program is None:
        return Remedy(words=words, not_tried="the program itself is not at hand")
    moves = np.flatnonzero(program.line == found.line)
    a, b = int(moves[0]), int(moves[-1]) + 1
    high = max(clear_z_mm(facts, program), *(float(z) for z in program.end_mm[a:b, 2]))
    x, y, _ = program.from_mm[a].tolist()
    to_x, to_y, to_z = program.end_mm[b - 1].tolist()
    fed = program.feed_mm_per_s[program.feed_mm_per_s > 0.0]
    feed = float(fed.min()) if len(fed) else 0.0
    steps: list[Step] = [
        Run(first=0, end=a),
        Put(to_mm=(x, y, high)),
        Put(to_mm=(to_x, to_y, high)),
        Put(to_mm=(to_x, to_y, to_z), feed_mm_per_s=feed),
        Run(first=b, end=program.moves),
    ]
    height = high + facts.setup.zero_on_board_mm[2] - facts.setup.board.highest_mm
    return Remedy(
        words=words,
        changes=(Change(path=f"line {found.line}", old="G0", new=f"G0 up to Z{high:g}, G0, G1"),),
        tried=tried(
            found, f"Then it goes {height:.1f} mm above the board, in the air", exact(0.0), None
        ),
        more_s=changed_s(facts, steps),
    )  # fmt: skip


def _at_feed(facts: Facts, found: Finding) -> Remedy:
    """The same way through the wood, as a cut."""
    program = facts.program
    words, longer = "Or make this move at feed (G1), if it is meant to cut", None
    if program is not None:
        here = (program.line == found.line) & (program.kind == MoveKind.RAPID)
        fed = program.feed_mm_per_s[program.feed_mm_per_s > 0.0]
        feed = float(np.median(fed)) if len(fed) else 0.0
        if feed > 0.0:
            longer = more_s(
                facts,
                replace(
                    program, kind=np.where(here, MoveKind.LINE, program.kind).astype(np.uint8),
                    feed_mm_per_s=np.where(here, feed, program.feed_mm_per_s),
                ),
            )  # fmt: skip
    return Remedy(
        words=words,
        changes=(Change(path=f"word on line {found.line}", old="G0", new="G1"),),
        tried=tried(found, "Then no rapid goes through wood here", exact(0.0), None),
        more_s=longer,
    )


def _sunk_mm(facts: Facts, groups: NDArray[np.int64]) -> float:
    """How deep a move went straight down into wood: each group sees the last half millimetre."""
    way = facts.swept.column[groups, cutting.WAY].astype(np.float64)
    down = -facts.swept.motion_mm[groups, 2].astype(np.float64)
    straight = down > 0.9 * way
    return float(down[straight].sum())


def _missing_cutters(facts: Facts) -> list[Finding]:
    if not facts.tools.missing:
        return []
    out = []
    below = facts.trajectory.point_mm[:, 2] + facts.setup.zero_on_board_mm[2] < 0.0
    sinks = below[1:] | below[:-1]
    for slot in facts.tools.missing:
        there = np.flatnonzero((facts.tools.slot == slot) & sinks)
        if not len(there):
            continue  # it never goes below the top of the board
        first = int(there[0])
        named = f"slot {slot}" if slot else "no slot (it has named no cutter by then)"
        given = ", ".join(str(s) for s in sorted(facts.setup.slots)) or "none"
        words = f"The program cuts with {named}, and no such cutter is set up (there: {given})"
        remedy = Remedy(
            words=f'Name the cutter, like --cutter "{slot or 1}: flat 6 mm, 2 flutes", or under'
            " [slots] in job.toml",
            not_tried="which cutter is meant is not known",
        )
        measure = (float(slot), 0.0, "slot")
        out.append(
            at_segment(
                facts, first, "missing cutter", "stop", words, measure, (remedy,), f"-{slot}"
            )
        )
    return out


def _ignored_changes(facts: Facts) -> list[Finding]:
    """A controller that runs on past a cutter change cuts with what was in the spindle."""
    if facts.machine.controller.cutter_change != "ignores it":
        return []
    cuts = np.flatnonzero(facts.cuts)
    slot = facts.tools.slot[facts.swept.segment[cuts]]
    other = np.flatnonzero(slot != slot[:1])
    if not len(other):
        return []
    first, wanted = int(slot[0]), int(slot[other[0]])
    words = (
        f"This controller runs on past a cutter change, so cutter {first} still turns where the"
        f" program wants cutter {wanted}"
    )
    remedy = Remedy(
        words="Make one program for each cutter, and change it by hand between them",
        not_tried="each is a program of its own: prove them one after the other",
    )
    group = int(cuts[other[0]])
    measure = (float(first), float(wanted), "slot")
    return [at_group(facts, group, "change ignored", "stop", words, measure, (remedy,))]


def _spindle_off(facts: Facts) -> list[Finding]:
    spindle = facts.machine.spindle
    segment = facts.swept.segment
    off = np.flatnonzero(facts.cuts & (facts.tools.commanded_rev_per_s[segment] == 0.0))
    if not spindle.follows_program or not len(off):
        return []
    words = "The cutter is in the wood while the program has the spindle stopped (S and M3 turn it)"
    measure = (0.0, spindle.lowest_rev_per_s * 60.0, "rev/min")
    remedy = Remedy(
        words="Start the spindle (S and M3) before this line",
        not_tried="at which speed is not said: all else was computed at"
        f" {spindle.highest_rev_per_s * 60.0:.0f} rev/min",
    )
    return [at_group(facts, int(off[0]), "spindle off", "stop", words, measure, (remedy,))]


def _backwards(facts: Facts) -> list[Finding]:
    wrong = np.flatnonzero(facts.cuts & facts.tools.backwards[facts.swept.segment])
    if not len(wrong):
        return []
    words = (
        "The program turns the spindle backwards here (M4): the edges of an ordinary cutter face"
        " the other way, so it rubs and burns; all forces are computed as if it turned forwards"
    )
    speed = float(facts.tools.commanded_rev_per_s[facts.swept.segment[wrong[0]]]) * 60.0
    # A left-hand cutter would want it, and the rack does not tell: so it is no stop.
    found = at_group(facts, int(wrong[0]), "spindle backwards", "caution", words,
                     (-speed, 0.0, "rev/min"), ())  # fmt: skip
    remedy = Remedy(
        words="Write M3 in place of M4, unless this is a left-hand cutter",
        changes=(Change(path="spindle", old="M4", new="M3"),),
        tried=tried(found, "Then it turns as all the rest was computed", exact(speed), None),
        more_s=0.0,
    )
    return [replace(found, remedies=(remedy,))]


def rubbing(facts: Facts, slot: int) -> NDArray[np.int64]:
    """Groups in which wood stands higher than this cutter's flutes reach."""
    mine = facts.groups_of(slot)
    depth = facts.swept.column[mine, cutting.DEPTH].astype(np.float64)
    return facts.solid(mine[depth > facts.setup.slots[slot].flute_length_mm + _GRAZE_MM])
