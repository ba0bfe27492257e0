"""What is asked of a proof and what comes back: light, so that the command starts at once."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

DEMO = "demo"
#: What ``--cell`` takes beside a number: sides of the cells in mm.
CELL_WORDS = {"look": 0.25, "verdict": 0.1, "fine": 0.05}


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """What the person asked for; paths as given, None where nothing was said."""

    program: Path
    job: Path | None = None
    machine: str | None = None  #: a path, or "demo"
    stock: str | None = None
    cutters: tuple[str, ...] = ()
    cell_mm: float | None = None  #: None: as the board, path and cutters allow
    out: Path | None = None  #: folder for verdict.json and the pictures
    series: Path | None = None  #: file for the loads along the path
    keep_board: bool = False  #: keep the board as the program leaves it, for a later job
    threads: int = 2
    at: datetime | None = None  #: when, for the shop log of the workshop that the program lies in


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """The verdict in words and as JSON, and the files that were written."""

    outcome: Literal["clear", "care", "stop"]
    sentence: str
    words: str
    json_text: str
    files: tuple[Path, ...]
