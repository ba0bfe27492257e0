"""A cutter that turns on one spot in the wood: it rubs, and leaves a burnt mark."""

from dataclasses import replace

import numpy as np

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.kernels import cutting
from kerfwright.program import Event, Program
from kerfwright.prove.facts import LEAST_MM3, Facts, at_group

CODE = "stands in the wood"
#: Seconds from which it is told, and from which it is a caution: common practice, no source.
TOLD_S, BURNS_S = 0.5, 1.5
MOST_OF_A_KIND = 12
_TOUCH_MM = 0.05


def marks(facts: Facts, program: Program) -> list[Finding]:
    """Dwells and stops that come while the cutter is in the wood."""
    out: list[Finding] = []
    for event in program.events:
        if event.kind not in ("dwell", "stop") or event.before_move == 0:
            continue
        if event.kind == "dwell" and event.value < TOLD_S:
            continue
        found = _mark(facts, event)
        if found is not None and len(out) < MOST_OF_A_KIND:
            out.append(found)
    return out


def _mark(facts: Facts, event: Event) -> Finding | None:
    """The finding, if the move before ended in the wood that it was cutting."""
    swept = facts.swept
    segments = np.searchsorted(facts.trajectory.move, event.before_move, side="left")
    segment = int(segments) - 1
    if segment < 0 or not len(swept.segment):
        return None
    group = int(np.searchsorted(swept.segment, segment, side="right")) - 1
    tip = float(facts.on_board(facts.trajectory.point_mm[segment + 1])[2])
    if group < 0 or tip > -_TOUCH_MM or facts.tools.commanded_rev_per_s[segment] == 0.0:
        return None
    if facts.trajectory.move[swept.segment[group]] != event.before_move - 1:
        return None
    if swept.column[group, cutting.TAKEN] <= LEAST_MM3:
        return None
    seconds, stops = event.value, event.kind == "stop"
    turns = seconds * float(facts.tools.spindle_rev_per_s[segment])
    words = f"The cutter stands turning in the wood for {seconds:.1f} s, {turns:.0f} turns on one"
    words += " spot: it rubs there and leaves a burnt mark"
    if stops:
        words = (
            "The program stops here with the cutter turning in the wood, until you go on: it rubs"
            " on one spot and leaves a burnt mark"
        )
    severity: Severity = "caution" if stops or seconds >= BURNS_S else "note"
    code = "M0" if stops else "G4"
    change = Change(path=f"line {event.line}", old=code, new=f"lift Z, then {code}")
    remedy = Remedy(
        words=f"Lift Z out of the wood before line {event.line}"
        + ("" if stops else ", or leave the wait out"),
        changes=(change,),
    )
    measure = (seconds, 0.0 if stops else TOLD_S, "s")
    found = at_group(facts, group, CODE, severity, words, measure, (remedy,))
    return replace(found, id=f"stands-in-the-wood-{event.line}", line=event.line)
