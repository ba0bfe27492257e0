"""Errands by name for the worker process: what is heavy to load is loaded there alone."""

from pathlib import Path
from typing import Any

from kerfwright.basics.progress import Progress
from kerfwright.jobs.learn_errand import LearnErrand
from kerfwright.jobs.machine_errand import Described, MachineErrand
from kerfwright.jobs.prove_errand import Errand, Told
from kerfwright.jobs.show_errand import ShowErrand, Shown
from kerfwright.jobs.stall_errand import StallErrand, StallsTold
from kerfwright.jobs.time_errand import Predicted, TimeErrand
from kerfwright.jobs.try_errand import TriedProof, TryErrand


def run_proof(errand: Errand, *, progress: Progress) -> Told:
    """``jobs.prove_program``, put into words; what cannot be read is told before that is loaded."""
    from kerfwright.jobs.read_for_proof import read_for_proof

    begun = read_for_proof(errand, progress=progress)
    from kerfwright.jobs.prove_program import prove_program
    from kerfwright.report import describe
    from kerfwright.report.verdict_file import verdict_text

    proved = prove_program(errand, begun, progress=progress)
    return Told(
        outcome=proved.verdict.outcome,
        sentence=proved.verdict.sentence,
        words=describe(proved.verdict),
        json_text=verdict_text(proved.verdict),
        files=proved.files,
    )


def run_proofs(errands: tuple[Errand, ...], *, progress: Progress) -> tuple[Told, ...]:
    """Several proofs one after another, in one process."""
    told = []
    for number, errand in enumerate(errands):

        def one(stage: str, done: float, number: int = number) -> None:
            progress(f"{errands[number].program.parent.name}: {stage}", done)

        told.append(run_proof(errand, progress=one))
    return tuple(told)


def run_prepare(*, progress: Progress) -> None:
    """``jobs.prepare``."""
    from kerfwright.jobs.prepare import prepare

    prepare(progress=progress)


def run_time(errand: TimeErrand, *, progress: Progress) -> Predicted:
    """``jobs.predict_time``."""
    from kerfwright.jobs.predict_time import predict_time

    return predict_time(errand, progress=progress)


def run_stalls(errand: StallErrand, *, progress: Progress) -> StallsTold:
    """``jobs.fit_stalls``."""
    from kerfwright.jobs.fit_stalls import fit_stalls

    return fit_stalls(errand, progress=progress)


def run_describe(errand: MachineErrand, *, progress: Progress) -> Described:
    """``jobs.describe_machine``."""
    from kerfwright.jobs.describe_machine import describe_machine

    return describe_machine(errand, progress=progress)


def run_show(errand: ShowErrand, *, progress: Progress) -> Shown:
    """``jobs.show_proof``."""
    from kerfwright.jobs.show_proof import show_proof

    return show_proof(errand, progress=progress)


def run_read(program: Path, machine: Path, *, progress: Progress) -> dict[str, Any]:
    """``jobs.read_for_page``."""
    from kerfwright.jobs.read_for_page import ReadErrand, read_for_page

    return read_for_page(ReadErrand(program=program, machine=machine), progress=progress)


def run_try(errand: TryErrand, *, progress: Progress) -> TriedProof:
    """``jobs.try_remedy``."""
    from kerfwright.jobs.try_remedy import try_remedy

    return try_remedy(errand, progress=progress)


def run_learn(errand: LearnErrand, *, progress: Progress) -> dict[str, Any]:
    """``jobs.learn``."""
    from kerfwright.jobs.learn import learn

    return learn(errand, progress=progress)
