"""``kerfwright machine``."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.errands import run_describe
from kerfwright.app.outputs import check_outputs
from kerfwright.app.progress_line import progress_line
from kerfwright.formats import write_text
from kerfwright.jobs.machine_errand import MachineErrand
from kerfwright.jobs.worker import run


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("machine")(machine)


def machine(
    file: Annotated[str, typer.Argument(help="Your machine's description, or: demo")],
    json: Annotated[
        str | None, typer.Option(help="File for the card as JSON; - for standard output.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the card, its JSON and its picture.")
    ] = None,
) -> None:
    """Say what a machine can do, how stiff it is, and what was taken for granted.

    Exit code 0, or 2 for input to mend.
    """
    folders = [out] if out is not None else []
    check_outputs(out, json)
    with progress_line() as progress:
        described = run(
            run_describe,
            MachineErrand(machine=file, out=out),
            on_progress=progress,
            folders=folders,
        )
    if json == "-":
        sys.stdout.write(described.json_text + "\n")
        return
    print(described.words)
    files = list(described.files)
    if json is not None:
        write_text(Path(json), described.json_text + "\n")
        files.append(Path(json))
    if files:
        print("Written: " + ", ".join(str(written) for written in files))
