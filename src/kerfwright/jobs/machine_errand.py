"""What is asked of a machine's card and what comes back: light, so that it starts at once."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineErrand:
    """What the person asked for."""

    machine: str  #: a path, or "demo"
    out: Path | None = None  #: folder for machine.txt, machine.json and machine.png
    grid: tuple[int, int, int] | None = None  #: places along X, Y and Z for the give in full
    seed: int = 1
    draws: int = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """The card in words and as JSON, and the files that were written."""

    words: str
    json_text: str
    files: tuple[Path, ...]
