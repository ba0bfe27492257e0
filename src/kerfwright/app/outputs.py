"""Where results are to go, looked at before the work begins."""

import os
from pathlib import Path

from kerfwright.basics import InputError, Place


def check_outputs(
    out: Path | None = None, json: str | None = None, series: Path | None = None
) -> None:
    """Refuse a place that cannot be written to: ``--out`` a folder, the others a file.

    ``--json`` may be ``-``, ``--series`` ends in .parquet.
    """
    if out is not None:
        _check_folder(out, "--out")
    if json is not None and json != "-":
        check_file(Path(json), "--json", ", or write  -")
    if series is not None:
        if series.suffix.lower() != ".parquet":
            raise InputError(
                Place(file="--series"),
                f"{series} does not end in .parquet, which is what is written",
                f"write  --series {series.stem or 'loads'}.parquet",
            )
        check_file(series, "--series", "")


def check_file(file: Path, option: str, tail: str) -> None:
    """Refuse a place where no file can be written; ``tail`` says what else an option takes."""
    if file.is_dir():
        raise InputError(Place(file=option), f"{file} is a folder", f"name a file in it{tail}")
    if file.exists() and not file.is_file():
        raise InputError(Place(file=option), f"{file} is no ordinary file", f"name a file{tail}")
    _check_folder(file.parent, option)


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
