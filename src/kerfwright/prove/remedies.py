"""Changes tried in the model before they are offered, and how much longer the job then takes."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Estimate, Finding, Remedy
from kerfwright.kernels import cutting
from kerfwright.prove.again import fed, passed_again
from kerfwright.prove.facts import Facts
from kerfwright.prove.margins import Moment

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
#: A moment's figure with its ends, and the probability that its limit is passed.
Told = tuple[Estimate, float]

FEEDS = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3)
DEPTHS = (0.75, 0.5, 1.0 / 3.0, 0.25)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Program lines from ``first`` to ``last`` that a change is made on."""

    first: int
    last: int

    @classmethod
    def of(cls, facts: Facts, groups: NDArray[np.int64]) -> "Lines":
        """The lines of some groups, and all between them."""
        lines = facts.line[facts.swept.segment[groups]]
        return cls(first=int(lines.min()), last=int(lines.max()))

    @classmethod
    def stretches(
        cls, facts: Facts, groups: NDArray[np.int64], among: NDArray[np.int64]
    ) -> "list[Lines]":
        """Stretches of lines on which more than half of the time goes to some groups, the longest
        first. ``among``: all groups that count; a line between with none of them parts nothing.
        """
        time = facts.swept.column[:, cutting.DURATION].astype(np.float64)
        line = facts.line[facts.swept.segment]
        told, at = np.unique(line[among], return_inverse=True)
        whole = np.bincount(at, time[among], len(told))
        mine = np.zeros(len(told))
        np.add.at(mine, np.searchsorted(told, line[groups]), time[groups])
        inside = mine > 0.5 * whole
        edge = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(np.int64), [0]])))
        out = [(first, end) for first, end in edge.reshape(-1, 2).tolist()]
        out.sort(key=lambda one: -float(mine[one[0] : one[1]].sum()))
        return [cls(first=int(told[a]), last=int(told[b - 1])) for a, b in out]

    @property
    def words(self) -> str:
        """``line 7``, or ``lines 7 to 80``."""
        if self.first == self.last:
            return f"line {self.first}"
        return f"lines {self.first} to {self.last}"

    def fed_s(self, facts: Facts, share: float) -> float | None:
        """How much longer it takes with the feed on these lines at a share. [s]"""
        return fed(facts, self.first, self.last, share)

    def passed_s(self, facts: Facts, passes: int, deep_mm: float = 0.0) -> float | None:
        """How much longer it takes with so many passes along these lines for each one. [s]"""
        return passed_again(facts, self.first, self.last, passes, deep_mm)


def lighter(
    facts: Facts,
    moment: Moment,
    found: Finding,
    column: FloatArray,
    told: Callable[[Moment], Told],
    enough: Callable[[Told], bool],
) -> tuple[Remedy, ...]:
    """The largest feed, and the largest depth in one pass, that are enough.

    Parameters
    ----------
    column : array
        The figure of every group by the machine as described, (groups,), the worse the larger.
    told : callable
        The figure of the moment at another feed or depth.
    """
    out = []
    deep = float(moment.worst.column[cutting.DEPTH])
    undercuts = facts.setup.slots[moment.slot].undercuts
    for what, shares, at in (
        ("feed", FEEDS, Moment.at_feed),
        ("depth", DEPTHS, Moment.at_depth),
    ):
        if what == "depth" and undercuts:
            out.append(cleared_first(facts, moment.slot))
            break
        for share in shares:
            after = told(at(moment, share))
            if enough(after):
                lines = _worse(facts, moment, column, after[0].value)
                if what == "feed":
                    out.append(_slower(facts, moment, found, share, lines, after))
                else:
                    out.append(shallower(facts, found, share, lines, after, deep))
                break
    return tuple(out)


def _worse(facts: Facts, moment: Moment, column: FloatArray, after: float) -> Lines:
    """Lines on which it is worse than the worst place will be."""
    sign = 1.0 if column[moment.worst.group] >= after else -1.0
    worse = (sign * (column - after) > 0.0) & facts.cuts
    worse &= facts.tools.slot[facts.swept.segment] == moment.slot
    worse[moment.worst.group] = True
    return Lines.of(facts, np.flatnonzero(worse))


def _slower(
    facts: Facts, moment: Moment, found: Finding, share: float, lines: Lines, after: Told
) -> Remedy:
    # What it runs at: the program may ask for more than the machine has.
    now = 60.0 * float(np.linalg.norm(moment.worst.velocity, axis=1).max())
    asked = 60.0 * float(facts.trajectory.feed_mm_per_s[facts.swept.segment[moment.worst.group]])
    of_asked = floor(100.0 * min(share * now / max(asked, 1e-9), share)) / 100.0
    new = f"{of_asked * asked:.0f} mm/min"
    return Remedy(
        words=f"Feed at {new} or less on {lines.words}, {share * 100:.0f} % of what it runs at",
        changes=(Change(path=f"feed on {lines.words}", old="× 1", new=f"× {of_asked:g}"),),
        tried=tried(found, f"With {share * 100:.0f} % of the feed", *after),
        more_s=lines.fed_s(facts, of_asked),
    )


def shallower(
    facts: Facts, found: Finding, share: float, lines: Lines,
    after: tuple[Estimate, float | None], deep_mm: float, begins: str = "Take",
) -> Remedy:  # fmt: skip
    """A share of the depth in each pass, ``after`` which the finding is as told."""
    passes = ceil(1.0 / share - 1e-9)
    return Remedy(
        words=f"{begins} {share * 100:.0f} % of the depth in one pass on {lines.words}:"
        f" {passes} passes",
        changes=(Change(path=f"depth on {lines.words}", old="× 1", new=f"× {share:.2g}"),),
        tried=tried(found, f"With {share * 100:.0f} % of the depth", *after),
        more_s=lines.passed_s(facts, passes, deep_mm),
    )


def cleared_first(facts: Facts, slot: int) -> Remedy:
    """Less wood for a cutter that undercuts: passes at less depth would open its slot too wide."""
    wide = 2.0 * facts.setup.slots[slot].corners_mm[-1][0]
    return Remedy(
        words="Or clear the middle of its slot before, with a flat cutter of"
        f" {wide:.1f} mm or less",
        not_tried="that cut needs a path of its own; passes at less depth would open the slot above"
        " too wide",
    )


def in_turn(found: Finding) -> Finding:
    """A finding whose first remedy does not begin with "Or", since there is none before it."""
    if not found.remedies or not found.remedies[0].words.startswith("Or "):
        return found
    first, *others = found.remedies
    words = first.words.removeprefix("Or ")
    first = replace(first, words=f"{words[:1].upper()}{words[1:]}")
    return replace(found, remedies=(first, *others))


def tried(
    found: Finding,
    words: str,
    value: Estimate,
    likelihood: float | None,
    limit: float | None = None,
) -> Finding:
    """What is left of a finding after a change; ``limit`` where that becomes another one too."""
    return replace(
        found, id=f"{found.id}-tried", severity="note", words=words, value=value,
        likelihood=likelihood, remedies=(), limit=found.limit if limit is None else limit,
    )  # fmt: skip
