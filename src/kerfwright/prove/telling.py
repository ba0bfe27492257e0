"""What was found, put together as a verdict: findings in order, the sentence, the sums."""

import numpy as np

from kerfwright.basics import Estimate, Finding
from kerfwright.kernels import cutting
from kerfwright.program import Program
from kerfwright.program.totals import PathTotals
from kerfwright.prove.acceptance import accept
from kerfwright.prove.cells import too_coarse_words
from kerfwright.prove.facts import Facts
from kerfwright.prove.judging import Answers, takes_wood
from kerfwright.prove.keyframes import MOST_BYTES
from kerfwright.prove.remedies import in_turn
from kerfwright.prove.verdict import AsCut, Outcome, Provenance, Totals, Verdict
from kerfwright.setup import Setup
from kerfwright.trajectory.time import ProgramTime

NOT_CHECKED = (
    "collisions with whatever on board or table the set-up does not name",
    "chatter: a swing that feeds itself through the chip it leaves behind",
    "heat, dust, knots and hidden nails",
    "how a slide turns as it goes, beside what a dial at the cutter sees of it",
)


NO_HOSES = "hoses and cables: no bed.toml says where they hang"
NO_CLIMATE = "wood movement after cutting: the job has no [climate]"
NO_WANTED = (
    "wood movement after cutting: [climate] is there, but no [[parts]] says which sizes matter"
)
NO_HOLD = (
    "whether what holds the board keeps it in its place, and how far it gives: the job does not say"
    " how it is held, under [hold] or [[clamps]]"
)


def verdict_of(
    facts: Facts,
    program: Program,
    answers: Answers,
    ascut: AsCut | None,
    of_part: list[Finding],
    time: ProgramTime,
    sums: PathTotals,
    provenance: Provenance,
) -> Verdict:
    """All of it, with what was assumed and what was not checked."""
    setup = facts.setup
    found = _in_order([*answers.found, *of_part])
    found, accepted_words = accept([in_turn(one) for one in found], setup.accepted)
    return Verdict(
        outcome=_outcome(found),
        sentence=_sentence(found, time.time.value, takes_wood(facts)),
        findings=tuple(found),
        totals=_totals(program, facts, time.time, sums),
        margins=answers.margins,
        ascut=ascut,
        assumed=(
            *setup.assumed,
            *time.assumed,
            *program.notes,
            *_assumed(facts),
            *accepted_words,
        ),
        machine_assumed=facts.machine.assumed,
        not_checked=(*NOT_CHECKED, *_unsaid(setup), *answers.left_open, *_let_go(facts)),
        provenance=provenance,
    )


def _in_order(found: list[Finding]) -> list[Finding]:
    """Stops first, then by time."""
    rank = {"stop": 0, "caution": 1, "note": 2}
    return sorted(found, key=lambda f: (rank[f.severity], f.time_s or 0.0, f.id))


def _unsaid(setup: Setup) -> list[str]:
    """What is not checked because the job does not say enough."""
    out = [] if setup.hold else [NO_HOLD]
    if setup.bed is None or not setup.bed.hoses:
        out.append(NO_HOSES)
    if setup.climate is None:
        out.append(NO_CLIMATE)
    elif not setup.wanted:
        out.append(NO_WANTED)
    return out


def _let_go(facts: Facts) -> list[str]:
    """Which cutter changes the page cannot show."""
    many = facts.swept.keyframes.left_out
    if not many:
        return []
    changes = "cutter change" if many == 1 else f"{many} cutter changes"
    return [
        f"how the board stood at the first {changes}: copies of it would have taken more than"
        f" {MOST_BYTES / 1e6:g} MB; until the change after, the page shows what is cut several"
        " times as whole before the last of them"
    ]


def _outcome(found: list[Finding]) -> Outcome:
    severities = {finding.severity for finding in found}
    return "stop" if "stop" in severities else "care" if "caution" in severities else "clear"


def _sentence(found: list[Finding], time_s: float, cut: bool) -> str:
    stops = [f for f in found if f.severity == "stop"]
    cautions = [f for f in found if f.severity == "caution"]
    if stops:
        first = stops[0]
        more = f", and {len(stops) - 1} more" if len(stops) > 1 else ""
        # Wrong units explain most of what else was found, so that question comes first.
        asked = next((f.words.partition("?")[0] for f in cautions if f.code == "units"), "")
        question = f"{asked[0].lower()}{asked[1:]}? As it stands: " if asked else ""
        return f"Do not cut this yet: {question}line {first.line}, {first.code}{more}."
    long = _about(time_s)
    if not cut:
        return f"It runs in about {long}, and takes no wood: is zero where it should be?"
    open_ones = [f for f in cautions if not f.accepted]
    if open_ones:
        many = "one thing" if len(open_ones) == 1 else f"{len(open_ones)} things"
        return f"It can be cut in about {long}; look at {many} first."
    if cautions:
        return f"It can be cut in about {long}; what was found, you have accepted."
    return f"Nothing was found that stops it; about {long}."


def _about(time_s: float) -> str:
    """A time as one says it."""
    minutes = round(time_s / 60.0)
    if minutes >= 90:
        return f"{minutes // 60} h {minutes % 60:02d} min"
    return f"{minutes} min" if time_s >= 60.0 else f"{time_s:.0f} s"


def _totals(program: Program, facts: Facts, time: Estimate, sums: PathTotals) -> Totals:
    column = facts.swept.column
    taking = column[:, cutting.TAKEN] > 0.0
    return Totals(
        lines=program.lines,
        moves=program.moves,
        time_s=time.value,
        time_spread_s=(time.low, time.high),
        cutting_time_s=float(column[taking, cutting.DURATION].sum(dtype=np.float64)),
        rapid_mm=sums.rapid_mm,
        cut_mm=sums.cut_mm,
        removed_mm3=float(column[:, cutting.TAKEN].sum(dtype=np.float64)),
        lowest_mm=sums.lowest_mm,
        highest_mm=sums.highest_mm,
    )


def _assumed(facts: Facts) -> list[str]:
    out = []
    spindle = facts.machine.spindle
    if not spindle.follows_program:
        out.append(
            f"the hand router turns at {60 * facts.tools.spindle_rev_per_s[0]:.0f} rev/min, the"
            " middle of its dial; it is switched by hand"
        )
    commanded = facts.tools.commanded_rev_per_s
    wrong = (commanded > 0.0) & (commanded != facts.tools.spindle_rev_per_s)
    if spindle.follows_program and wrong.any():
        out.append(
            f"the spindle turns at {60 * spindle.lowest_rev_per_s:.0f} to"
            f" {60 * spindle.highest_rev_per_s:.0f} rev/min, whatever else the program asks"
        )
    out.append("the program starts with the cutter at the set-up's zero")
    if facts.setup.z_after_change == "set again":
        out.append("each cutter's tip is set to the same Z zero after a change")
    coarse = too_coarse_words(facts.swept.field.cell_mm)
    return [*out, coarse] if coarse else out
