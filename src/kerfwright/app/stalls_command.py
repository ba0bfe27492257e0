"""``kerfwright stalls``: at which speeds the motors swing and lose pull."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.errands import run_stalls
from kerfwright.app.outputs import check_file, check_outputs
from kerfwright.app.progress_line import progress_line
from kerfwright.basics import InputError, Place
from kerfwright.formats import write_text
from kerfwright.jobs.stall_errand import StallErrand, StallsTold
from kerfwright.jobs.worker import run


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("stalls")(stalls)


def stalls(
    machine: Annotated[str, typer.Argument(help="Your machine's description, or: demo")],
    form: Annotated[
        Path | None, typer.Option(help="Write a sheet to fill in here, as stalls.toml.")
    ] = None,
    tests: Annotated[
        Path | None, typer.Option(help="Runs that you made and how they went, stalls.toml.")
    ] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Write what they say into the machine's description.")
    ] = False,
    json: Annotated[
        str | None, typer.Option(help="File for what they say as JSON; - for standard output.")
    ] = None,
) -> None:
    """Find the speeds at which the motors swing and lose pull, from runs that you try.

    Without --tests it says which runs to make. Exit code 0, or 2 for input to mend.
    """
    check_outputs(json=json)
    _check(form, tests, keep, json)
    with progress_line() as progress:
        told = run(
            run_stalls, StallErrand(machine=machine, tests=tests, keep=keep), on_progress=progress
        )
    if json == "-":
        sys.stdout.write(told.json_text + "\n")
    else:
        print(told.words, end="")
    _write(told, machine, form, keep, json)


def _check(form: Path | None, tests: Path | None, keep: bool, json: str | None) -> None:
    if form is not None:
        check_file(form, "--form", "")
        if tests is not None or form.exists():
            raise InputError(
                Place(file="--form"),
                f"{form} is there already" if form.exists() else "is for before the runs are made",
                "name a new file" if form.exists() else "leave it out, or leave --tests out",
            )
    if tests is None and (keep or json is not None):
        raise InputError(
            Place(file="--keep" if keep else "--json"),
            "has nothing to write: no runs are named",
            "add  --tests stalls.toml",
        )


def _write(told: StallsTold, machine: str, form: Path | None, keep: bool, json: str | None) -> None:
    """The files that were asked for; what stood in machine.toml stays beside it."""
    from kerfwright.workshop import replace_keeping_old

    out = sys.stderr if json == "-" else sys.stdout
    if form is not None:
        write_text(form, told.form)
        print(f"\nWritten: {form}", file=out)
    if json not in (None, "-"):
        write_text(Path(str(json)), told.json_text + "\n")
        print(f"\nWritten: {json}", file=out)
    if keep and not told.machine_text:
        print("\nNothing to keep yet.", file=out)
    elif keep:
        old = replace_keeping_old(Path(machine), told.machine_text)
        beside = f" (the old one is {old.name})" if old is not None else ""
        print(f"\nWritten: {machine}{beside}", file=out)
