"""Speeds that the spindle does not have, and the router that is switched on by hand."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy
from kerfwright.kernels import cutting
from kerfwright.program import MoveKind, Program
from kerfwright.program.changed import with_feeds
from kerfwright.prove.again import more_s
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import tried

SPEED, BY_HAND = "spindle speed", "switch on by hand"
_ALIKE = 0.01  #: a speed that is missed by less is the same


def turning(facts: Facts, program: Program) -> list[Finding]:
    """Speeds out of reach; for a hand router the line for the run sheet."""
    cuts = np.flatnonzero(facts.cuts)
    if not len(cuts):
        return []
    return [*_out_of_reach(facts, program, cuts), *_by_hand(facts, int(cuts[0]))]


def _out_of_reach(facts: Facts, program: Program, cuts: NDArray[np.int64]) -> list[Finding]:
    spindle = facts.machine.spindle
    asked = facts.tools.commanded_rev_per_s[facts.swept.segment[cuts]]
    out = []
    for wrong, ends, held in (
        (asked > spindle.highest_rev_per_s * (1.0 + _ALIKE), "at most", spindle.highest_rev_per_s),
        (
            (asked > 0.0) & (asked < spindle.lowest_rev_per_s * (1.0 - _ALIKE)),
            "no slower than",
            spindle.lowest_rev_per_s,
        ),
    ):
        if not wrong.any():
            continue
        at = int(np.argmax(wrong))
        group, told = int(cuts[at]), float(asked[at])
        line = _line_of(facts, program, group)
        feed = held / told
        what = "spindle" if spindle.follows_program else "router's dial"
        words = (
            f"The program asks for {told * 60:.0f} rev/min and the {what} goes {ends}"
            f" {held * 60:.0f}: each flute then takes {1.0 / feed:.2f} times the chip that was"
            " meant"
        )
        changes = (
            Change(path=f"S on line {line}", old=f"{told * 60:.0f}", new=f"{held * 60:.0f}"),
            Change(path="feed at this speed", old="× 1", new=f"× {feed:.2f}"),
        )
        measure = (told * 60.0, held * 60.0, "rev/min")
        found = at_group(facts, group, SPEED, "caution", words, measure, ())
        found = replace(found, id=f"spindle-speed-{line}", line=line)
        mine = cuts[wrong]
        chip = float(np.median(facts.swept.column[mine, cutting.FEED_PER_TOOTH])) * feed
        remedy = Remedy(
            words=f"Write S{held * 60:.0f} on line {line}, and feed at {feed * 100:.0f} % so that"
            f" the chip stays as it was meant, {chip:.3f} mm a tooth",
            changes=changes,
            tried=tried(found, "It has that speed", exact(held * 60.0), None),
            more_s=_fed_s(facts, program, told, feed),
        )
        out.append(replace(found, remedies=(remedy,)))
    return out


def _fed_s(facts: Facts, program: Program, told: float, feed: float) -> float | None:
    """How much longer it takes with the feed at a share wherever that speed is asked for."""
    asked = np.abs(program.spindle_rev_per_s.astype(np.float64))
    mine = (np.abs(asked - told) < _ALIKE * told) & (program.kind != MoveKind.RAPID)
    return more_s(facts, with_feeds(program, mine, feed))


def _line_of(facts: Facts, program: Program, group: int) -> int:
    """Line of the speed that is in force at a group."""
    move = int(facts.trajectory.move[facts.swept.segment[group]])
    lines = [
        event.line
        for event in program.events
        if event.kind == "spindle" and event.value != 0.0 and event.before_move <= move
    ]
    return lines[-1] if lines else facts.group_line(group)


def _by_hand(facts: Facts, group: int) -> list[Finding]:
    """A hand router starts for no word of the program, so the sheet must say so."""
    spindle = facts.machine.spindle
    if spindle.follows_program:
        return []
    segment = int(facts.swept.segment[group])
    wanted = float(facts.tools.commanded_rev_per_s[segment])
    meant = wanted if wanted > 0.0 else float(facts.tools.spindle_rev_per_s[segment])
    dial = ""
    if spindle.dial_rev_per_s:
        nearest = int(np.argmin(np.abs(np.array(spindle.dial_rev_per_s) - meant)))
        meant = spindle.dial_rev_per_s[nearest]
        dial = f" at dial {nearest + 1}"
    words = (
        f"The router is switched by hand and the program cannot start it: switch it on{dial}, about"
        f" {meant * 60:.0f} rev/min, before this line"
    )
    remedy = Remedy(
        words=f"Router on{dial} ({meant * 60:.0f} rev/min), ear protection on, then the program",
        not_tried="it is a line for the run sheet, and no error",
    )
    measure = (meant * 60.0, spindle.highest_rev_per_s * 60.0, "rev/min")
    return [at_group(facts, group, BY_HAND, "note", words, measure, (remedy,))]
