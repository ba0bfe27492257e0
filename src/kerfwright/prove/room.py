"""No room beside the cut: what stands above the flutes in wood that still stands."""

from collections.abc import Iterable
from dataclasses import replace
from math import ceil

from kerfwright.basics import Finding, Remedy, Severity, Spot
from kerfwright.machine import MachineModel
from kerfwright.prove.bodies import (
    CUTTER,
    SHANK,
    Body,
    bodies,
    higher,
    part_of_spread,
    shank_of,
    tried,
)
from kerfwright.prove.certain import rubbing
from kerfwright.prove.facts import Facts
from kerfwright.prove.margins import exact
from kerfwright.prove.standing import Met, standing
from kerfwright.setup import Setup

CODE = "wood in the way"
_TRIES = 4


def room(facts: Facts) -> tuple[list[Finding], list[str]]:
    """For each cutter and body the first time that it meets wood; and what was left open."""
    mine = _bodies(facts.setup, facts.machine)
    told, left_open = [], []
    for body, met in zip(mine, standing(facts, mine), strict=True):
        if met is None or (body.name == SHANK and len(rubbing(facts, body.slot))):
            continue
        if met.left_open:
            left_open.append(
                f"whether the {body.name} of cutter {body.slot} clears the wood on"
                f" {met.left_open} steps: there are too many to look at each"
            )
        if len(met.number):
            told.append(_finding(facts, body, met))
    return told, left_open


def _bodies(setup: Setup, machine: MachineModel) -> list[Body]:
    out = []
    # The board and its cuts move with zero; only how high the board's top is does not.
    level = replace(setup, zero_u_mm=(0.0, 0.0, setup.zero_u_mm[2]))
    for body in bodies(level, machine):
        shank = shank_of(body.slot, setup.slots[body.slot]) if body.name == CUTTER else body
        if shank is not None:
            out.append(shank)
    return out


def _as_sure(body: Body, share: float = 1.0) -> Body:
    return replace(body, most=body.most + share * (body.sure - body.most))


def _finding(facts: Facts, body: Body, met: Met) -> Finding:
    sure = None
    if body.given and len(body.sure) == len(body.most):
        (sure,) = standing(facts, [_as_sure(body)])
        sure = sure if sure is not None and len(sure.number) else None
    severity: Severity = "caution" if sure is None else "stop"
    met = met if sure is None else sure
    likelihood = None
    if sure is None:
        likelihood = part_of_spread(
            body, lambda _, share: next(iter(standing(facts, [_as_sure(body, share)])))
        )
    segment = int(met.segment[0])
    line, worst = int(facts.line[segment]), int(facts.line[met.deepest_segment])
    lines = len(set(facts.line[met.segment].tolist()))
    cutter = facts.setup.slots[body.slot]
    words = (
        f"The {body.name} above cutter {body.slot} ({cutter.name})"
        f" {'goes' if sure else 'may go'} {met.deepest_mm:.1f} mm into wood that still stands there"
    )
    if lines > 1:
        words += f"; first here, deepest on line {worst}, on {lines} lines in all"
    if sure is None and body.unknown:
        taken = ", ".join(body.unknown)
        words += f" (not measured, so taken as wide and low as is usual: {taken})"
    elif sure is None:
        words += " (within the spread of what was measured)"
    x, y, z = facts.on_board(facts.trajectory.point_mm[segment + 1]).tolist()
    found = Finding(
        id=f"wood-in-the-way-{line}-{body.name}-{body.slot}".replace(" ", "-"),
        code=CODE,
        severity=severity,
        words=words,
        value=exact(met.deepest_mm),
        limit=0.0,
        unit="mm",
        likelihood=likelihood,
        line=line,
        step=int(met.number[0]),
        time_s=facts.start_s(segment),
        spot=Spot(x_mm=x, y_mm=y, z_mm=z),
    )
    return replace(found, remedies=tuple(_remedies(facts, body, met, found)))


def _remedies(facts: Facts, body: Body, met: Met, found: Finding) -> Iterable[Remedy]:
    if body.name == SHANK:
        yield Remedy(
            words="Use a cutter with longer flutes, or with a shank no wider than it cuts",
            not_tried="name it in its slot and prove it again",
        )
    else:
        mm = 0
        deep = met.deepest_mm
        for _ in range(_TRIES):
            mm += max(1, ceil(deep + 0.1))
            (after,) = standing(facts, [body.raised(mm)])
            if after is None:
                words = f"With {mm} mm more the {body.name} clears the wood"
                yield higher(facts.setup, facts.machine, body, mm, tried(found, words))
                break
            deep = after.deepest_mm
    yield Remedy(
        words=f"Or first clear the wood above as wide as the {body.name} needs",
        not_tried="a wider cut needs a path of its own",
    )
