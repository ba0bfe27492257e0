"""Flutes shorter than the wood that they stand in."""

from dataclasses import replace

import numpy as np

from kerfwright.basics import Finding, Remedy, Severity
from kerfwright.kernels import cutting
from kerfwright.prove.another_cutter import alike, in_its_place, why_not, with_cutter
from kerfwright.prove.certain import rubbing
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import Lines, tried

CODE = "flutes too short"


def flutes(facts: Facts) -> list[Finding]:
    """The deepest place of each cutter whose flutes end in the wood."""
    out = []
    for slot, cutter in sorted(facts.setup.slots.items()):
        over = rubbing(facts, slot)
        if not len(over):
            continue
        deepest = float(facts.swept.column[over, cutting.DEPTH].max())
        known = cutter.known.get("flute_length_mm")
        low, high = known.interval() if known else (cutter.flute_length_mm,) * 2
        sure = known is None or known.kind in ("measured", "datasheet") or deepest > high
        likelihood = None if sure else float(np.clip((deepest - low) / (high - low), 0.0, 1.0))
        words = (
            f"Wood stands {deepest:.2f} mm above the tip of cutter {slot} ({cutter.name}), and its"
            f" flutes are {cutter.flute_length_mm:.1f} mm long: the shank rubs and burns"
        )
        worst = int(over[np.argmax(facts.swept.column[over, cutting.DEPTH])])
        measure = (deepest, cutter.flute_length_mm, "mm")
        severity: Severity = "stop" if sure else "caution"
        found = at_group(facts, worst, CODE, severity, words, measure, (), likelihood)
        remedies = _remedies(facts, slot, found, Lines.of(facts, over))
        out.append(replace(found, remedies=remedies))
    return out


def _remedies(facts: Facts, slot: int, found: Finding, lines: Lines) -> tuple[Remedy, ...]:
    deepest = found.value.value
    out: list[Remedy] = []
    reasons: list[str] = []
    for cutter in sorted(alike(facts, slot), key=lambda one: one.stick_out_mm):
        after = with_cutter(facts, slot, cutter)
        against = why_not(facts, slot, cutter)
        if against or len(rubbing(after, slot)):
            reasons.append(f"{cutter.name} of the rack: {against or 'its flutes rub'}")
            continue
        told = tried(
            found, f"With {cutter.name} nothing rubs", exact(deepest), None, cutter.flute_length_mm
        )
        out.append(in_its_place(facts, slot, cutter, told))
        break
    if not out:
        against = "; ".join(reasons) or "the rack has no other cutter of this shape and width"
        out.append(
            Remedy(words=f"Use a cutter with flutes of {deepest:.1f} mm or more", not_tried=against)
        )
    own = facts.setup.slots[slot].diameter_mm
    out.append(
        Remedy(
            words=f"Or first clear the wood beside {lines.words}, so that the shank stands free",
            not_tried=f"a wider cut needs a path of its own: {own:g} mm and a little, from the top"
            f" to {max(deepest - facts.setup.slots[slot].flute_length_mm, 0.0):.1f} mm deeper than"
            " the flutes reach",
        )
    )
    return tuple(out)
