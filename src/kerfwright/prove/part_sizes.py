"""Parts that are likely to come out too large or too small."""

from collections.abc import Iterator
from dataclasses import replace
from math import hypot

import numpy as np

from kerfwright.basics import Change, Finding, Remedy
from kerfwright.kernels import cutting
from kerfwright.prove.facts import Facts
from kerfwright.prove.likely import CARE
from kerfwright.prove.off_size import beyond_mm, light_passes, without_push
from kerfwright.prove.remedies import Lines, tried
from kerfwright.prove.verdict import AsCut, CutOut, Dimension, Shares

CODE = "part off size"
MOST_TOLD = 6


def part_sizes(facts: Facts, ascut: AsCut | None) -> list[Finding]:
    """A caution for each part with a size that is likely beyond the tolerance, the worst size."""
    if ascut is None:
        return []
    worst = [
        (part, max(part.dimensions, key=lambda one: one.likelihood))
        for part in ascut.parts
        # What falls out of a hole is seldom the part that is wanted.
        if part.dimensions and not part.inside
    ]
    likely = [(part, size) for part, size in worst if size.likelihood >= CARE]
    likely.sort(key=lambda pair: (-pair[1].likelihood, pair[0].number))
    return list(_told(facts, ascut, likely))


def part_words(part: CutOut) -> str:
    """A part as one speaks of it."""
    return f"part {part.number}" if part.number else "what is left of the board"


def _told(facts: Facts, ascut: AsCut, likely: list[tuple[CutOut, Dimension]]) -> Iterator[Finding]:
    for part, size in likely[:MOST_TOLD]:
        told, more, tolerance = size.size, len(likely) - MOST_TOLD, ascut.tolerance_mm
        tail = (
            f" ({more} more parts are out like this)" if more > 0 and part is likely[0][0] else ""
        )
        name = part_words(part)
        words = (
            f"{name[0].upper()}{name[1:]}, {size.name}, comes out {told.value:.2f} mm"
            f" ({told.low:.2f} to {told.high:.2f} mm, nineteen times in twenty) where the program"
            f" has {size.programmed_mm:.2f} mm; it may be out by {tolerance:.2f} mm{tail}"
        )
        key = size.name.replace(" ", "-").lower()
        found = Finding(
            id=f"part-off-size-{part.number}-{key}",
            code=CODE,
            severity="caution",
            words=words,
            value=told,
            limit=size.programmed_mm
            + tolerance * (1.0 if told.value > size.programmed_mm else -1.0),
            unit="mm",
            likelihood=size.likelihood,
            spot=size.spot,
        )
        remedies = (*_light_pass(facts, size, tolerance, found), *_drawn(size, tolerance, found))
        yield replace(found, remedies=remedies or (_measured(size.shares),))


def _light_pass(
    facts: Facts, size: Dimension, tolerance_mm: float, found: Finding
) -> Iterator[Remedy]:
    """The most wood left for a last pass round the part with which it is likely right."""
    through = np.flatnonzero(
        facts.cuts & (facts.swept.column[:, cutting.Z] <= -facts.setup.board.thickness_mm + 1e-4)
    )
    if not len(through):
        return
    slots = facts.tools.slot[facts.swept.segment[through]]
    slot = int(np.bincount(slots).argmax())
    mine = through[slots == slot]
    cut = size.shares.cut
    for mm, share in light_passes(facts, mine, "left"):
        after = without_push(size.size, cut.mm * (1.0 - share), cut.unsure_mm, share)
        chance = beyond_mm(after, size.programmed_mm, tolerance_mm)
        if share >= 1.0 or chance >= CARE:
            continue
        lines = Lines.of(facts, mine)
        says = f"With {mm:g} mm left for a last pass"
        yield Remedy(
            words=f"Leave {mm:g} mm of wood and take it in a last pass round the part",
            changes=(
                Change(path=lines.words, old="cut once", new=f"again with {mm:g} mm left for it"),
            ),
            tried=tried(found, says, after, chance),
            more_s=lines.passed_s(facts, 2),
        )
        return


def _drawn(size: Dimension, tolerance_mm: float, found: Finding) -> Iterator[Remedy]:
    """Drawn larger or smaller by what it comes out wrong."""
    mm = size.programmed_mm - size.size.value
    after = replace(
        size.size, value=size.size.value + mm, low=size.size.low + mm, high=size.size.high + mm
    )
    chance = beyond_mm(after, size.programmed_mm, tolerance_mm)
    if chance >= min(CARE, 0.5 * size.likelihood):
        return
    new, way = size.programmed_mm + mm, "larger" if mm > 0.0 else "smaller"
    yield Remedy(
        words=f"Or draw it {new:.2f} mm, {abs(mm):.2f} mm {way}",
        changes=(
            Change(
                path=f"{size.name} in the drawing", old=f"{size.programmed_mm:.2f} mm",
                new=f"{new:.2f} mm",
            ),
        ),
        tried=tried(found, "Drawn like that it measures", after, chance),
        more_s=0.0,
    )  # fmt: skip


def _measured(shares: Shares) -> Remedy:
    """What to measure where neither a light pass nor another size in the drawing is enough."""
    whole = {
        "set-up": hypot(shares.set_up.mm, shares.set_up.unsure_mm),
        "machine": hypot(shares.machine.mm, shares.machine.unsure_mm),
        "cut": hypot(shares.cut.mm, shares.cut.unsure_mm),
    }
    words = {
        "set-up": "Measure the cutter with calipers and its runout with a dial, and write both"
        " into cutters.toml",
        "machine": "Measure play, squareness and how far the axes go, and write them into"
        " machine.toml",
        "cut": "Cut a test piece and type in what it measures: that narrows the force most",
    }
    return Remedy(
        words=words[max(whole, key=lambda name: whole[name])],
        not_tried="a light last pass and another size in the drawing were, and neither is enough:"
        " too much of it is not known",
    )
