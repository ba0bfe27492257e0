"""``kerfwright time``: how long a program takes."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.errands import run_time
from kerfwright.app.outputs import check_outputs
from kerfwright.app.progress_line import progress_line
from kerfwright.formats import write_text
from kerfwright.jobs.time_errand import TimeErrand
from kerfwright.jobs.worker import run


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("time")(time)


def time(
    program: Annotated[Path, typer.Argument(help="The cutting program, from any software.")],
    machine: Annotated[
        str | None, typer.Option(help="Your machine's description, or: demo")
    ] = None,
    job: Annotated[
        Path | None, typer.Option(help="The job's set-up, job.toml; it can do without.")
    ] = None,
    timed: Annotated[
        Path | None,
        typer.Option(help="Programs of yours and how long they took by the clock, timed.toml."),
    ] = None,
    json: Annotated[
        str | None, typer.Option(help="File for the prediction as JSON; - for standard output.")
    ] = None,
) -> None:
    """Say how long a program takes, between which times, and where the time goes.

    No board is needed. Exit code 0, or 2 for input to mend.
    """
    check_outputs(json=json)
    with progress_line() as progress:
        predicted = run(
            run_time,
            TimeErrand(program=program, machine=machine, job=job, timed=timed),
            on_progress=progress,
        )
    if json == "-":
        sys.stdout.write(predicted.json_text + "\n")
        return
    print(predicted.words, end="")
    if json is not None:
        write_text(Path(json), predicted.json_text + "\n")
        print(f"\nWritten: {json}")
