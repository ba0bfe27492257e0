"""The board as a job leaves it, kept beside its program for the job that goes on with it."""

import os
from hashlib import sha256
from math import degrees
from pathlib import Path

from kerfwright.basics import InputError, Place
from kerfwright.stock import Board
from kerfwright.stock.field import Field
from kerfwright.stock.left_board import NAME, write_left
from kerfwright.workshop import demo_folder


def check_keeps(program: Path) -> None:
    """Refuse before the work begins where no board can be kept.

    Raises ``InputError`` if nothing may be written beside the program.
    """
    folder = program.absolute().parent
    if demo_folder() in folder.parents or not os.access(folder, os.W_OK):
        raise InputError(
            Place(file="--keep-board"),
            f"nothing can be written in {folder}",
            "copy the program to a folder of your own",
        )


def keep_board(left: Field, board: Board, program: Path, job: Path | None) -> Path:
    """Write the board as it was left, with what it was made from and what is known of its wood."""
    folder = program.absolute().parent
    facts = {
        "job": f"jobs/{folder.name}",
        "program_file": program.name,
        "program_sha256": _sha256(program),
        "wood": board.wood.name,
        "grain": f"{degrees(board.grain_rad):.6g} deg",
        "moisture": f"{board.moisture_percent:.6g} %",
    }
    density = board.wood.known.get("density_kg_per_m3")
    if density is not None and density.kind == "measured":
        facts["density"] = f"{board.wood.density_kg_per_m3:.6g} kg/m3"
    job = job or folder / "job.toml"
    if job.is_file() and job.absolute().parent == folder:
        facts |= {"job_file": job.name, "job_sha256": _sha256(job)}
    path = folder / NAME
    write_left(path, left, (board.length_mm, board.width_mm, board.thickness_mm), facts)
    return path


def _sha256(path: Path) -> str:
    return sha256(path.read_bytes()).hexdigest()
