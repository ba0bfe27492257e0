"""Findings: input that was understood and judged."""

from dataclasses import dataclass
from typing import Literal

from kerfwright.basics.known import Estimate

Severity = Literal["stop", "caution", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where something is on the board, from its left front top corner. [mm]"""

    x_mm: float
    y_mm: float
    z_mm: float
    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One value made another: for ``--set``, undo, remedies and advice.

    ``path`` is the dotted path of the value in its file, or for a brought program words such as
    ``"feed on lines 12 to 480"``.
    """

    path: str
    old: str
    new: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """What would remove a finding. ``tried`` holds what the model found after trying it.

    ``more_s`` is how much longer the job then takes, below 0 shorter; None where that is not known.
    ``not_tried`` says why the model did not try it; empty where it did.
    """

    words: str
    changes: tuple[Change, ...] = ()
    tried: "Finding | None" = None
    more_s: float | None = None
    not_tried: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something about the job that the person should know before cutting.

    A stop is for what is certain. What rests only on a law that was never calibrated on this
    machine is at most a caution, with its likelihood.
    """

    id: str  #: the same in every run on the same text
    code: str
    severity: Severity
    words: str
    value: Estimate
    limit: float
    unit: str
    likelihood: float | None = None  #: probability that the limit is passed; None if certain
    line: int = 0  #: program line, from 1; 0 if none
    step: int = -1
    time_s: float | None = None
    spot: Spot | None = None
    remedies: tuple[Remedy, ...] = ()
    accepted: str = ""  #: the person's reason to live with it; empty where it is not accepted
