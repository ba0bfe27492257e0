"""Findings that rest on the force law or on usage: at most a caution.

The force law has not been narrowed by any test on this machine, so what it says comes with a
likelihood; from ``CARE`` on it is a caution.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.loads import edge_law_for, give_mm, work_of
from kerfwright.prove.again import more_s
from kerfwright.prove.another_cutter import another, shorter, thicker
from kerfwright.prove.facts import LEAST_MM3, Facts, at_segment
from kerfwright.prove.margins import (
    Give,
    Judged,
    Machines,
    Moment,
    power_estimate,
    pull_estimate,
)
from kerfwright.prove.remedies import DEPTHS, FEEDS, Told, lighter, tried

PUSHED = "cutter pushed aside"
CARE = 0.2  #: likelihood from which a limit of the machine's is a caution
RESERVE = 0.3  #: pull that is kept for the unforeseen: common practice, no source
#: What of an axis may be set lower: its field, its name, its unit on the surface and how many.
_SETTINGS = {
    "rapid": ("rapid_mm_per_s", "rapid speed", "mm/min", 60.0),
    "acceleration": ("acceleration_mm_per_s2", "acceleration", "mm/s²", 1.0),
}


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
        out = _set_lower(facts, name, "rapid", moment.at_feed, found, told, enough)
    else:
        column = facts.swept.column[:, cutting.PULL_X + axis].astype(np.float64)
        out = lighter(facts, moment, found, column, told, enough)
    out += _set_lower(facts, name, "acceleration", moment.at_acceleration, found, told, enough)
    if out:
        return out
    words = (
        f"Neither {FEEDS[-1] * 100:.0f} % of the feed nor of the acceleration is enough: look for"
        f" what binds on {name.upper()}, or whether its motor current is set right"
    )
    return (Remedy(words=words, not_tried="what binds is only felt at the machine"),)


def _set_lower(
    facts: Facts, axis: str, key: str, at: Callable[[float], Moment], found: Finding,
    told: Callable[[Moment], Told], enough: Callable[[Told], bool],
) -> tuple[Remedy, ...]:  # fmt: skip
    """The largest share of an axis' setting that is enough, where one is.

    ``key``: of ``_SETTINGS``; ``at``: the moment with that share of it.
    """
    field, name, unit, per = _SETTINGS[key]
    now = getattr(facts.machine.axes["xyz".index(axis)], field)
    for share in FEEDS:
        after = told(at(share))
        if enough(after):
            new = f"{now * share * per:.0f} {unit}"
            change = Change(path=f"{axis}.{key}", old=f"{now * per:.0f} {unit}", new=new)
            return (
                Remedy(
                    words=f"Set the {name} of {axis.upper()} to {new} in the controller and in"
                    " machine.toml",
                    changes=(change,),
                    tried=tried(found, f"With {share * 100:.0f} % of that {name}", *after),
                    more_s=_machine_s(facts, axis, **{field: now * share}),
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
    work = work_of(facts.setup)
    give = float(np.linalg.norm(give_mm(facts.machine, cutter, at[None], force, work)))
    yield Remedy(
        words=f"Or make the program anew for {cutter.name} of the rack: the same push moves it"
        f" {give:.2f} mm",
        not_tried="another width of cutter needs another path",
    )


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
