"""What is asked of a prediction of time and what comes back: light, so that it starts at once."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeErrand:
    """What the person asked for; paths as given, None where nothing was said."""

    program: Path
    job: Path | None = None
    machine: str | None = None  #: a path, or "demo"
    timed: Path | None = None  #: programs timed by the clock


@dataclass(frozen=True, slots=True, kw_only=True)
class Predicted:
    """The prediction in words, and as JSON."""

    words: str
    json_text: str
