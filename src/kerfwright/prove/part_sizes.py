"""Parts that are likely to come out too large or too small."""

from collections.abc import Iterator
from math import hypot

from kerfwright.basics import Finding, Remedy
from kerfwright.prove.likely import CARE
from kerfwright.prove.verdict import AsCut, CutOut, Dimension, Shares

CODE = "part off size"
MOST_TOLD = 6


def part_sizes(ascut: AsCut | None) -> list[Finding]:
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
    return list(_told(ascut, likely))


def part_words(part: CutOut) -> str:
    """A part as one speaks of it."""
    return f"part {part.number}" if part.number else "what is left of the board"


def _told(ascut: AsCut, likely: list[tuple[CutOut, Dimension]]) -> Iterator[Finding]:
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
        yield Finding(
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
            remedies=(_remedy(size.shares),),
        )


def _remedy(shares: Shares) -> Remedy:
    """What helps with the largest of set-up, machine and cut."""
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
        "cut": "Leave a little wood and take it in a last light pass round the part",
    }
    return Remedy(words=words[max(whole, key=lambda name: whole[name])])
