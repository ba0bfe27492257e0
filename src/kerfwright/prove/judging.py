"""What is asked of a program that has been cut, and of the part that comes of it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Finding
from kerfwright.basics.progress import Progress
from kerfwright.cutter import chip_range
from kerfwright.kernels import cutting
from kerfwright.loads import log_spread_in
from kerfwright.program import Program
from kerfwright.prove import likely, swings
from kerfwright.prove.as_cut import Ends, Map, Sides, as_cut, sides_of
from kerfwright.prove.certain import certain
from kerfwright.prove.chip import chip, cutting_width_mm
from kerfwright.prove.clamps import clamps
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
from kerfwright.prove.questions import questions
from kerfwright.prove.room import room
from kerfwright.prove.run_path import AsRun
from kerfwright.prove.strength import strength
from kerfwright.prove.undercuts import undercuts
from kerfwright.prove.units import units
from kerfwright.prove.verdict import AsCut, Cusp, Dimension, Margin
from kerfwright.prove.wanted import judge_wanted
from kerfwright.setup.wanted import DEPTH
from kerfwright.trajectory.tolerance import largest_tolerance_mm

THINNEST_SHARE = 0.1
_LOOK_AT = 4_000
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What came of the questions that need no finished part."""

    margins: tuple[Margin, ...]
    found: tuple[Finding, ...]
    left_open: tuple[str, ...]  #: what could not be looked at, in words
    log_spread: float  #: standard deviation of the logarithm of the give, by law and by machine


def judge(facts: Facts, program: Program, machines: Machines, progress: Progress) -> Answers:
    """Ask everything that can be asked of the program as it cuts."""
    swept, setup, machine = facts.swept, facts.setup, facts.machine
    crowded, left_open = room(facts)
    found = [*units(program, setup, machine), *clamps(facts), *crowded]
    found += questions(facts, program, machines)
    found += [*inside(facts), *certain(facts), *flutes(facts)]
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
    return Answers(
        margins=tuple(one.margin for one in judged.values()),
        found=tuple(found),
        left_open=(*left_open, *undercuts(facts)),
        log_spread=log_spread,
    )


def judge_sides(
    facts: Facts, run: AsRun, answers: Answers, program: Program, machines: Machines
) -> Sides | None:
    """The part but for its top, None where nothing was cut."""
    if not takes_wood(facts):
        return None
    return sides_of(
        facts.trajectory, facts.swept, run, facts.tools, facts.line, facts.setup, facts.machine,
        answers.log_spread, largest_tolerance_mm(program, facts.machine), machines.model,
    )  # fmt: skip


def judge_part(
    facts: Facts,
    run: AsRun,
    top: Map,
    ridges: tuple[Cusp, ...],
    sides: Sides | None,
    answers: Answers,
    program: Program,
) -> tuple[AsCut | None, list[Finding]]:
    """The part as it will be, None where nothing was cut; and what is found wrong with it."""
    swept, setup, machine = facts.swept, facts.setup, facts.machine
    ascut = None
    if sides is not None:
        ascut = as_cut(top, ridges, sides, swept.field.cell_mm, setup.tolerance_mm)
    deep: Mapping[str, Dimension] = {}
    if any(one.measure == DEPTH for one in setup.wanted):
        rounding_mm = largest_tolerance_mm(program, machine)
        ends = Ends(swept, run, setup, machine, answers.log_spread, rounding_mm)
        deep = depths(swept.field, run.field, ends, setup)
    ascut, of_wanted = judge_wanted(facts, ascut, deep)
    return ascut, [*off_size(facts, ascut), *part_sizes(facts, ascut), *of_wanted]


def takes_wood(facts: Facts) -> bool:
    """Whether the program takes any wood at all."""
    return bool((facts.swept.column[:, cutting.TAKEN] > 0.0).any())


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


def _at_share(feed: FloatArray, time_s: FloatArray) -> int:
    """Where the feed is found below which ``THINNEST_SHARE`` of the time is spent."""
    asked = THINNEST_SHARE * float(time_s.sum())
    among = np.arange(len(feed))
    # A look at some tells up to which feed it is worth putting all in order.
    few = feed[:: max(len(feed) // _LOOK_AT, 1)]
    thin = np.flatnonzero(feed <= np.quantile(few, 2.0 * THINNEST_SHARE))
    if float(time_s[thin].sum()) > asked:
        among = thin
    order = among[np.argsort(feed[among], kind="stable")]
    at = int(np.searchsorted(np.cumsum(time_s[order]), asked))
    return int(order[min(at, len(order) - 1)])


def _thinnest(facts: Facts) -> Margin:
    """The feed per tooth of which a tenth of the cutting time is below."""
    group = np.flatnonzero(facts.cuts if facts.cuts.any() else facts.swept.column[:, cutting.TAKEN])
    feed = facts.swept.column[group, cutting.FEED_PER_TOOTH].astype(np.float64)
    k = _at_share(feed, facts.swept.column[group, cutting.DURATION].astype(np.float64))
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
