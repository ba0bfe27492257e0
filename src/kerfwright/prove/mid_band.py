"""Motors that run where they tend to swing and lose their pull: some 5 to 15 turns a second.

There is no formula of general use for it, so this rests on a range alone: a note, or a caution
where little pull is left even before. Where the owner's own runs have found or bounded the loss
it is in the motor's pull already, and judged with it; here only speeds beyond those runs are left.
"""

from dataclasses import replace
from math import floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.kernels import cutting
from kerfwright.prove.again import more_s
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.likely import CARE
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import Lines, tried

FloatArray = NDArray[np.float64]

CODE = "motor in its swinging speeds"
#: Kenjo and Sugawara; Acarnley: both from memory. [rev/s]
BAND_REV_PER_S = (5.0, 15.0)
#: Share of the pull that may be left there: common practice, no source. Drivers that damp the
#: swing keep nearly all of it.
KEEPS = (0.3, 1.0)
_LASTS_S = 0.5


def mid_band(facts: Facts) -> list[Finding]:
    """For each axis the tightest moment in the band, if it stays there for a while."""
    column = facts.swept.column
    if not len(column):
        return []
    lasts = column[:, cutting.DURATION].astype(np.float64)
    speed = np.abs(facts.swept.motion_mm) / np.maximum(lasts, 1e-9)[:, None]
    out = []
    for number, axis in enumerate(facts.machine.axes):
        turns = speed[:, number] / axis.lead_mm
        first, last = _untried(facts, axis.name)
        there = np.flatnonzero((turns >= first) & (turns <= last))
        seconds = float(lasts[there].sum())
        if seconds < _LASTS_S:
            continue
        used = 1.0 - column[there, cutting.PULL_X + number].astype(np.float64)
        worst = int(np.argmax(used))
        asked = float(used[worst])
        chance = float(np.clip((asked - KEEPS[0]) / (KEEPS[1] - KEEPS[0]), 0.0, 1.0))
        if chance == 0.0:
            continue
        group = int(there[worst])
        name = axis.name.upper()
        words = (
            f"{name} runs at {turns[group]:.1f} turns a second here, where such motors tend to"
            f" swing and lose part of their pull ({seconds:.0f} s in all between"
            f" {first:g} and {last:g}); {asked * 100:.0f} % of the pull is"
            f" used, and {KEEPS[0] * 100:.0f} to {KEEPS[1] * 100:.0f} % may be all there is"
        )
        severity: Severity = "caution" if chance >= CARE else "note"
        found = at_group(facts, group, CODE, severity, words, (asked, KEEPS[0], "share"),
                         (), chance)  # fmt: skip
        found = replace(found, id=f"{found.id}-{axis.name}")
        out.append(replace(found, remedies=(_slower(facts, number, turns, there, group, found),)))
    return out


def _untried(facts: Facts, axis: str) -> tuple[float, float]:
    """Speeds of an axis' motor at which nobody tried whether it swings. [rev/s]"""
    values, (first, last) = facts.machine.values, BAND_REV_PER_S
    if f"axes.{axis}.motor.swings_lose" not in values:
        return first, last
    return max(first, values.get(f"axes.{axis}.motor.swings_tried_to", last)), last


def _slower(
    facts: Facts, number: int, turns: FloatArray, there: NDArray[np.int64], group: int,
    found: Finding,
) -> Remedy:  # fmt: skip
    """Just below the band: by the feed, or by the rapid speed of the axis."""
    axis = facts.machine.axes[number]
    name = axis.name.upper()
    first = _untried(facts, axis.name)[0]
    below = first * axis.lead_mm * 60.0
    now = float(turns[group]) * axis.lead_mm * 60.0
    is_rapid = facts.tools.rapid[facts.swept.segment]
    rapid = bool(is_rapid[group])
    mine = there[is_rapid[there] == rapid]
    share = floor(999.0 * first / float(turns[mine].max())) / 1000.0
    left = there[is_rapid[there] != rapid]
    seconds = float(facts.swept.column[left, cutting.DURATION].sum(dtype=np.float64))
    used = 1.0 - facts.swept.column[left, cutting.PULL_X + number].astype(np.float64)
    after = float(used.max(initial=0.0))
    if rapid:
        path, where = f"{axis.name}.rapid", "on rapids"
        old, new = f"{now:.0f} mm/min", f"{below:.0f} mm/min"
        whole: dict[str, Any] = {axis.name: replace(axis, rapid_mm_per_s=below / 60.0)}
        longer = more_s(facts, machine=replace(facts.machine, **whole))
    else:
        lines = Lines.of(facts, mine)
        path, where = f"feed on {lines.words}", f"on {lines.words}"
        old, new = "× 1", f"× {share:g}"
        longer = lines.fed_s(facts, share)
    says = f"Then {seconds:.0f} s in all are left at such speeds"
    return Remedy(
        words=f"Keep {name} below {below:.0f} mm/min {where}, or use a driver that damps the swing",
        changes=(Change(path=path, old=old, new=new),),
        tried=tried(found, says, exact(after), None),
        more_s=longer,
    )
