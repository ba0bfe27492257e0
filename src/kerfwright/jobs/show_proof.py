"""Prove one program for the page, and write what the page draws of it."""

import json
import shutil
from pathlib import Path
from typing import Any

from kerfwright.basics.progress import Progress, silent
from kerfwright.formats.atomic import folder_beside
from kerfwright.jobs.prove_program import proof_of
from kerfwright.jobs.read_for_proof import read_for_proof
from kerfwright.jobs.show_errand import DEMAND, GUESS, KIND, VERDICT, ShowErrand, Shown
from kerfwright.report.demand import demand
from kerfwright.report.page_arrays import write_arrays
from kerfwright.report.page_words import guess, page_verdict
from kerfwright.report.verdict_file import write_verdict
from kerfwright.workshop import record_proof


def show_proof(errand: ShowErrand, *, progress: Progress = silent) -> Shown:
    """Prove a program and write what the page draws of it.

    Raises ``KerfwrightError`` for input to mend, ``Stopped`` when asked to stop.
    """
    begun = read_for_proof(errand.proof, progress=progress)
    proof, workshop = proof_of(errand.proof, begun, progress, keep_workings=True)
    verdict = proof.verdict
    progress("writing it down", 0.0)
    with folder_beside(errand.folder) as beside:
        write_arrays(beside, proof)
        progress("writing it down", 0.5)
        shown = page_verdict(proof, errand.made_at)
        whole = {"kerfwright": KIND, "inputs": errand.inputs, "shown": shown}
        _write(beside / VERDICT, whole)
        _write(beside / GUESS, guess(proof))
        _write(beside / DEMAND, demand(proof))
        progress("writing it down", 1.0)
        if errand.folder.exists():
            shutil.rmtree(errand.folder)
        shutil.move(beside, errand.folder)
        beside.mkdir()  # the one that is tidied up at the end
    if errand.verdict_file is not None:
        write_verdict(errand.verdict_file, verdict)
    if workshop is not None and errand.proof.at is not None:
        job = errand.proof.program.absolute().parent.name
        told = "" if errand.verdict_file is None else str(errand.verdict_file)
        with workshop.log() as log:
            record_proof(log, at=errand.proof.at, job=job, verdict=verdict, verdict_file=told)
    return Shown(outcome=verdict.outcome, sentence=verdict.sentence, time_s=verdict.totals.time_s)


def _write(path: Path, value: dict[str, Any]) -> None:
    path.write_text(json.dumps(value, allow_nan=False, ensure_ascii=False), encoding="utf-8")
