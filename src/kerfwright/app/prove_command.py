"""``kerfwright prove`` and ``kerfwright prepare``."""

import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.early import spare
from kerfwright.app.errands import run_prepare, run_proof
from kerfwright.app.exits import NOTHING_STOPS_IT, STOPPED_BY_A_FINDING
from kerfwright.app.outputs import check_outputs
from kerfwright.app.progress_line import progress_line
from kerfwright.basics import InputError, Place
from kerfwright.formats.atomic import write_text
from kerfwright.jobs.prove_errand import CELL_WORDS, Errand, Told
from kerfwright.jobs.worker import run


def add_to(app: typer.Typer) -> None:
    """Register the two commands."""
    app.command("prove")(prove)
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
    cell: Annotated[
        str | None,
        typer.Option(
            help="Side of the cells of wood, 0.05 to 2 mm, or: look (0.25), verdict (0.1), fine"
            " (0.05); when left out as fine as board, path and cutters allow."
        ),
    ] = None,
    keep_board: Annotated[
        bool,
        typer.Option(
            "--keep-board",
            help="Keep the board as this job leaves it, beside the program; and in bed.toml how"
            " deep it cuts into the spoil board.",
        ),
    ] = False,
    out: Annotated[
        Path | None, typer.Option(help="Folder for verdict.json and the pictures; made if need be.")
    ] = None,
    json: Annotated[
        str | None, typer.Option(help="File for the verdict; - for standard output.")
    ] = None,
    series: Annotated[
        Path | None,
        typer.Option(
            help="File for the loads along the path, like loads.parquet: a row for each millimetre"
            " or so in reach of the wood, one for each straight piece clear of it."
        ),
    ] = None,
) -> None:
    """Say whether this program will come out right on this machine, in this wood.

    Exit code 0: nothing stops it. 1: a finding stops it. 2: input to mend.
    """
    check_outputs(out, json, series)
    told = in_worker(
        Errand(
            program=program,
            job=job,
            machine=machine,
            stock=stock,
            cutters=tuple(cutter or ()),
            cell_mm=_cell_mm(cell),
            out=out,
            keep_board=keep_board,
            series=series,
            threads=threads(),
            at=datetime.now(UTC),
        )
    )
    if json == "-":
        sys.stdout.write(told.json_text + "\n")
    else:
        print(told.words)
        files = list(told.files)
        if json is not None:
            write_text(Path(json), told.json_text + "\n")
            files.append(Path(json))
        if files:
            print("Written: " + ", ".join(str(file) for file in files))
    stopped = told.outcome == "stop"
    raise typer.Exit(STOPPED_BY_A_FINDING if stopped else NOTHING_STOPS_IT)


def _cell_mm(said: str | None) -> float | None:
    if said is None or said.strip().lower() in CELL_WORDS:
        return None if said is None else CELL_WORDS[said.strip().lower()]
    try:
        return float(said.strip().lower().removesuffix("mm"))
    except ValueError:
        words = ", ".join(CELL_WORDS)
        raise InputError(
            Place(file="--cell"),
            f'"{said[:60]}" is no side of a cell',
            f"write one of {words}, or 0.2",
        ) from None


def prepare() -> None:
    """Make the fast parts ready for this computer, so that the first proof need not wait.

    The first job with a cutter that undercuts still makes its own part ready, and says so.
    """
    with progress_line() as progress:
        run(run_prepare, on_progress=progress, spare=spare())
    print("Ready.")


def threads() -> int:
    """How many threads to use: all cores, or what KERFWRIGHT_THREADS says."""
    said = os.environ.get("KERFWRIGHT_THREADS", "")
    return int(said) if said.isdigit() and int(said) > 0 else (os.cpu_count() or 1)


def in_worker(errand: Errand) -> Told:
    """Run a proof in a process of its own, and show how far it is."""
    folders = [errand.out, errand.out.parent] if errand.out is not None else []
    folders += [errand.series.parent] if errand.series is not None else []
    with progress_line() as progress:
        return run(run_proof, errand, on_progress=progress, folders=folders, spare=spare())
