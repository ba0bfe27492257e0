"""What is asked when a remedy is tried and what comes back: light, so that the page starts."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedChange:
    """Lines of the program whose feed becomes another share of what it is."""

    first: int
    last: int
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedChange:
    """A spindle speed of the program that becomes another one. [rev/min]"""

    line: int  #: where it is stated; 0: wherever it is
    old: float
    new: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TryErrand:
    """A job, and what is changed in a copy of it."""

    workshop: Path
    job: str
    scratch: Path  #: folder for the copy, which is removed at the end
    job_text: str | None  #: the changed job file; None: as it is
    machine_text: str | None  #: the changed description of the machine; None: as it is
    feeds: tuple[FeedChange, ...]
    speeds: tuple[SpeedChange, ...]
    code: str  #: of the finding that the remedy is for
    threads: int = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedProof:
    """What the model found of the copy."""

    sentence: str
    after: str  #: the worst finding of the same code in words; empty where there is none
    time_s: float
