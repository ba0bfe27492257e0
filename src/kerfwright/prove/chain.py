"""Program, set-up and machine in; a proof out. Each link takes finished things and returns one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Finding, KerfwrightError
from kerfwright.basics.progress import Progress, silent
from kerfwright.cutter import chip_range
from kerfwright.kernels import cutting
from kerfwright.loads import log_spread_in
from kerfwright.machine import MachineModel
from kerfwright.program import Program
from kerfwright.program.totals import totals
from kerfwright.prove import likely, swings
from kerfwright.prove.acceptance import accept
from kerfwright.prove.as_cut import Ends, as_cut, error_map
from kerfwright.prove.aside import Aside, result_of
from kerfwright.prove.bed import deepest_mm
from kerfwright.prove.cells import cells_for
from kerfwright.prove.certain import certain
from kerfwright.prove.chip import chip, cutting_width_mm
from kerfwright.prove.clamps import clamps
from kerfwright.prove.cut import Keep, arrays_of, cut_from, cut_twice
from kerfwright.prove.depths import depths
from kerfwright.prove.facts import Facts
from kerfwright.prove.flutes import flutes
from kerfwright.prove.inside import inside
from kerfwright.prove.margins import (
    Give,
    Judged,
    Machines,
    Moment,
    exact,
    margin,
    moments,
    power_estimate,
    pull_estimate,
    spot_of,
)
from kerfwright.prove.off_size import off_size
from kerfwright.prove.part_sizes import part_sizes
from kerfwright.prove.proof import Groups, Proof, Series, Workings
from kerfwright.prove.questions import questions
from kerfwright.prove.remedies import in_turn
from kerfwright.prove.room import room
from kerfwright.prove.strength import strength
from kerfwright.prove.sweep import Swept, Tooling, tooling
from kerfwright.prove.undercuts import undercuts
from kerfwright.prove.units import units
from kerfwright.prove.verdict import Dimension, Margin, Outcome, Provenance, Totals, Verdict
from kerfwright.prove.wanted import judge_wanted
from kerfwright.setup import Setup
from kerfwright.setup.wanted import DEPTH
from kerfwright.trajectory import StandsStill, Trajectory, plan, program_time
from kerfwright.trajectory.time import Belief
from kerfwright.trajectory.tolerance import largest_tolerance_mm

FloatArray = NDArray[np.float64]

SERIES_BINS = 1200
THINNEST_SHARE = 0.1
MOST_METRES = 20_000.0

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
    "whether what holds the board keeps it in its place: the job does not say how it is held, under"
    " [hold] or [[clamps]]"
)


class NothingMoves(KerfwrightError):
    """A program without a move of any length."""

    def __str__(self) -> str:
        return (
            f"{self.args[0]}: no line of it moves the cutter\n"
            "  remedy: check that this is the cutting program, and that it was saved whole"
        )


class TooLong(KerfwrightError):
    """More path than memory can hold the loads of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Hashes that the verdict prints."""

    version: str
    code_sha256: str
    tables_sha256: str


def prove(
    program: Program,
    setup: Setup,
    machine: MachineModel,
    origin: Origin,
    cell_mm: float | None = None,
    threads: int = 2,
    progress: Progress = silent,
    keep: Keep | None = None,
    keep_board: bool = False,
    keep_workings: bool = False,
    beliefs: Sequence[Belief] | None = None,
) -> Proof:
    """Prove a program.

    Parameters
    ----------
    cell_mm : side of the field's cells; None: as ``cells_for`` chooses. [mm]
    threads : how many threads share the tiles; the result is the same at any number.
    keep : where the two passes of the very same proof were kept, or will be.
    keep_board : whether the proof carries the board as the program leaves it.
    beliefs : what is open about the motion, the first one's machine being ``machine``; as the
        description leaves it when not given.
    keep_workings : whether it carries the trajectory and the first pass.

    Raises
    ------
    NothingMoves, TooManyCells
        When there is nothing to prove, or the cells are out of bounds.
    """
    try:
        trajectory = plan(program, machine, progress=progress, in_spindle=setup.in_spindle)
    except StandsStill:
        raise NothingMoves(program.file) from None
    _check_length(program.file, trajectory, setup)
    tools = tooling(program, trajectory, setup, machine)
    cells = cells_for(trajectory, tools, setup, cell_mm)
    cell_mm = cells.cell_mm
    with Aside() as aside:
        drawing = aside.begin(Machines.drawn, machine, progress=aside.progress)
        timing = aside.begin(
            program_time, program, machine, in_spindle=setup.in_spindle, trajectory=trajectory,
            beliefs=beliefs,
            progress=aside.progress,
        )  # fmt: skip
        kept = keep.get() if keep is not None else None
        if kept is not None:
            done = cut_from(kept, setup.board)
        else:
            done = cut_twice(trajectory, tools, setup, machine, cell_mm, threads, progress)
        progress("judging", 0.0)
        machines = result_of(drawing, "judging", progress)
        timed = result_of(timing, "judging", progress)
    swept = done.swept
    line = program.line[trajectory.move].astype(np.int64)
    facts = Facts(
        trajectory=trajectory, tools=tools, setup=setup, machine=machine, swept=swept, line=line,
        start_s=trajectory.move_start_s, program=program,
    )  # fmt: skip
    cut = bool((swept.column[:, cutting.TAKEN] > 0.0).any())
    with Aside() as aside:
        mapping = aside.begin(error_map, swept.field, done.run.field)
        keeping = None
        if keep is not None and kept is None:
            keeping = aside.begin(keep.put, arrays_of(done))
        crowded, left_open = room(facts)
        left_open += undercuts(facts)
        asked = [*units(program, setup, machine), *clamps(facts), *crowded]
        asked += questions(facts, program, machines)
        judged, found, log_spread = _judge(facts, machines, asked, progress)
        top = result_of(mapping, "judging", progress)
        if keeping is not None:
            result_of(keeping, "judging", progress)
    ascut = None
    if cut:
        ascut = as_cut(
            top, trajectory, swept, done.run, tools, line, setup, machine, log_spread,
            largest_tolerance_mm(program, machine), machines.model,
        )  # fmt: skip
    deep: Mapping[str, Dimension] = {}
    if any(one.measure == DEPTH for one in setup.wanted):
        rounding = largest_tolerance_mm(program, machine)
        ends = Ends(swept, done.run, setup, machine, log_spread, rounding)
        deep = depths(swept.field, done.run.field, ends, setup)
    ascut, of_wanted = judge_wanted(facts, ascut, deep)
    found += [*off_size(facts, ascut), *part_sizes(facts, ascut), *of_wanted]
    found, accepted_words = accept([in_turn(one) for one in _in_order(found)], setup.accepted)
    verdict = Verdict(
        outcome=_outcome(found),
        sentence=_sentence(found, timed.time.value, cut),
        findings=tuple(found),
        totals=_totals(program, facts, timed.time),
        margins=tuple(judged),
        ascut=ascut,
        assumed=(
            *setup.assumed,
            *timed.assumed,
            *program.notes,
            *_assumed(facts),
            *accepted_words,
        ),
        machine_assumed=machine.assumed,
        not_checked=(*NOT_CHECKED, *_unsaid(setup), *left_open),
        provenance=Provenance(
            kerfwright=origin.version,
            code_sha256=origin.code_sha256,
            program_file=program.file,
            program_sha256=program.sha256,
            machine=machine.name,
            machine_sha256=machine.sha256,
            tables_sha256=origin.tables_sha256,
            cell_mm=cell_mm,
            cell_why=cells.why,
            threads=threads,
        ),
    )
    return Proof(
        verdict=verdict,
        setup=setup,
        cell_mm=cell_mm * top.block,
        into_bed_mm=deepest_mm(facts),
        left=swept.field if keep_board else None,
        workings=(
            Workings(trajectory=trajectory, swept=swept, line=line) if keep_workings else None
        ),
        corner_mm=(top.first[1] * cell_mm, top.first[0] * cell_mm),
        height_mm=top.height_mm,
        error_mm=top.error_mm,
        series=_series(swept, tools, trajectory.time_s),
        groups=Groups(
            column=swept.column,
            motion_mm=swept.motion_mm,
            give_mm=swept.give_mm,
            line=line[swept.segment],
            byte=program.byte[trajectory.move[swept.segment]].astype(np.int64),
            slot=tools.slot[swept.segment].astype(np.int16),
            rapid=tools.rapid[swept.segment],
        ),
    )


def _check_length(file: str, trajectory: Trajectory, setup: Setup) -> None:
    low = trajectory.point_mm[:, 2] + setup.zero_on_board_mm[2] < 0.0
    inside = (low[1:] | low[:-1]).astype(np.float64)
    metres = float((trajectory.length_mm * inside).sum()) / 1000.0
    if metres > MOST_METRES:
        raise TooLong(
            f"{file}: {metres / 1000.0:.0f} km of path below the top of the board, and at most"
            f" {MOST_METRES / 1000.0:.0f} km are proved at once\n"
            "  remedy: look for a slip in a coordinate, or prove the program in parts"
        )


def _judge(
    facts: Facts, machines: Machines, asked: list[Finding], progress: Progress
) -> tuple[list[Margin], list[Finding], float]:
    """Margins, findings with those already ``asked``, and the log spread of the give."""
    swept, setup, machine = facts.swept, facts.setup, facts.machine
    found = [*asked, *inside(facts), *certain(facts), *flutes(facts)]
    judged: dict[str, Judged] = {}
    log_spread = log_spread_in(setup.board.wood)
    if len(swept.column):
        kept = moments(swept.worst, setup, facts.tools, swept.segment)
        progress("judging", 0.5)
        give = None
        if "deflection" in kept:
            give = Give.at(kept["deflection"], machine, machines)
            log_spread = give.log_spread
        judged = _margins(facts, kept, machines, give)
        found += likely.pull(facts, judged, kept, machines)
        found += likely.power(facts, judged, kept, machines)
        found += likely.deflection(facts, judged, kept, machines)
        found += chip(facts, kept, machines)
        found += likely.no_wood(facts)
        found += swings.jumps(facts, machines)
        found += swings.swings(facts, machines)
        found += strength(facts, kept, machines)
    return [one.margin for one in judged.values()], found, log_spread


def _in_order(found: list[Finding]) -> list[Finding]:
    """Stops first, then by time."""
    rank = {"stop": 0, "caution": 1, "note": 2}
    return sorted(found, key=lambda f: (rank[f.severity], f.time_s or 0.0, f.id))


def _margins(
    facts: Facts, kept: dict[str, Moment], machines: Machines, give: Give | None
) -> dict[str, Judged]:
    machine, setup = facts.machine, facts.setup
    out: dict[str, Judged] = {}

    def add(name: str, words: str, told: tuple, limit: float, unit: str) -> None:  # type: ignore[type-arg]
        estimate, likelihood = told
        line = facts.group_line(kept[name].worst.group)
        out[name] = Judged(
            margin=margin(name, words, estimate, limit, unit, kept[name], line),
            likelihood=likelihood,
        )

    for number, axis in enumerate("xyz"):
        name = f"pull left {axis}"
        words = f"pull left in the {axis.upper()} motor"
        add(name, words, pull_estimate(kept[name], number, machine, machines), 0.0, "")
    if give is not None:
        moment = kept["power"]
        available = float(machine.spindle.power_w(moment.spindle_rev_per_s))
        words = "power at the cutter"
        add("power", words, power_estimate(moment, available, machines), available, "W")
        words = "the wood pushes the cutter"
        limit = setup.tolerance_mm
        told = give.estimate(machines, limit)
        add("deflection", words, told, limit, "mm")
        moment = kept["chip thickest"]
        feed = float(moment.worst.column[cutting.FEED_PER_TOOTH])
        cutter = setup.slots[moment.slot]
        wide = cutting_width_mm(cutter, float(moment.worst.column[cutting.DEPTH]))
        limit = chip_range(wide, setup.board.wood.family).high_mm
        add("chip thickest", "largest feed per tooth", (exact(feed), 0.0), limit, "mm")
        out["chip thinnest"] = Judged(margin=_thinnest(facts), likelihood=0.0)
    return out


def _thinnest(facts: Facts) -> Margin:
    """The feed per tooth of which a tenth of the cutting time is below."""
    group = np.flatnonzero(facts.cuts if facts.cuts.any() else facts.swept.column[:, cutting.TAKEN])
    feed = facts.swept.column[group, cutting.FEED_PER_TOOTH].astype(np.float64)
    order = np.argsort(feed, kind="stable")
    time = np.cumsum(facts.swept.column[group[order], cutting.DURATION], dtype=np.float64)
    k = int(order[np.searchsorted(time, THINNEST_SHARE * time[-1])])
    cutter = facts.setup.slots[int(facts.tools.slot[facts.swept.segment[group[k]]])]
    column = facts.swept.column[group[k]].astype(np.float64)
    wide = cutting_width_mm(cutter, float(column[cutting.DEPTH]))
    return Margin(
        name="chip thinnest",
        words="feed per tooth below which a tenth of the cut is done",
        value=exact(float(feed[k])),
        limit=chip_range(wide, facts.setup.board.wood.family).low_mm,
        unit="mm",
        line=facts.group_line(int(group[k])),
        time_s=float(column[cutting.TIME]),
        spot=spot_of(column),
    )


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


def _totals(program: Program, facts: Facts, time: Estimate) -> Totals:
    sums = totals(program)
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
    return out


def _series(swept: Swept, tools: Tooling, time_s: float) -> Series:
    column = swept.column
    bins = max(1, min(SERIES_BINS, len(column)))
    at = np.clip((column[:, cutting.TIME] / max(time_s, 1e-9) * bins).astype(np.int64), 0, bins - 1)

    def worst(values: NDArray[np.float32], least: bool, idle: float) -> FloatArray:
        out = np.full(bins, idle)
        (np.minimum if least else np.maximum).at(out, at, values.astype(np.float64))
        return out

    slot = np.zeros(bins, np.int16)
    np.maximum.at(slot, at, tools.slot[swept.segment].astype(np.int16))
    # Through a pause the cutter stays in the spindle.
    seen = np.maximum.accumulate(np.where(slot > 0, np.arange(bins), 0))
    slot = slot[seen]
    return Series(
        time_s=(np.arange(bins) + 1.0) * time_s / bins,
        pull_left_x=worst(column[:, cutting.PULL_X], True, 1.0),
        pull_left_y=worst(column[:, cutting.PULL_Y], True, 1.0),
        pull_left_z=worst(column[:, cutting.PULL_Z], True, 1.0),
        power_w=worst(column[:, cutting.POWER], False, 0.0),
        deflection_mm=worst(np.linalg.norm(swept.give_mm, axis=1), False, 0.0),
        chip_mm=worst(column[:, cutting.FEED_PER_TOOTH], False, 0.0),
        slot=slot,
    )
