"""Errands by name for the worker process: what is heavy to load is loaded there alone."""

from kerfwright.basics.progress import Progress
from kerfwright.jobs.prove_errand import Errand, Proved
from kerfwright.jobs.time_errand import Predicted, TimeErrand


def run_proof(errand: Errand, *, progress: Progress) -> Proved:
    """``jobs.prove_program``."""
    from kerfwright.jobs.prove_program import prove_program

    return prove_program(errand, progress=progress)


def run_prepare(*, progress: Progress) -> None:
    """``jobs.prepare``."""
    from kerfwright.jobs.prepare import prepare

    prepare(progress=progress)


def run_time(errand: TimeErrand, *, progress: Progress) -> Predicted:
    """``jobs.predict_time``."""
    from kerfwright.jobs.predict_time import predict_time

    return predict_time(errand, progress=progress)
