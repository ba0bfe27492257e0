"""learned.json: what jobs that were cut have said of the machine, kept for every later proof."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import isfinite
from pathlib import Path
from typing import Any

from kerfwright.basics import InputError, Place
from kerfwright.commission.sizes import LawNote

NAME = "learned.json"
KIND = "learned 1"
#: Programs that are fitted together; the oldest are let go.
MOST_PROGRAMS = 12
MOST_NOTES = 200
_LARGEST_BYTES = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedRun:
    """A job that was run and timed by the clock."""

    file: str  #: from the workshop's folder
    sha256: str
    slot: int | None  #: of the cutter in the spindle at the start
    took_s: float
    u_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """Everything that was learned in a workshop."""

    runs: tuple[TimedRun, ...] = ()
    woods: Mapping[str, tuple[LawNote, ...]] = field(default_factory=dict)
    #: by the number of the cut in the log: ranges that became narrower, in words
    shrunk: Mapping[str, tuple[Mapping[str, str], ...]] = field(default_factory=dict)

    def with_run(self, run: TimedRun) -> "Learned":
        """The same with one run more."""
        return replace(self, runs=(*self.runs, run)[-MOST_PROGRAMS:])

    def with_note(self, wood: str, note: LawNote) -> "Learned":
        """The same with what one part said of a wood."""
        notes = (*self.woods.get(wood, ()), note)[-MOST_NOTES:]
        return replace(self, woods={**self.woods, wood: notes})

    def with_shrunk(self, cut: int, shrunk: tuple[Mapping[str, str], ...]) -> "Learned":
        """The same with what one cut narrowed."""
        kept = dict(list({**self.shrunk, str(cut): shrunk}.items())[-MOST_NOTES:])
        return replace(self, shrunk=kept)


def read_learned(path: Path) -> Learned:
    """Read it; nothing was learned where there is no file.

    Raises
    ------
    InputError
        If it is no such file, newer, or damaged.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(_LARGEST_BYTES + 1)
    except FileNotFoundError:
        return Learned()
    try:
        if len(raw) > _LARGEST_BYTES:
            raise ValueError
        whole = json.loads(raw)
        if whole["kerfwright"] != KIND:
            raise ValueError
        return _learned(whole)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise InputError(
            Place(file=str(path)),
            "is damaged, or of a newer Kerfwright",
            "move it elsewhere: what was learned from cut jobs is then left out",
        ) from error


def learned_text(learned: Learned) -> str:
    """The text of the file."""
    whole: dict[str, Any] = {
        "kerfwright": KIND,
        "runs": [
            {"file": r.file, "sha256": r.sha256, "slot": r.slot, "took_s": r.took_s, "u_s": r.u_s}
            for r in learned.runs
        ],
        "woods": {
            wood: [{"precision": n.precision, "log_factor": n.log_factor} for n in notes]
            for wood, notes in learned.woods.items()
        },
        "shrunk": {cut: [dict(one) for one in some] for cut, some in learned.shrunk.items()},
    }
    return json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _learned(whole: Mapping[str, Any]) -> Learned:
    runs = tuple(
        TimedRun(
            file=str(one["file"]),
            sha256=str(one["sha256"]),
            slot=None if one["slot"] is None else int(one["slot"]),
            took_s=_above_nought(one["took_s"]),
            u_s=_above_nought(one["u_s"]),
        )
        for one in whole["runs"][:MOST_PROGRAMS]
    )
    woods = {
        str(wood): tuple(
            LawNote(
                precision=_above_nought(one["precision"]), log_factor=_finite(one["log_factor"])
            )
            for one in notes[:MOST_NOTES]
        )
        for wood, notes in whole["woods"].items()
    }
    shrunk = {
        str(cut): tuple({key: str(one[key]) for key in ("name", "before", "after")} for one in some)
        for cut, some in whole["shrunk"].items()
    }
    return Learned(runs=runs, woods=woods, shrunk=shrunk)


def _finite(value: Any) -> float:
    number = float(value)
    if not isfinite(number) or abs(number) > 1e9:
        raise ValueError("no number")
    return number


def _above_nought(value: Any) -> float:
    number = _finite(value)
    if number <= 0.0:
        raise ValueError("not above 0")
    return number
