"""Findings that rest on the force law or on usage: at most a caution.

The force law has not been narrowed by any test on this machine, so what it says comes with a
likelihood; from ``CARE`` on it is a caution.
"""

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.cutter import Cutter, chip_range
from kerfwright.kernels import cutting
from kerfwright.prove.facts import LEAST_MM3, Facts, at_group, at_segment
from kerfwright.prove.margins import Judged, Machines, Moment, pull_estimate
from kerfwright.setup import Setup

CARE = 0.2  #: likelihood from which a limit of the machine's is a caution
RESERVE = 0.3  #: pull that is kept for the unforeseen: common practice, no source
#: A feed per tooth this far outside the usual range is told, if it lasts.
_THIN, _THICK = 0.5, 1.5
_LASTS_S, _LASTS_SHARE = 5.0, 0.1
_AT_ONCE_S = 0.5
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
        remedies = _slower(facts, moments[name], machines, number)
        out.append(
            _at_margin(margin.name, "pull left", severity, words, judged[name], 0.0, remedies)
        )
    return out


def _slower(facts: Facts, moment: Moment, machines: Machines, axis: int) -> tuple[Remedy, ...]:
    """The largest feed at which the motor is no longer likely to lose step, tried in the model."""
    if not moment.worst.column[cutting.TAKEN] > 0.0:
        return (Remedy(words="Lower this axis' acceleration or rapid speed in the controller"),)
    for share in (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3):
        estimate, likelihood = pull_estimate(moment.at_feed(share), axis, facts.machine, machines)
        if likelihood < CARE and estimate.value >= RESERVE:
            line = facts.group_line(moment.worst.group)
            after = Finding(
                id=f"pull-left-{'xyz'[axis]}-{line}-tried", code="pull left", severity="note",
                words=f"At {share * 100:.0f} % of the feed {estimate.value * 100:.0f} % is left",
                value=estimate, limit=0.0, unit="", likelihood=likelihood, line=line,
            )  # fmt: skip
            change = Change(path=f"feed on line {line}", old="× 1", new=f"× {share:g}")
            words = f"Turn the feed down to {share * 100:.0f} % here"
            return (Remedy(words=words, changes=(change,), tried=after),)
    return (Remedy(words="Take less depth in one pass here: slowing down alone does not help"),)


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


def power(judged: dict[str, Judged]) -> list[Finding]:
    """A spindle that may bog down."""
    if "power" not in judged or judged["power"].likelihood < CARE:
        return []
    margin = judged["power"].margin
    share = margin.limit / max(margin.value.high, 1e-9)
    words = (
        f"The cut asks {margin.value.value:.0f} W of the spindle ({margin.value.low:.0f} to"
        f" {margin.value.high:.0f} W, nineteen times in twenty), and it has {margin.limit:.0f} W"
    )
    remedy = Remedy(words=f"Take about {max(share, 0.1) * 100:.0f} % of this depth in one pass")
    return [
        _at_margin("power", "power", "caution", words, judged["power"], margin.limit, (remedy,))
    ]


def deflection(judged: dict[str, Judged], setup: Setup) -> list[Finding]:
    """A cutter pushed off its path by more than the part may be out."""
    if "deflection" not in judged or judged["deflection"].likelihood < CARE:
        return []
    margin = judged["deflection"].margin
    words = (
        f"The wood pushes the cutter {margin.value.value:.2f} mm off its path"
        f" ({margin.value.low:.2f} to {margin.value.high:.2f} mm, nineteen times in twenty);"
        f" the part may be out by {setup.tolerance_mm:.2f} mm"
    )
    remedies = (
        Remedy(words="Leave a last light pass along the walls, or let the cutter stick out less"),
    )
    return [
        _at_margin("deflection", "deflection", "caution", words, judged["deflection"],
                   margin.limit, remedies)
    ]  # fmt: skip


def chip(facts: Facts) -> list[Finding]:
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
                f" {seconds / 60:.1f} min, against {usual.low_mm:.3f} to {usual.high_mm:.3f} mm as"
                f" is usual: {says}"
            )
            code = "chip too thin" if value < limit else "chip too thick"
            remedies = (_other_chip(facts, group, limit / value),)
            measure = (value, limit, "mm")
            out.append(at_group(facts, group, code, "caution", words, measure, remedies))
    return out


def no_wood(facts: Facts) -> list[Finding]:
    """A program that cuts at feed and takes nothing: most often the zero is wrong."""
    feed = np.flatnonzero(~facts.tools.rapid)
    taken = facts.swept.column[:, cutting.TAKEN].sum()
    if not len(feed) or taken > LEAST_MM3 or facts.tools.missing:
        return []
    words = "The program moves at feed and never touches the wood"
    remedy = Remedy(words="Look where Z zero is, and where the board lies")
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


def _other_chip(facts: Facts, group: int, share: float) -> Remedy:
    """How to make the chip ``share`` times as thick: by the feed, if that is not far off."""
    line = facts.group_line(group)
    if not 1.0 / _SLIP_OF_F < share < _SLIP_OF_F:
        return Remedy(words=f"Look at the F word that holds on line {line}: it looks like a slip")
    spindle = facts.machine.spindle
    now = float(facts.tools.spindle_rev_per_s[facts.swept.segment[group]])
    held = now
    if not 0.5 <= share <= 2.0:  # a feed that far off is asking much of the machine
        held = min(max(now / share, spindle.lowest_rev_per_s), spindle.highest_rev_per_s)
    feed = share * held / now
    steps, changes = [], []
    if abs(held / now - 1.0) > 0.02:
        steps.append(f"turn the spindle at {held * 60.0:.0f} rev/min")
        changes.append(Change(path="spindle", old=f"{now * 60:.0f}", new=f"{held * 60:.0f}"))
    if abs(feed - 1.0) > 0.02:
        steps.append(f"feed at {feed * 100.0:.0f} % there")
        changes.append(Change(path=f"feed on line {line}", old="× 1", new=f"× {feed:.2f}"))
    words = " and ".join(steps)
    return Remedy(words=words[:1].upper() + words[1:], changes=tuple(changes))
