"""Walls that come out further from the program than the part may be."""

from collections.abc import Iterator
from dataclasses import replace
from math import erf, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Estimate, Finding, Remedy
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.kernels import cutting
from kerfwright.loads import edge_law_for
from kerfwright.loads.teeth import SideCuts, mean_n, side_arcs
from kerfwright.prove.facts import Facts
from kerfwright.prove.likely import CARE
from kerfwright.prove.remedies import DEPTHS, Lines, shallower, tried
from kerfwright.prove.verdict import AsCut, Wall

CODE = "wall off size"
MOST_TOLD = 6
#: Wood that a last pass may be left. [mm]
_LEFT_MM = (1.0, 0.5, 0.3, 0.2, 0.1)


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
    return _outside(offset.value, u, tolerance_mm)


def beyond_mm(told: Estimate, meant_mm: float, tolerance_mm: float) -> float:
    """Probability that a size is off by more than the tolerance."""
    u = max((told.high - told.low) / (2.0 * TWO_SIDED_95), 1e-6)
    return _outside(told.value - meant_mm, u, tolerance_mm)


def _outside(off_mm: float, u_mm: float, tolerance_mm: float) -> float:
    scale = sqrt(2.0) * u_mm
    return 1.0 - 0.5 * (erf((tolerance_mm - off_mm) / scale) + erf((tolerance_mm + off_mm) / scale))


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
        segment = int((facts.line == wall.first_line).argmax())
        found = Finding(
            id=f"wall-off-size-{wall.first_line}-{wall.side}",
            code=CODE,
            severity="caution",
            words=words,
            value=replace(offset),
            limit=tolerance_mm,
            unit="mm",
            likelihood=chance,
            line=wall.first_line,
            time_s=facts.start_s(segment),
            spot=wall.spot,
        )
        yield replace(found, remedies=_remedies(facts, wall, tolerance_mm, found))


def _remedies(facts: Facts, wall: Wall, tolerance_mm: float, found: Finding) -> tuple[Remedy, ...]:
    """A last light pass, tried; or what to measure where it is not the cut that rules."""
    lines = Lines(first=wall.first_line, last=wall.last_line)
    line = facts.line[facts.swept.segment]
    mine = np.flatnonzero((line >= lines.first) & (line <= lines.last) & facts.cuts)
    out = list(_last_pass(facts, wall, tolerance_mm, found, lines, mine)) if len(mine) else []
    if len(mine):
        out += _less_deep(facts, wall, tolerance_mm, found, lines, mine)
    if out:
        return tuple(out)
    sizes = {
        "set-up": abs(wall.shares.set_up.mm) + wall.shares.set_up.unsure_mm,
        "machine": abs(wall.shares.machine.mm) + wall.shares.machine.unsure_mm,
        "cut": abs(wall.shares.cut.mm) + wall.shares.cut.unsure_mm,
    }
    words = {
        "set-up": "Measure the cutter and its runout, and set zero with an edge finder",
        "machine": "Measure the play and how far the axes go, and write it into machine.toml",
        "cut": "Take less depth in one pass, hold the cutter shorter or take a thicker one",
    }[max(sizes, key=lambda name: sizes[name])]
    least = min(_LEFT_MM)
    tail = f": down to {least:g} mm a light last pass does not bring it right, nor does less depth"
    return (Remedy(words=words + tail, not_tried="what will be measured is not known yet"),)


def _last_pass(
    facts: Facts, wall: Wall, tolerance_mm: float, found: Finding, lines: Lines,
    mine: NDArray[np.int64],
) -> Iterator[Remedy]:  # fmt: skip
    """The most wood left for a last pass with which the wall is likely right."""
    zero_u = max(facts.setup.zero_u_mm[:2])
    for mm, share in light_passes(facts, mine, wall.side):
        after = _with_share(wall, share)
        chance = beyond(after, tolerance_mm, zero_u)
        if share < 1.0 and chance < CARE:
            says = f"With {mm:g} mm left for a last pass"
            change = Change(
                path=lines.words, old="cut once", new=f"again with {mm:g} mm left for it"
            )
            yield Remedy(
                words=f"Leave {mm:g} mm of wood and take it in a last pass along this wall",
                changes=(change,),
                tried=tried(found, says, after.offset, chance),
                more_s=lines.passed_s(facts, 2),
            )
            return


def light_passes(
    facts: Facts, mine: NDArray[np.int64], side: Literal["left", "right"]
) -> list[tuple[float, float]]:
    """Wood left for a last pass [mm], and the share of the push at the wall that is then left.

    ``mine``: groups of one cutter that cut along the wall; ``side``: where the wall is.
    """
    cutter = facts.setup.slots[int(facts.tools.slot[facts.swept.segment[mine[0]]])]
    column = facts.swept.column[mine].astype(np.float64)
    width = min(float(np.median(column[:, cutting.WIDTH])), cutter.diameter_mm)
    left = [mm for mm in _LEFT_MM if mm < 0.5 * width]
    if not left or cutter.shape not in ("flat", "bull", "ball"):
        return []
    motion = facts.swept.motion_mm[mine[0]].astype(np.float64)
    many = np.ones(1 + len(left))
    cuts = SideCuts(
        heading_rad=many * np.arctan2(motion[1], motion[0]),
        side=many * (1.0 if side == "left" else -1.0),
        width_mm=np.array([width, *left]),
        depth_mm=many * float(np.median(column[:, cutting.DEPTH])),
        feed_per_tooth_mm=many * float(np.median(column[:, cutting.FEED_PER_TOOTH])),
    )
    law = edge_law_for(facts.setup.board, cutter)
    force = np.abs((mean_n(side_arcs(law, cutter, cuts)) * np.exp(-1j * cuts.wall_rad)).real)
    return list(zip(left, (force[1:] / max(force[0], 1e-9)).tolist(), strict=True))


def _less_deep(
    facts: Facts, wall: Wall, tolerance_mm: float, found: Finding, lines: Lines,
    mine: NDArray[np.int64],
) -> Iterator[Remedy]:  # fmt: skip
    """The largest depth in one pass with which the wall is likely right: the force goes with it."""
    deep = float(np.median(facts.swept.column[mine, cutting.DEPTH]))
    for share in DEPTHS:
        after = _with_share(wall, share)
        chance = beyond(after, tolerance_mm, max(facts.setup.zero_u_mm[:2]))
        if chance >= CARE:
            continue
        yield shallower(facts, found, share, lines, (after.offset, chance), deep, "Or take")
        return


def _with_share(wall: Wall, share: float) -> Wall:
    """The wall with so much of the force that stands square to it."""
    cut = wall.shares.cut
    told = without_push(wall.offset, cut.mm * (1.0 - share), cut.unsure_mm, share)
    return replace(wall, offset=told)


def without_push(told: Estimate, less_mm: float, unsure_mm: float, share: float) -> Estimate:
    """A figure with a share of the push left, which moved it ``less_mm`` further before.

    ``unsure_mm``: how far the whole push may move it, half width of nineteen times in twenty.
    """
    middle = told.value - less_mm
    whole = 0.5 * (told.high - told.low)
    half = sqrt(max(whole**2 - (1.0 - share**2) * unsure_mm**2, 0.0))
    return replace(told, value=middle, low=middle - half, high=middle + half, mostly_from="")
