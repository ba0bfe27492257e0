"""What is asked of stall tests and what comes back: light, so that it starts at once."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class StallErrand:
    """What the person asked for."""

    machine: str  #: a path, or "demo"
    tests: Path | None = None  #: runs that were made; None: say which to make
    keep: bool = False  #: write what they say into the machine's description
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class StallsTold:
    """The runs to make, or what they say."""

    words: str
    json_text: str
    form: str = ""  #: a stalls.toml to fill in
    machine_text: str = ""  #: machine.toml with what was found; "" where nothing is to be kept
