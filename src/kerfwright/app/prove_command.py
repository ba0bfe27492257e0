"""``kerfwright prove``, ``kerfwright demo`` and ``kerfwright prepare``."""

import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.errands import run_prepare, run_proof
from kerfwright.app.exits import INPUT_TO_MEND, NOTHING_STOPS_IT, STOPPED_BY_A_FINDING
from kerfwright.app.outputs import check_outputs
from kerfwright.app.progress_line import progress_line
from kerfwright.jobs.prove_errand import DEMO, Errand, Proved
from kerfwright.jobs.worker import run
from kerfwright.report import describe, write_verdict
from kerfwright.report.verdict_file import verdict_text
from kerfwright.workshop import demo_folder, open_demo


def add_to(app: typer.Typer) -> None:
    """Register the three commands."""
    app.command("prove")(prove)
    app.command("demo")(demo)
    app.command("prepare")(prepare)


def prove(
    program: Annotated[Path, typer.Argument(help="The cutting program, from any software.")],
    job: Annotated[Path | None, typer.Option(help="The job's set-up, job.toml.")] = None,
    machine: Annotated[
        str | None, typer.Option(help="Your machine's description, or: demo")
    ] = None,
    stock: Annotated[
        str | None, typer.Option(help='The board, like "310 x 310 x 30 mm hard maple".')
    ] = None,
    cutter: Annotated[
        list[str] | None,
        typer.Option(help='A cutter, like "1: ball 3 mm, 2 flutes"; once for each slot.'),
    ] = None,
    cell: Annotated[float, typer.Option(help="Side of the cells of wood, 0.05 to 2 mm.")] = 0.25,
    out: Annotated[
        Path | None, typer.Option(help="Folder for verdict.json and the pictures; made if need be.")
    ] = None,
    json: Annotated[
        str | None, typer.Option(help="File for the verdict; - for standard output.")
    ] = None,
) -> None:
    """Say whether this program will come out right on this machine, in this wood.

    Exit code 0: nothing stops it. 1: a finding stops it. 2: input to mend.
    """
    check_outputs(out, json)
    proved = _in_worker(
        Errand(
            program=program,
            job=job,
            machine=machine,
            stock=stock,
            cutters=tuple(cutter or ()),
            cell_mm=cell,
            out=out,
            threads=threads(),
            at=datetime.now(UTC),
        )
    )
    if json == "-":
        sys.stdout.write(verdict_text(proved.verdict))
    else:
        print(describe(proved.verdict))
        files = list(proved.files)
        if json is not None:
            write_verdict(Path(json), proved.verdict)
            files.append(Path(json))
        if files:
            print("Written: " + ", ".join(str(file) for file in files))
    stopped = proved.verdict.outcome == "stop"
    raise typer.Exit(STOPPED_BY_A_FINDING if stopped else NOTHING_STOPS_IT)


def demo(
    out: Annotated[Path, typer.Option(help="Folder for the results.")] = Path("out/demo"),
) -> None:
    """Prove the jobs of the Alder Lane Workshop, which is invented, on its router."""
    check_outputs(out)
    workshop = open_demo()
    failed = False
    for job in workshop.jobs():
        print(f"{job.name}: proving it on the workshop's router ...", flush=True)
        proved = _in_worker(
            Errand(
                program=job.program_file(),
                job=job.job_file,
                machine=DEMO,
                out=out / job.name,
                threads=threads(),
            )
        )
        print(f"{job.name}: {proved.verdict.sentence}")
        for file in proved.files:
            print(f"  {file}")
        failed |= proved.verdict.outcome == "stop"
    if failed:
        print(f"A job of the demo is stopped, which should not be; it lies in {demo_folder()}")
    raise typer.Exit(INPUT_TO_MEND if failed else NOTHING_STOPS_IT)


def prepare() -> None:
    """Make the fast parts ready for this computer, so that the first proof need not wait."""
    with progress_line() as progress:
        run(run_prepare, on_progress=progress)
    print("Ready.")


def threads() -> int:
    """How many threads to use: all cores, or what KERFWRIGHT_THREADS says."""
    said = os.environ.get("KERFWRIGHT_THREADS", "")
    return int(said) if said.isdigit() and int(said) > 0 else (os.cpu_count() or 1)


def _in_worker(errand: Errand) -> Proved:
    folders = [errand.out, errand.out.parent] if errand.out is not None else []
    with progress_line() as progress:
        return run(run_proof, errand, on_progress=progress, folders=folders)
