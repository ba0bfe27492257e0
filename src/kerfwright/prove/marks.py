"""A cutter that turns on one spot in the wood: it rubs, and leaves a burnt mark."""

from dataclasses import replace

import numpy as np

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.kernels import cutting
from kerfwright.program import Event, Program
from kerfwright.program.changed import Put, Run
from kerfwright.prove.again import changed_s
from kerfwright.prove.facts import LEAST_MM3, Facts, at_group
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import tried

CODE = "stands in the wood"
#: Seconds from which it is told, and from which it is a caution: common practice, no source.
TOLD_S, BURNS_S = 0.5, 1.5
MOST_OF_A_KIND = 12
_TOUCH_MM = 0.05
_CLEAR_MM = 1.0  #: above the board it turns free


def marks(facts: Facts, program: Program) -> list[Finding]:
    """Dwells and stops that come while the cutter is in the wood."""
    out: list[Finding] = []
    for event in program.events:
        if event.kind not in ("dwell", "stop") or event.before_move == 0:
            continue
        if event.kind == "dwell" and event.value < TOLD_S:
            continue
        found = _mark(facts, program, event)
        if found is not None and len(out) < MOST_OF_A_KIND:
            out.append(found)
    return out


def _mark(facts: Facts, program: Program, event: Event) -> Finding | None:
    """The finding, if the move before ended in the wood that it was cutting."""
    swept = facts.swept
    segments = np.searchsorted(facts.trajectory.move, event.before_move, side="left")
    segment = int(segments) - 1
    if segment < 0 or not len(swept.segment):
        return None
    group = int(np.searchsorted(swept.segment, segment, side="right")) - 1
    tip = float(facts.on_board(facts.trajectory.point_mm[segment + 1])[2])
    if group < 0 or not _in_wood(tip) or facts.tools.commanded_rev_per_s[segment] == 0.0:
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
    measure = (seconds, 0.0 if stops else TOLD_S, "s")
    found = at_group(facts, group, CODE, severity, words, measure, ())
    found = replace(found, id=f"stands-in-the-wood-{event.line}", line=event.line)
    remedies = [_out_of_the_wood(facts, program, event, segment, found)]
    if not stops:
        without = Change(path=f"line {event.line}", old=f"G4 of {seconds:g} s", new="left out")
        remedies.append(
            Remedy(
                words="Or leave the wait out",
                changes=(without,),
                tried=tried(found, "Without the wait it goes on", exact(_stands_s(0.0, tip)), None),
                more_s=-seconds,
            )
        )
    return replace(found, remedies=tuple(remedies))


def _out_of_the_wood(
    facts: Facts, program: Program, event: Event, segment: int, found: Finding
) -> Remedy:
    """Up to where it turns free of the wood, and down again at the speed it has for rapids."""
    if facts.setup.slots[int(facts.tools.slot[segment])].undercuts:  # wood stands above it
        return Remedy(
            words=f"Put line {event.line} where the cutter is out of the wood",
            not_tried="where in the program that may be is not known",
        )
    tip = float(facts.on_board(facts.trajectory.point_mm[segment + 1])[2])
    lift, code = _CLEAR_MM - tip, "M0" if event.kind == "stop" else "G4"
    stands_s = exact(_stands_s(event.value, tip + lift))
    return Remedy(
        words=f"Lift Z {lift:.1f} mm out of the wood before line {event.line}, and go back down"
        " after it",
        changes=(Change(path=f"line {event.line}", old=code, new=f"lift Z, then {code}"),),
        tried=tried(found, "Then it turns free of the wood", stands_s, None),
        more_s=_lifted_s(facts, program, event.before_move, lift),
    )


def _lifted_s(facts: Facts, program: Program, move: int, lift_mm: float) -> float | None:
    """How much longer it takes with a lift and a way down before a move."""
    x, y, z = program.end_mm[move - 1].tolist()
    up, down = Put(to_mm=(x, y, z + lift_mm)), Put(to_mm=(x, y, z))
    return changed_s(facts, [Run(first=0, end=move), up, down, Run(first=move, end=program.moves)])


def _in_wood(tip_mm: float) -> bool:
    return tip_mm <= -_TOUCH_MM


def _stands_s(seconds: float, tip_mm: float) -> float:
    """How long it stands turning in the wood."""
    return seconds if _in_wood(tip_mm) else 0.0
