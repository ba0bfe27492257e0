"""Findings that rest on the force law or on usage: at most a caution.

The force law has not been narrowed by any test on this machine, so what it says comes with a
likelihood; from ``CARE`` on it is a caution.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.cutter import Cutter, chip_range
from kerfwright.kernels import cutting
from kerfwright.loads import edge_law_for, give_mm
from kerfwright.program import MoveKind
from kerfwright.program.changed import with_feeds
from kerfwright.prove.again import more_s
from kerfwright.prove.another_cutter import another, shorter, thicker
from kerfwright.prove.facts import LEAST_MM3, Facts, at_group, at_segment
from kerfwright.prove.margins import (
    Give,
    Judged,
    Machines,
    Moment,
    exact,
    power_estimate,
    pull_estimate,
)
from kerfwright.prove.remedies import DEPTHS, FEEDS, Lines, Told, lighter, tried

PUSHED = "cutter pushed aside"
CARE = 0.2  #: likelihood from which a limit of the machine's is a caution
RESERVE = 0.3  #: pull that is kept for the unforeseen: common practice, no source
#: A feed per tooth this far outside the usual range is told, if it lasts.
_THIN, _THICK = 0.5, 1.5
_LASTS_S, _LASTS_SHARE = 5.0, 0.1
_AT_ONCE_S = 0.5
_MOST_STRETCHES = 3  #: of lines that are named
_SLIP_OF_F = 10.0  #: a chip this many times off is a slip in an F or S word


def pull(
    facts: Facts, judged: dict[str, Judged], moments: dict[str, Moment], machines: Machines
) -> list[Finding]:
    """Motors that may lose step."""
    out = []
    for number, axis in enumerate("xyz"):
        name = f"pull left {axis}"
        if name not in judged:
            continue
        margin, likelihood = judged[name].margin, judged[name].likelihood
        if likelihood < CARE and margin.value.value >= RESERVE:
            continue
        severity: Severity = "caution" if likelihood >= CARE or margin.value.value < 0.0 else "note"
        left = margin.value
        words = (
            f"The {axis.upper()} motor has {left.value * 100:.0f} % of its pull left here"
            f" ({left.low * 100:.0f} to {left.high * 100:.0f} %, nineteen times in twenty)"
        )
        if severity == "caution":
            words += f"; it may lose step, {likelihood * 100:.0f} in 100"
        else:
            words += "; most makers keep a third in hand"
        if left.value < 0.0:
            words = (
                f"The {axis.upper()} motor is asked for more than it can pull here: it may lose"
                f" step, {likelihood * 100:.0f} in 100"
            )
        found = _at_margin(margin.name, "pull left", severity, words, judged[name], 0.0, ())
        remedies = _slower(facts, moments[name], machines, number, found)
        out.append(replace(found, remedies=remedies))
    return out


def _slower(
    facts: Facts, moment: Moment, machines: Machines, axis: int, found: Finding
) -> tuple[Remedy, ...]:
    """The largest feed, or depth, at which the motor is no longer likely to lose step."""

    def told(tried_at: Moment) -> Told:
        return pull_estimate(tried_at, axis, facts.machine, machines)

    def enough(after: Told) -> bool:
        return after[1] < CARE and after[0].value >= RESERVE

    name = "xyz"[axis]
    if not moment.worst.column[cutting.TAKEN] > 0.0:
        out = _slower_rapids(facts, moment, name, found, told, enough)
    else:
        column = facts.swept.column[:, cutting.PULL_X + axis].astype(np.float64)
        out = lighter(facts, moment, found, column, told, enough)
    out += _gentler(facts, moment, name, found, told, enough)
    if out:
        return out
    words = (
        f"Neither {FEEDS[-1] * 100:.0f} % of the feed nor of the acceleration is enough: look for"
        f" what binds on {name.upper()}, or whether its motor current is set right"
    )
    return (Remedy(words=words, not_tried="what binds is only felt at the machine"),)


def _slower_rapids(
    facts: Facts, moment: Moment, axis: str, found: Finding, told: Callable[[Moment], Told],
    enough: Callable[[Told], bool],
) -> tuple[Remedy, ...]:  # fmt: skip
    now = facts.machine.axes["xyz".index(axis)].rapid_mm_per_s
    for share in FEEDS:
        after = told(moment.at_feed(share))
        if enough(after):
            new = f"{now * share * 60:.0f} mm/min"
            change = Change(path=f"{axis}.rapid", old=f"{now * 60:.0f} mm/min", new=new)
            return (
                Remedy(
                    words=f"Set the rapid speed of {axis.upper()} to {new} in the controller and"
                    " in machine.toml",
                    changes=(change,),
                    tried=tried(found, f"With {share * 100:.0f} % of that speed", *after),
                    more_s=_machine_s(facts, axis, rapid_mm_per_s=now * share),
                ),
            )
    return ()


def _gentler(
    facts: Facts, moment: Moment, axis: str, found: Finding, told: Callable[[Moment], Told],
    enough: Callable[[Told], bool],
) -> tuple[Remedy, ...]:  # fmt: skip
    """Less acceleration, where that alone is enough."""
    now = facts.machine.axes["xyz".index(axis)].acceleration_mm_per_s2
    for share in FEEDS:
        after = told(moment.at_acceleration(share))
        if enough(after):
            new = f"{now * share:.0f} mm/s²"
            change = Change(path=f"{axis}.acceleration", old=f"{now:.0f} mm/s²", new=new)
            return (
                Remedy(
                    words=f"Set the acceleration of {axis.upper()} to {new} in the controller and"
                    " in machine.toml",
                    changes=(change,),
                    tried=tried(found, f"With {share * 100:.0f} % of that acceleration", *after),
                    more_s=_machine_s(facts, axis, acceleration_mm_per_s2=now * share),
                ),
            )
    return ()


def _machine_s(facts: Facts, axis: str, **changes: float) -> float | None:
    """How much longer it takes with an axis of the machine set otherwise. [s]"""
    values: dict[str, Any] = {**changes}
    changed = replace(facts.machine.axes["xyz".index(axis)], **values)
    whole: dict[str, Any] = {axis: changed}
    return more_s(facts, machine=replace(facts.machine, **whole))


def _at_margin(
    name: str, code: str, severity: Severity, words: str, judged: Judged, limit: float,
    remedies: tuple[Remedy, ...],
) -> Finding:  # fmt: skip
    margin = judged.margin
    return Finding(
        id=f"{name.replace(' ', '-')}-{margin.line}",
        code=code,
        severity=severity,
        words=words,
        value=margin.value,
        limit=limit,
        unit=margin.unit,
        likelihood=judged.likelihood,
        line=margin.line,
        time_s=margin.time_s,
        spot=margin.spot,
        remedies=remedies,
    )


def power(
    facts: Facts, judged: dict[str, Judged], moments: dict[str, Moment], machines: Machines
) -> list[Finding]:
    """A spindle that may bog down."""
    if "power" not in judged or judged["power"].likelihood < CARE:
        return []
    margin = judged["power"].margin
    words = (
        f"The cut asks {margin.value.value:.0f} W of the spindle ({margin.value.low:.0f} to"
        f" {margin.value.high:.0f} W, nineteen times in twenty), and it has {margin.limit:.0f} W"
    )
    found = _at_margin("power", "power", "caution", words, judged["power"], margin.limit, ())
    column = facts.swept.column[:, cutting.POWER].astype(np.float64)
    remedies = lighter(
        facts, moments["power"], found, column,
        lambda moment: power_estimate(moment, margin.limit, machines),
        lambda after: after[1] < CARE,
    )  # fmt: skip
    if not remedies:
        words = (
            f"Neither {FEEDS[-1] * 100:.0f} % of the feed nor {DEPTHS[-1] * 100:.0f} % of the depth"
            " is enough: cut narrower, or take a smaller cutter"
        )
        remedies = (Remedy(words=words, not_tried="either needs a path of its own"),)
    return [replace(found, remedies=remedies)]


def deflection(
    facts: Facts, judged: dict[str, Judged], moments: dict[str, Moment], machines: Machines
) -> list[Finding]:
    """A cutter pushed off its path by more than the part may be out."""
    if "deflection" not in judged or judged["deflection"].likelihood < CARE:
        return []
    setup, moment = facts.setup, moments["deflection"]
    margin = judged["deflection"].margin
    words = (
        f"The wood pushes the cutter {margin.value.value:.2f} mm off its path"
        f" ({margin.value.low:.2f} to {margin.value.high:.2f} mm, nineteen times in twenty);"
        f" the part may be out by {setup.tolerance_mm:.2f} mm"
    )
    found = _at_margin("deflection", PUSHED, "caution", words, judged["deflection"],
                       margin.limit, ())  # fmt: skip

    def told(tried_at: Moment) -> Told:
        give = Give.at(tried_at, facts.machine, machines)
        return give.estimate(machines, setup.tolerance_mm)

    column = np.linalg.norm(facts.swept.give_mm.astype(np.float64), axis=1)

    def with_it(cutter: Cutter) -> Told:
        return told(moment.with_cutter(cutter))

    def enough(after: Told) -> bool:
        return after[1] < CARE

    remedies = (
        *shorter(facts, moment.slot, found, with_it, enough),
        *another(facts, moment.slot, found, with_it, enough),
        *lighter(facts, moment, found, column, told, enough),
        *_thicker(facts, moment),
    )
    otherwise = Remedy(
        words="Or leave a little wood, and take it in a last light pass at the walls",
        not_tried="it is tried for each wall that is off size",
    )
    return [replace(found, remedies=(*remedies, otherwise))]


def _thicker(facts: Facts, moment: Moment) -> Iterator[Remedy]:
    """What a thicker cutter of the rack would give at the same push, on a path of its own."""
    cutter = thicker(facts, moment.slot)
    if cutter is None:
        return
    old = facts.setup.slots[moment.slot]
    force = moment.force(edge_law_for(facts.setup.board, old))[0][None]
    at = moment.worst.column[cutting.X : cutting.Z + 1] + np.array(facts.setup.board_at_mm)
    give = float(np.linalg.norm(give_mm(facts.machine, cutter, at[None], force)))
    yield Remedy(
        words=f"Or make the program anew for {cutter.name} of the rack: the same push moves it"
        f" {give:.2f} mm",
        not_tried="another width of cutter needs another path",
    )


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
            stretches = Lines.stretches(facts, mine[far], mine) or [Lines.of(facts, mine[far])]

            def stands(share: float, slot: int = slot) -> bool:
                return _stands(facts, moments, machines, slot, share)

            remedy = _other_chip(facts, group, stretches, found, stands)
            out.append(replace(found, remedies=(remedy,)))
    return out


def no_wood(facts: Facts) -> list[Finding]:
    """A program that cuts at feed and takes nothing: most often the zero is wrong."""
    feed = np.flatnonzero(~facts.tools.rapid)
    taken = facts.swept.column[:, cutting.TAKEN].sum()
    if not len(feed) or taken > LEAST_MM3 or facts.tools.missing:
        return []
    words = "The program moves at feed and never touches the wood"
    remedy = Remedy(
        words="Look where Z zero is, and where the board lies",
        not_tried="where they are meant to be is not known",
    )
    measure = (0.0, 0.0, "mm³")
    segment = int(feed[0])
    return [at_segment(facts, segment, "no wood", "caution", words, measure, (remedy,))]


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
    facts: Facts,
    group: int,
    stretches: list[Lines],
    found: Finding,
    stands: Callable[[float], bool],
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
    held = now
    # A feed that far off is asking much of the machine.
    if not 0.5 <= share <= 2.0 or not stands(share):
        held = min(max(now / share, spindle.lowest_rev_per_s), spindle.highest_rev_per_s)
    feed = share * held / now
    if feed > 1.02 and not stands(feed):
        return Remedy(
            words=f"It would take {feed:.1f} times this feed, and motors or spindle may not have"
            " it: take a cutter with fewer flutes, or less depth with it",
            not_tried="that feed was, and is too much",
        )
    steps, changes = [], []
    if abs(held / now - 1.0) > 0.02:
        steps.append(f"turn the spindle at {held * 60.0:.0f} rev/min")
        changes.append(Change(path="spindle", old=f"{now * 60:.0f}", new=f"{held * 60:.0f}"))
    if abs(feed - 1.0) > 0.02:
        fast = f"{feed:.1f} times as fast" if feed >= 1.995 else f"at {feed * 100.0:.0f} %"
        more = len(stretches) - _MOST_STRETCHES
        where = [one.words for one in stretches[:_MOST_STRETCHES]]
        where += [f"{more} more stretches"] if more > 0 else []
        steps.append(f"feed {fast} on {', '.join(where)}")
        changes += [
            Change(path=f"feed on {one.words}", old="× 1", new=f"× {feed:.2f}")
            for one in stretches[:_MOST_STRETCHES]
        ]
    words = " and ".join(steps)
    value = found.value.value * feed * now / held
    return Remedy(
        words=words[:1].upper() + words[1:],
        changes=tuple(changes),
        tried=tried(found, "Then each tooth takes as much as is usual", exact(value), None),
        more_s=_fed_s(facts, stretches, feed),
    )


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
