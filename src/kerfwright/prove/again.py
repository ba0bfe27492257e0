"""What a change of the program does to its time: the changed program is planned like any other."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.machine import MachineModel
from kerfwright.program import MoveKind, Program
from kerfwright.program.changed import CannotChange, Put, Run, Step, of_steps, with_feeds
from kerfwright.prove.facts import Facts
from kerfwright.trajectory import StandsStill, TooManyPieces, plan

BoolArray = NDArray[np.bool_]


def more_s(
    facts: Facts, program: Program | None = None, machine: MachineModel | None = None
) -> float | None:
    """How much longer another program, or another machine, takes; None where it is not known.

    Corners, starts and stops are in it: the machine's way with them is planned anew.
    """
    program = program or facts.program
    if program is None:
        return None
    try:
        after = plan(program, machine or facts.machine, in_spindle=facts.setup.in_spindle)
    except (StandsStill, TooManyPieces):
        return None
    return after.time_s - facts.trajectory.time_s


def fed(facts: Facts, first: int, last: int, share: float) -> float | None:
    """The same with the feed of some lines at another share."""
    program = facts.program
    if program is None:
        return None
    return more_s(facts, with_feeds(program, _at_feed(program, first, last), share))


def passed_again(
    facts: Facts, first: int, last: int, passes: int, deep_mm: float = 0.0
) -> float | None:
    """The same with so many passes along some lines for each one.

    Between them it lifts, goes back to where the first began, and down again. ``deep_mm``: how deep
    the one pass cuts, which the many go down by steps; 0: all at the same height.
    """
    program = facts.program
    if program is None:
        return None
    moves = np.flatnonzero(_at_feed(program, first, last))
    if not len(moves) or passes < 2:
        return None
    a, b = int(moves[0]), int(moves[-1]) + 1
    up = [deep_mm * (1.0 - k / passes) for k in range(1, passes + 1)]
    begin, end = program.from_mm[a], program.end_mm[b - 1]
    down = a > 0 and bool(program.kind[a - 1] != MoveKind.RAPID)
    feed = float(program.feed_mm_per_s[a - 1]) if down else 0.0
    clear = max(clear_z_mm(facts, program), float(begin[2]), float(end[2]))
    steps: list[Step] = [Run(first=0, end=a - 1 if down else a)]
    if down:
        steps.append(Run(first=a - 1, end=a, up_mm=up[0]))
    for number, mm in enumerate(up):
        if number:
            steps += [
                Put(to_mm=(float(end[0]), float(end[1]), clear)),
                Put(to_mm=(float(begin[0]), float(begin[1]), clear)),
                # As it came down the first time: at feed into the wood, or at rapid above it.
                Put(
                    to_mm=(float(begin[0]), float(begin[1]), float(begin[2]) + mm),
                    feed_mm_per_s=feed,
                ),
            ]
        steps.append(Run(first=a, end=b, up_mm=mm))
    return changed_s(facts, [*steps, Run(first=b, end=program.moves)])


def changed_s(facts: Facts, steps: list[Step]) -> float | None:
    """The same with the moves in another order, or with moves put in."""
    if facts.program is None:
        return None
    try:
        return more_s(facts, of_steps(facts.program, steps))
    except CannotChange:
        return None


def clear_z_mm(facts: Facts, program: Program) -> float:
    """The height at which this program goes from one place to the next. [mm, program's frame]"""
    top = facts.setup.board.highest_mm - facts.setup.zero_on_board_mm[2]
    z = program.end_mm[program.kind == MoveKind.RAPID, 2]
    above = z[z > top]
    return float(above.min()) if len(above) else top + 5.0


def _at_feed(program: Program, first: int, last: int) -> BoolArray:
    return np.asarray(
        (program.line >= first) & (program.line <= last) & (program.kind != MoveKind.RAPID)
    )
