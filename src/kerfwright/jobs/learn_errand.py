"""What is asked when a cut job is to be learned from: light, so that the page starts."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnErrand:
    """One cut job: its time by the clock, sizes as measured, and what its proof had said."""

    workshop: Path
    program: Path
    cut: int  #: its number in the shop log
    took_s: float | None
    took_u_s: float
    sizes: tuple[tuple[str, float, float], ...]  #: name, found, standard uncertainty [mm]
    guess: dict[str, Any]  #: of the proof, as ``report.page_words.guess`` has it
