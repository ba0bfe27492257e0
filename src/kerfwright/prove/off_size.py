"""Walls that come out further from the program than the part may be."""

from collections.abc import Iterator
from dataclasses import replace
from math import erf, sqrt

from kerfwright.basics import Change, Finding, Remedy
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.prove.facts import Facts
from kerfwright.prove.likely import CARE
from kerfwright.prove.verdict import AsCut, Wall

CODE = "wall off size"
MOST_TOLD = 6


def off_size(facts: Facts, ascut: AsCut | None) -> list[Finding]:
    """The walls that are likely out by more than the tolerance, the worst first."""
    if ascut is None:
        return []
    # Where zero stands moves all walls alike: the part keeps its size.
    zero_u = max(facts.setup.zero_u_mm[:2])
    judged = sorted(
        ((beyond(wall, ascut.tolerance_mm, zero_u), wall) for wall in ascut.walls),
        key=lambda one: (-one[0], -abs(one[1].offset.value), one[1].first_line),
    )
    likely = [(chance, wall) for chance, wall in judged if chance >= CARE]
    return list(_told(facts, ascut.tolerance_mm, likely))


def beyond(wall: Wall, tolerance_mm: float, zero_u_mm: float = 0.0) -> float:
    """Probability that a wall stands further off than the tolerance, zero set as it was meant."""
    offset = wall.offset
    whole = (offset.high - offset.low) / (2.0 * TWO_SIDED_95)
    u = max(sqrt(max(whole**2 - zero_u_mm**2, 0.0)), 1e-6)
    scale = sqrt(2.0) * u
    return 1.0 - 0.5 * (
        erf((tolerance_mm - offset.value) / scale) + erf((tolerance_mm + offset.value) / scale)
    )


def _told(facts: Facts, tolerance_mm: float, likely: list[tuple[float, Wall]]) -> Iterator[Finding]:
    for chance, wall in likely[:MOST_TOLD]:
        offset = wall.offset
        side = "proud" if offset.value > 0.0 else "shy"
        more = len(likely) - MOST_TOLD
        tail = (
            f" ({more} more walls are out like this)" if more > 0 and wall is likely[0][1] else ""
        )
        words = (
            f"The wall on the {wall.side} of this cut comes out {abs(offset.value):.2f} mm {side}"
            f" on average, {wall.length_mm:.0f} mm long; the part may be out by"
            f" {tolerance_mm:.2f} mm{tail}"
        )
        # The wood that a last pass leaves to take bends the cutter about as its width does.
        share = tolerance_mm / max(abs(offset.value), 1e-9)
        change = Change(
            path=f"lines {wall.first_line} to {wall.last_line}",
            old="cut once",
            new=f"again with {min(0.5 * share, 0.5):.1f} mm left for it",
        )
        remedies = (
            Remedy(
                words="Leave a little wood and take it in a last light pass along this wall",
                changes=(change,),
            ),
            Remedy(words="Or take less depth in one pass, or let the cutter stick out less"),
        )
        segment = int((facts.line == wall.first_line).argmax())
        yield Finding(
            id=f"wall-off-size-{wall.first_line}-{wall.side}",
            code=CODE,
            severity="caution",
            words=words,
            value=replace(offset),
            limit=tolerance_mm,
            unit="mm",
            likelihood=chance,
            line=wall.first_line,
            time_s=float(facts.start_s[segment]),
            spot=wall.spot,
            remedies=remedies,
        )
