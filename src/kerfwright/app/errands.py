"""Errands by name for the worker process: what is heavy to load is loaded there alone."""

from kerfwright.basics.progress import Progress
from kerfwright.jobs.prove_errand import Errand, Proved


def run_proof(errand: Errand, *, progress: Progress) -> Proved:
    """``jobs.prove_program``."""
    from kerfwright.jobs.prove_program import prove_program

    return prove_program(errand, progress=progress)


def run_prepare(*, progress: Progress) -> None:
    """``jobs.prepare``."""
    from kerfwright.jobs.prepare import prepare

    prepare(progress=progress)
