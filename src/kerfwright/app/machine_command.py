"""``kerfwright machine``."""

import re
import sys
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.errands import run_describe
from kerfwright.app.outputs import check_outputs
from kerfwright.app.progress_line import progress_line
from kerfwright.basics import InputError, Place
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
    grid: Annotated[
        str | None,
        typer.Option(
            help="Places along X, Y and Z, as 9x7x3: how the nose gives there under forces and "
            "moments, in the JSON, and as give.csv in the folder."
        ),
    ] = None,
) -> None:
    """Say what a machine can do, how stiff it is, and what was taken for granted.

    Exit code 0, or 2 for input to mend.
    """
    folders = [out] if out is not None else []
    check_outputs(out, json)
    places = None if grid is None else _places(grid, out is None and json is None)
    with progress_line() as progress:
        described = run(
            run_describe,
            MachineErrand(machine=file, out=out, grid=places),
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


_MOST_PLACES = 5000


def _places(grid: str, nowhere: bool) -> tuple[int, int, int]:
    """How many places along X, Y and Z."""
    at = Place(file="--grid")
    found = re.fullmatch(r"\s*(\d{1,4})\s*[x×]\s*(\d{1,4})\s*[x×]\s*(\d{1,4})\s*", grid, re.I)
    if found is None:
        raise InputError(at, f"{grid!r} says no places", "write three counts, as  --grid 9x7x3")
    x, y, z = (int(count) for count in found.groups())
    if not 0 < x * y * z <= _MOST_PLACES:
        raise InputError(
            at, f"{x * y * z} places are asked for", f"ask for 1 to {_MOST_PLACES} places"
        )
    if nowhere:
        raise InputError(at, "has nowhere to go", "add  --out FOLDER  or  --json FILE")
    return x, y, z
