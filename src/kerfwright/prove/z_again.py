"""A second cutter that goes on with the Z zero of the first."""

import re
from dataclasses import replace
from math import erf

import numpy as np

from kerfwright.basics import Change, Estimate, Finding, Known, Remedy, Severity
from kerfwright.program import Program
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.margins import COVERAGE, exact
from kerfwright.prove.remedies import tried

CODE = "Z not set again"
_OFFSET = re.compile(rb"(?<![0-9A-Za-z.])[Gg]\s*0*43(?![0-9.])")
_REMARK = re.compile(rb"\([^)\r\n]*\)|;[^\r\n]*")


def z_again(facts: Facts, program: Program) -> list[Finding]:
    """Each change after which neither person nor program takes the new length in."""
    by_table = facts.machine.controller.cutter_change == "stops, length table"
    kept = facts.setup.z_after_change == "kept"
    if facts.machine.controller.cutter_change == "ignores it" or not (by_table or kept):
        return []
    cuts = np.flatnonzero(facts.cuts)
    slot = facts.tools.slot[facts.swept.segment[cuts]]
    out = []
    for at in np.flatnonzero(np.diff(slot)) + 1:
        group, before, now = int(cuts[at]), int(slot[at - 1]), int(slot[at])
        change = _change(facts, program, group, now)
        if not kept and _length_taken(program, change, facts.group_line(group)):
            continue
        out.append(_finding(facts, group, before, now, change, by_table))
    return out


def _change(facts: Facts, program: Program, group: int, slot: int) -> int:
    """Line of the change that put this cutter in."""
    move = int(facts.trajectory.move[facts.swept.segment[group]])
    lines = [
        event.line
        for event in program.events
        if event.kind == "cutter" and event.before_move <= move and int(event.value) == slot
    ]
    return lines[-1] if lines else facts.group_line(group)


def _length_taken(program: Program, change: int, cut: int) -> bool:
    """Whether a G43 stands between the change and the first cut."""
    text = b"\n".join(program.text_of(line).encode() for line in range(change, cut + 1))
    return _OFFSET.search(_REMARK.sub(b" ", text)) is not None


def _finding(facts: Facts, group: int, before: int, now: int, line: int, by_table: bool) -> Finding:
    pair = [facts.setup.slots[slot] for slot in (before, now)]
    known = [
        cutter.known.get("stick_out_mm")
        or Known(value=cutter.stick_out_mm, kind="measured", ref="")
        for cutter in pair
    ]
    longer = known[1].value - known[0].value
    half = float(np.hypot(*(0.5 * np.diff(one.interval())[0] for one in known)))
    told = Estimate(value=abs(longer), low=max(abs(longer) - half, 0.0), high=abs(longer) + half,
                    coverage=COVERAGE, mostly_from="how far the cutters stick out")  # fmt: skip
    tolerance = facts.setup.tolerance_mm
    given = all(one.kind != "default" for one in known)
    severity: Severity = "stop" if given and told.low > tolerance else "caution"
    u = max(half / 1.96, 1e-9)
    inside = np.sqrt(2.0) * u
    chance = 1.0 - 0.5 * (erf((tolerance - longer) / inside) + erf((tolerance + longer) / inside))
    way = "deeper" if longer > 0.0 else "shallower"
    what = "no length is called up for it (G43)" if by_table else "Z is not set again"
    words = (
        f"Cutter {now} ({pair[1].name}) goes on from cutter {before} ({pair[0].name}) and {what}:"
        f" it sticks out {abs(longer):.1f} mm {'more' if longer > 0.0 else 'less'}, so it cuts that"
        f" much {way} than the program says"
    )
    by_hand = Change(path="zero.after_change", old="kept", new="set again")
    by_word = Change(path=f"line {line}", old="no G43", new=f"G43 H{now}")
    found = at_group(facts, group, CODE, severity, words, (told.value, tolerance, "mm"), (),
                     None if severity == "stop" else float(chance))  # fmt: skip
    found = replace(found, id=f"z-not-set-again-{line}", line=line, value=told)
    if by_table:
        remedy = Remedy(
            words=f"Write G43 H{now} after this line and measure both cutters into the table",
            changes=(by_word,),
            not_tried="the table of lengths is in the controller, and is not known here",
        )
    else:
        remedy = Remedy(
            words=f"Set Z zero again with cutter {now} before it cuts",
            changes=(by_hand,),
            tried=tried(found, "Then both cut at the same height", exact(0.0), None),
            more_s=facts.machine.known["controller.set_z_time"].value,
        )
    return replace(found, remedies=(remedy,))
