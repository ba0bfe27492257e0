"""Where results are to go, looked at before the work begins."""

import os
from pathlib import Path

from kerfwright.basics import InputError, Place


def check_outputs(out: Path | None = None, json: str | None = None) -> None:
    """Refuse a place that cannot be written to: ``--out`` a folder, ``--json`` a file or ``-``."""
    if out is not None:
        _check_folder(out, "--out")
    if json is not None and json != "-":
        file = Path(json)
        if file.is_dir():
            raise InputError(
                Place(file="--json"), f"{json} is a folder", "name a file in it, or write  -"
            )
        if file.exists() and not file.is_file():
            raise InputError(
                Place(file="--json"), f"{json} is no ordinary file", "name a file, or write  -"
            )
        _check_folder(file.parent, "--json")


def _check_folder(folder: Path, option: str) -> None:
    there = folder.absolute()
    while not there.exists():
        there = there.parent
    if not there.is_dir():
        raise InputError(
            Place(file=option), f"{there} is a file, not a folder", "give the name of a folder"
        )
    if not os.access(there, os.W_OK):
        raise InputError(
            Place(file=option), f"nothing can be written in {there}", "give a folder of your own"
        )
