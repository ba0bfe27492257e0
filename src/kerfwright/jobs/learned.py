"""What was learned from cut jobs, made ready for the next proof."""

from dataclasses import asdict, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from kerfwright.basics import KerfwrightError
from kerfwright.basics.progress import Progress, silent
from kerfwright.commission import LEAST_PROGRAMS, Observed, fit_times
from kerfwright.commission.fit import Fitted, Settings, belief_from
from kerfwright.commission.learned import NAME, Learned, TimedRun, read_learned
from kerfwright.commission.sizes import law_known
from kerfwright.jobs.belongings import clamps_of, rack_of, read
from kerfwright.loads import FORCE_LAW, log_spread_in
from kerfwright.machine import MachineModel
from kerfwright.program import Program
from kerfwright.setup import Setup, load_job
from kerfwright.trajectory import program_time
from kerfwright.trajectory.time import Belief
from kerfwright.workshop import StageCache, stage_key

Beliefs = tuple[Belief, ...]


def with_law(setup: Setup, learned: Learned) -> Setup:
    """The set-up with the force law of its wood as parts cut before have shown it."""
    wood = setup.board.wood
    notes = learned.woods.get(wood.name, ())
    if not notes:
        return setup
    known = law_known(notes, log_spread_in(wood))
    told = (
        f"forces in {wood.name} are {known.value:.2f} times those of the published law, by"
        f" {known.ref}"
    )
    wood = replace(wood, known={**wood.known, FORCE_LAW: known})
    return replace(setup, board=replace(setup.board, wood=wood), assumed=(*setup.assumed, told))


def learned_in(folder: Path | None) -> Learned:
    """What was learned in a workshop. Raises ``InputError`` where its file cannot be read."""
    return Learned() if folder is None else read_learned(folder / NAME)


def beliefs_from(
    learned: Learned,
    machine: MachineModel,
    folder: Path,
    cache: StageCache | None,
    progress: Progress = silent,
) -> Beliefs | None:
    """What timed runs leave open of the motion, fitted once for a description of the machine.

    None where they say nothing: their programs were changed since, or too few were run.
    """
    runs = [run for run in learned.runs if _same(folder, run)]
    if not runs:
        return None
    key = stage_key(
        "timed runs", {"machine": machine.sha256, "runs": [asdict(run) for run in runs]}
    )
    kept = cache.get(key) if cache is not None else None
    if kept is not None:
        return _beliefs(machine, kept[1]["beliefs"]) or None
    fitted = _fit(runs, machine, folder, progress)
    if cache is not None:
        cache.put(key, {}, {"beliefs": [] if fitted is None else _plain(fitted)})
    return None if fitted is None else fitted.beliefs


def _same(folder: Path, run: TimedRun) -> bool:
    path = folder / run.file
    try:
        if not path.resolve().is_relative_to(folder.resolve()):
            return False
        return sha256(path.read_bytes()).hexdigest() == run.sha256
    except OSError:
        return False


def read_as_set_up(path: Path, machine: MachineModel, progress: Progress) -> Program:
    """A program of a job, read from where its job file has the machine stand before it.

    The way to the first cut is in its time. Raises ``KerfwrightError``.
    """
    job = path.parent / "job.toml"
    setup = load_job(job, rack_of(path, None), machine, clamps_of(path, None))
    return read(path, machine, setup, progress)


def _fit(
    runs: list[TimedRun], machine: MachineModel, folder: Path, progress: Progress
) -> Fitted | None:
    observed = []
    for run in runs:
        try:
            program = read_as_set_up(folder / run.file, machine, silent)
        except KerfwrightError:  # the machine reads it no more: it says nothing now
            continue
        observed.append(
            Observed(
                name=run.file,
                program=program,
                in_spindle=run.slot,
                took_s=run.took_s,
                u_s=run.u_s,
            )
        )
    if not observed:
        return None
    fitted = fit_times(observed, machine, progress, least=1)
    if len(observed) < LEAST_PROGRAMS and not _narrower(fitted, observed[-1], machine):
        return None
    return fitted


def _narrower(fitted: Fitted, one: Observed, machine: MachineModel) -> bool:
    """Whether a fit to a few runs says more of such a time than the description alone.

    The fit doubts what is merely written down, which a few runs do not always make up for.
    """
    spans = []
    for beliefs in (None, fitted.beliefs):
        time = program_time(one.program, machine, in_spindle=one.in_spindle, beliefs=beliefs).time
        spans.append(time.high - time.low)
    return spans[1] < spans[0]


def _plain(fitted: Fitted) -> list[dict[str, Any]]:
    return [
        {
            "rule": one.rule,
            "weight": one.weight,
            "best": dict(one.settings.best),
            "ends": {
                name: [dict(low), dict(high)] for name, (low, high) in one.settings.ends.items()
            },
            "planner_u": one.belief.planner_u,
        }
        for one in fitted.rules
    ]


def _beliefs(machine: MachineModel, plain: list[dict[str, Any]]) -> Beliefs:
    return tuple(
        belief_from(
            machine,
            one["rule"],
            one["weight"],
            Settings(
                best=one["best"],
                ends={name: (low, high) for name, (low, high) in one["ends"].items()},
            ),
            one["planner_u"],
        )
        for one in plain
    )
