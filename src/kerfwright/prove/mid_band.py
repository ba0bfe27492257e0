"""Motors that run where they tend to swing and lose their pull: some 5 to 15 turns a second.

There is no formula of general use for it, so this rests on a range alone: a note, or a caution
where little pull is left even before.
"""

from dataclasses import replace

import numpy as np

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.kernels import cutting
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.likely import CARE

CODE = "motor in its swinging speeds"
#: Kenjo and Sugawara; Acarnley: both from memory. [rev/s]
BAND_REV_PER_S = (5.0, 15.0)
#: Share of the pull that may be left there: common practice, no source. Drivers that damp the
#: swing keep nearly all of it.
KEEPS = (0.3, 1.0)
_LASTS_S = 0.5


def mid_band(facts: Facts) -> list[Finding]:
    """For each axis the tightest moment in the band, if it stays there for a while."""
    column = facts.swept.column.astype(np.float64)
    if not len(column):
        return []
    speed = np.abs(facts.swept.motion_mm) / np.maximum(column[:, cutting.DURATION], 1e-9)[:, None]
    out = []
    for number, axis in enumerate(facts.machine.axes):
        turns = speed[:, number] / axis.lead_mm
        there = np.flatnonzero((turns >= BAND_REV_PER_S[0]) & (turns <= BAND_REV_PER_S[1]))
        seconds = float(column[there, cutting.DURATION].sum())
        if seconds < _LASTS_S:
            continue
        used = 1.0 - column[there, cutting.PULL_X + number]
        worst = int(np.argmax(used))
        asked = float(used[worst])
        chance = float(np.clip((asked - KEEPS[0]) / (KEEPS[1] - KEEPS[0]), 0.0, 1.0))
        if chance == 0.0:
            continue
        group = int(there[worst])
        name = axis.name.upper()
        slower = BAND_REV_PER_S[0] * axis.lead_mm * 60.0
        words = (
            f"{name} runs at {turns[group]:.1f} turns a second here, where such motors tend to"
            f" swing and lose part of their pull ({seconds:.0f} s in all between"
            f" {BAND_REV_PER_S[0]:g} and {BAND_REV_PER_S[1]:g}); {asked * 100:.0f} % of the pull is"
            f" used, and {KEEPS[0] * 100:.0f} to {KEEPS[1] * 100:.0f} % may be all there is"
        )
        rapid = bool(facts.tools.rapid[facts.swept.segment[group]])
        path = (
            f"controller.{axis.name}.rapid" if rapid else f"feed on line {facts.group_line(group)}"
        )
        now = turns[group] * axis.lead_mm * 60.0
        change = Change(path=path, old=f"{now:.0f} mm/min", new=f"{slower:.0f} mm/min")
        remedy = Remedy(
            words=f"Keep {name} below {slower:.0f} mm/min, or use a driver that damps the swing",
            changes=(change,),
        )
        severity: Severity = "caution" if chance >= CARE else "note"
        found = at_group(facts, group, CODE, severity, words, (asked, KEEPS[0], "share"),
                         (remedy,), chance)  # fmt: skip
        out.append(replace(found, id=f"{found.id}-{axis.name}"))
    return out
