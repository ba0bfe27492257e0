"""Feed per tooth outside what cutters of a size are used at: it burns, or it tears."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy
from kerfwright.cutter import ChipRange, Cutter, chip_range
from kerfwright.kernels import cutting
from kerfwright.program import MoveKind
from kerfwright.program.changed import with_feeds
from kerfwright.prove.again import more_s
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.likely import CARE
from kerfwright.prove.margins import Machines, Moment, exact, power_estimate, pull_estimate
from kerfwright.prove.remedies import Lines, tried

#: A feed per tooth this far outside the usual range is told, if it lasts.
_THIN, _THICK = 0.5, 1.5
_LASTS_S, _LASTS_SHARE = 5.0, 0.1
_AT_ONCE_S = 0.5
_MOST_STRETCHES = 3  #: of lines that are named
_SLIP_OF_F = 10.0  #: a chip this many times off is a slip in an F or S word


def chip(facts: Facts, moments: dict[str, Moment], machines: Machines) -> list[Finding]:
    """Feed per tooth outside what cutters of this size are used at, plunges left out."""
    out: list[Finding] = []
    down = np.abs(facts.swept.motion_mm[:, 2]) > 0.5 * facts.swept.column[:, cutting.WAY]
    for slot, cutter in sorted(facts.setup.slots.items()):
        mine = facts.groups_of(slot)
        mine = mine[~down[mine]]
        feed = facts.swept.column[mine, cutting.FEED_PER_TOOTH].astype(np.float64)
        time = facts.swept.column[mine, cutting.DURATION].astype(np.float64)
        usual = chip_range(_width_mm(facts, cutter, mine), facts.setup.board.wood.family)
        # Rubbing takes its time to burn; too thick a chip breaks at once.
        burns = max(_LASTS_S, _LASTS_SHARE * float(time.sum()))
        for far, limit, least in (
            (feed < _THIN * usual.low_mm, usual.low_mm, burns),
            (feed > _THICK * usual.high_mm, usual.high_mm, _AT_ONCE_S),
        ):
            seconds = float(time[far].sum())
            if seconds < least:
                continue
            value = float(np.median(feed[far]))
            group = int(mine[far][np.argmax(time[far])])
            says = "it rubs rather than cuts, and may burn"
            if value > limit:
                says = "expect tear-out, and strain on cutter and machine"
            words = (
                f"Cutter {slot} ({cutter.name}) takes {value:.3f} mm a tooth for"
                f" {long_words(seconds)}, against {usual.low_mm:.3f} to {usual.high_mm:.3f} mm as"
                f" is usual: {says}"
            )
            code = "chip too thin" if value < limit else "chip too thick"
            measure = (value, limit, "mm")
            found = at_group(facts, group, code, "caution", words, measure, ())
            told = _Chip(
                groups=mine[far], among=mine, usual=usual,
                stretches=Lines.stretches(facts, mine[far], mine)
                or [Lines.of(facts, mine[far])],
            )  # fmt: skip

            def stands(share: float, slot: int = slot) -> bool:
                return _stands(facts, moments, machines, slot, share)

            remedy = _other_chip(facts, group, told, found, stands)
            out.append(replace(found, remedies=(remedy,)))
    return out


def usual_chips(facts: Facts) -> dict[int, ChipRange]:
    """What is usual for each cutter of the job that takes wood, by slot."""
    family = facts.setup.board.wood.family
    groups = {slot: facts.groups_of(slot) for slot in facts.setup.slots}
    return {
        slot: chip_range(_width_mm(facts, facts.setup.slots[slot], mine), family)
        for slot, mine in groups.items()
        if len(mine)
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chip:
    """Groups of a cutter whose chip is not as is usual, among all of its groups."""

    groups: NDArray[np.int64]
    among: NDArray[np.int64]
    usual: ChipRange
    stretches: list[Lines]

    @property
    def where(self) -> str:
        """The lines, the longest stretches of them by name."""
        more = len(self.stretches) - _MOST_STRETCHES
        named = [one.words for one in self.stretches[:_MOST_STRETCHES]]
        return ", ".join([*named, f"{more} more stretches"] if more > 0 else named)

    def is_run_already(self, facts: Facts, share: float) -> bool:
        """Whether the job runs this cutter as fast and as deep elsewhere, where it is judged."""
        column = facts.swept.column
        speed = facts.trajectory.feed_mm_per_s[facts.swept.segment]
        wanted = share * float(np.median(speed[self.groups]))
        deep = float(column[self.groups, cutting.DEPTH].max())
        others = np.setdiff1d(self.among, self.groups)
        alike = others[
            (speed[others] > 0.97 * wanted) & (column[others, cutting.DEPTH] > 0.95 * deep)
        ]
        return float(column[alike, cutting.DURATION].sum()) > _AT_ONCE_S

    def bears(self, facts: Facts, times: float) -> bool:
        """Whether the chip stays usual on all other lines where it gets so many times as thick."""
        others = np.setdiff1d(self.among, self.groups)
        chip = facts.swept.column[others, cutting.FEED_PER_TOOTH].astype(np.float64) * times
        outside = (chip > _THICK * self.usual.high_mm) | (chip < _THIN * self.usual.low_mm)
        time = facts.swept.column[others, cutting.DURATION]
        return float(time[outside].sum()) <= _AT_ONCE_S


def _width_mm(facts: Facts, cutter: Cutter, groups: NDArray[np.int64]) -> float:
    """Diameter of the part that cuts; see ``cutting_width_mm``."""
    if not len(groups):
        return cutter.diameter_mm
    return cutting_width_mm(cutter, float(np.median(facts.swept.column[groups, cutting.DEPTH])))


def cutting_width_mm(cutter: Cutter, depth_mm: float) -> float:
    """Diameter by which a chip is judged: of a taper or an outline only what is in the wood."""
    if cutter.shape in ("flat", "ball", "bull"):
        return cutter.diameter_mm
    wide = 2.0 * cutter.widest_below_mm(depth_mm)
    return float(np.clip(wide, 0.1, cutter.diameter_mm))


def _stands(
    facts: Facts, moments: dict[str, Moment], machines: Machines, slot: int, share: float
) -> bool:
    """Whether motors and spindle are likely to take a cutter's feed times a share."""
    for name, moment in moments.items():
        if moment.slot != slot or not moment.worst.column[cutting.TAKEN] > 0.0:
            continue
        faster = moment.at_feed(share)
        if name.startswith("pull left"):
            axis = "xyz".index(name[-1])
            if pull_estimate(faster, axis, facts.machine, machines)[1] >= CARE:
                return False
        if name == "power":
            has = float(facts.machine.spindle.power_w(moment.spindle_rev_per_s))
            if power_estimate(faster, has, machines)[1] >= CARE:
                return False
    return True


def _other_chip(
    facts: Facts, group: int, chip: _Chip, found: Finding, stands: Callable[[float], bool]
) -> Remedy:
    """How to bring the chip to its limit: by the feed, if that is not far off and the machine has
    it, else by the speed of the spindle too.
    """
    share = found.limit / found.value.value
    if not 1.0 / _SLIP_OF_F < share < _SLIP_OF_F:
        return Remedy(
            words=f"Look at the F word that holds on line {found.line}: it looks like a slip",
            not_tried="what was meant in its place is not known",
        )
    spindle = facts.machine.spindle
    now = float(facts.tools.spindle_rev_per_s[facts.swept.segment[group]])
    held, dial = now, ""
    # A feed that far off is asking much of the machine, where it is not run elsewhere already.
    if not chip.is_run_already(facts, share) and (not 0.5 <= share <= 2.0 or not stands(share)):
        held = min(max(now / share, spindle.lowest_rev_per_s), spindle.highest_rev_per_s)
        if not spindle.follows_program and spindle.dial_rev_per_s:
            number = int(np.argmin(np.abs(np.array(spindle.dial_rev_per_s) - held)))
            held, dial = spindle.dial_rev_per_s[number], f"dial {number + 1}, "
        if not chip.bears(facts, now / held):
            held, dial = now, ""
    feed = share * held / now
    if feed > 1.02 and not stands(feed) and not chip.is_run_already(facts, feed):
        return Remedy(
            words=f"It would take {feed:.1f} times this feed, and motors or spindle may not have"
            " it: take a cutter with fewer flutes, or less depth with it",
            not_tried="that feed was, and is too much",
        )
    steps, changes = [], []
    if abs(held / now - 1.0) > 0.02:
        steps.append(f"turn the spindle at {dial}{held * 60.0:.0f} rev/min")
        changes.append(Change(path="spindle", old=f"{now * 60:.0f}", new=f"{held * 60:.0f}"))
    if abs(feed - 1.0) > 0.02:
        steps.append(f"feed {_fast_words(feed)} on {chip.where}")
        changes += [
            Change(path=f"feed on {one.words}", old="× 1", new=f"× {feed:.2f}")
            for one in chip.stretches[:_MOST_STRETCHES]
        ]
    words = " and ".join(steps)
    value = found.value.value * feed * now / held
    return Remedy(
        words=words[:1].upper() + words[1:],
        changes=tuple(changes),
        tried=tried(found, "Then each tooth takes as much as is usual", exact(value), None),
        more_s=_fed_s(facts, chip.stretches, feed),
    )


def _fast_words(feed: float) -> str:
    return f"{feed:.1f} times as fast" if feed >= 1.995 else f"at {feed * 100.0:.0f} %"


def _fed_s(facts: Facts, stretches: list[Lines], share: float) -> float | None:
    """How much longer it takes with the feed on all of some stretches at a share. [s]"""
    if facts.program is None:
        return None
    moves = np.zeros(facts.program.moves, np.bool_)
    for one in stretches:
        moves |= (facts.program.line >= one.first) & (facts.program.line <= one.last)
    moves &= facts.program.kind != MoveKind.RAPID
    return more_s(facts, with_feeds(facts.program, moves, share))


def long_words(seconds: float) -> str:
    """A time as one says it."""
    return f"{seconds:.2g} s" if seconds < 90.0 else f"{seconds / 60.0:.1f} min"
