"""Learn from a job that was cut: its time and its sizes narrow what is not known."""

from hashlib import sha256
from typing import Any

from kerfwright.basics import Estimate
from kerfwright.basics.progress import Progress, silent
from kerfwright.commission.learned import Learned, TimedRun, learned_text
from kerfwright.commission.sizes import MeasuredSize, Narrowed, law_note, narrow
from kerfwright.jobs.belongings import bed_of, machine_of, on_bed
from kerfwright.jobs.learn_errand import LearnErrand
from kerfwright.jobs.learned import beliefs_from, learned_in, read_as_set_up
from kerfwright.report.figures import estimate_words, time_span
from kerfwright.trajectory import program_time
from kerfwright.workshop import open_workshop

_WORDS = {"set_up": "the set-up", "machine": "the machine", "cut": "the cut"}


def learn(errand: LearnErrand, *, progress: Progress = silent) -> dict[str, Any]:
    """The new text of learned.json, and the ranges that became narrower.

    Raises ``KerfwrightError`` for what cannot be read, ``Stopped`` when asked to stop.
    """
    progress("reading", 0.0)
    learned = learned_in(errand.workshop)
    shrunk: list[dict[str, str]] = []
    if errand.took_s is not None:
        learned, told = _from_time(errand, errand.took_s, learned, progress)
        shrunk += told
    if errand.sizes:
        learned, told = _from_sizes(errand, learned)
        shrunk += told
    learned = learned.with_shrunk(errand.cut, tuple(shrunk))
    return {"text": learned_text(learned), "shrunk": shrunk}


def _from_time(
    errand: LearnErrand, took_s: float, learned: Learned, progress: Progress
) -> tuple[Learned, list[dict[str, str]]]:
    machine, _ = machine_of(None, errand.program, None)
    machine = on_bed(machine, bed_of(errand.program, None))
    slot = errand.guess["slot"]
    run = TimedRun(
        file=errand.program.relative_to(errand.workshop).as_posix(),
        sha256=sha256(errand.program.read_bytes()).hexdigest(),
        slot=slot,
        took_s=took_s,
        u_s=errand.took_u_s,
    )
    learned = learned.with_run(run)
    cache = open_workshop(errand.workshop).cache()
    beliefs = beliefs_from(learned, machine, errand.workshop, cache, progress)
    program = read_as_set_up(errand.program, machine, progress)
    after = program_time(program, machine, in_spindle=slot, beliefs=beliefs, progress=progress)
    before = errand.guess["time_spread_s"]
    told = {"name": "time of this program", "before": time_span(before[0], before[1])}
    if beliefs is None:
        told["after"] = "as before: it was known as well as a run or two can tell; three tell more"
    else:
        told["after"] = time_span(after.time.low, after.time.high)
    return learned, [told]


def _from_sizes(errand: LearnErrand, learned: Learned) -> tuple[Learned, list[dict[str, str]]]:
    said = {one["name"]: one for one in errand.guess["sizes"]}
    sizes = [
        MeasuredSize(
            name=name,
            programmed_mm=said[name]["programmed_mm"],
            found_mm=found_mm,
            u_mm=u_mm,
            shares={which: (mm, unsure) for which, (mm, unsure) in said[name]["shares"].items()},
        )
        for name, found_mm, u_mm in errand.sizes
    ]
    narrowed = narrow(sizes)
    shrunk = []
    for size in sizes:
        if size.name in narrowed.unexplained:
            shrunk.append(
                {
                    "name": size.name,
                    "before": _words(narrowed.size(size, after=False)),
                    "after": "as before: too far from all that was likely to learn from. Measure"
                    " it again, and look whether the job was cut as it was proved",
                }
            )
            continue
        told = [_told(size.name, narrowed, size, None)]
        told += [_told(_WORDS[which], narrowed, size, which) for which in _that_count(size)]
        shrunk += [one for one in told if one["before"] != one["after"]]
    law = errand.guess["law"]
    note = law_note(narrowed, law["log_factor"], law["log_u"])
    if note is not None:
        learned = learned.with_note(law["wood"], note)
    return learned, shrunk


def _that_count(size: MeasuredSize) -> list[str]:
    """The shares that make up most of what was open."""
    most = max(unsure for _, unsure in size.shares.values())
    return [which for which, (_, unsure) in size.shares.items() if unsure >= max(0.5 * most, 0.005)]


def _told(name: str, narrowed: Narrowed, size: MeasuredSize, which: str | None) -> dict[str, str]:
    before, after = (
        narrowed.size(size, after=late)
        if which is None
        else narrowed.share(size, which, after=late)
        for late in (False, True)
    )
    label = name if which is None else f"{size.name}: what {name} does to it"
    return {"name": label, "before": _words(before), "after": _words(after)}


def _words(estimate: Estimate) -> str:
    return estimate_words(estimate, "mm")
