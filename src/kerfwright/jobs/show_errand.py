"""What is asked of a proof for the page and what comes back: light, so that the page starts."""

from dataclasses import dataclass
from pathlib import Path

from kerfwright.jobs.prove_errand import Errand

#: What a shown proof calls itself: it grows when what the page draws changes its shape.
KIND = "shown 2"
#: Files of a shown proof beside the arrays.
VERDICT, GUESS, MAPS, DEMAND = "verdict.json", "guess.json", "maps.json", "demand.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowErrand:
    """A proof and the folder that what is drawn of it goes to; the one there before is removed."""

    proof: Errand
    folder: Path
    made_at: str  #: the key of its arrays
    inputs: dict[str, str]  #: hashes of what it is made from
    verdict_file: Path | None = None  #: verdict.json for other programs


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """The answer."""

    outcome: str
    sentence: str
    time_s: float
