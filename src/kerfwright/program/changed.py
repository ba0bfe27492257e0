"""A program with moves put in another order, run again, put in, or fed otherwise.

For trying what a change would do. Nothing of it is written: what is cut is read from a file.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.program.program import Arcs, Event, MoveKind, Program

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


class CannotChange(Exception):
    """A program whose moves cannot be taken apart; says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """A straight move that the program does not have."""

    to_mm: tuple[float, float, float]
    feed_mm_per_s: float = 0.0  #: 0: at rapid


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Moves of the program, one after the other."""

    first: int  #: from 0
    end: int  #: the one after the last
    up_mm: float = 0.0  #: so much higher than the program has them


Step = Run | Put


def with_feeds(program: Program, moves: BoolArray, share: float) -> Program:
    """The same moves, those that are marked at another share of their feed. ``moves`` (n,)."""
    feed = np.where(moves, program.feed_mm_per_s * share, program.feed_mm_per_s)
    return replace(program, feed_mm_per_s=feed)


def of_steps(program: Program, steps: list[Step]) -> Program:
    """A program made of moves of this one and of moves put in between.

    Parameters
    ----------
    steps : list
        Moves of the program or moves to put in, in their new order. What happens before a move
        happens before it each time; the end of the program stays the end.

    Raises
    ------
    CannotChange
        If the place jumps by a length offset within the program: moves then hang together.
    """
    if len(program.jumps.move):
        raise CannotChange("lengths of cutters are called up in it (G43)")
    index = np.concatenate([np.zeros(0, np.int64), *map(_numbers, steps)])
    put = index < 0
    # A move put in goes on with the cutter and the speed of the one before it.
    kept = np.maximum.accumulate(np.where(put, -1, np.arange(len(index))))
    of = np.where(kept >= 0, index[np.maximum(kept, 0)], 0)
    end, feed, kind = program.end_mm[of].copy(), program.feed_mm_per_s[of].copy(), program.kind[of]
    up = np.concatenate([np.zeros(0), *(np.full(_count(one), _up_mm(one)) for one in steps)])
    end[:, 2] += up
    own = [one for one in steps if isinstance(one, Put)]
    end[put] = np.array([one.to_mm for one in own]).reshape(-1, 3)
    feed[put] = [one.feed_mm_per_s for one in own]
    kind[put] = np.where(feed[put] > 0.0, MoveKind.LINE, MoveKind.RAPID)
    return replace(
        program, kind=kind, point_mm=np.vstack([program.start_mm, end]), feed_mm_per_s=feed,
        line=program.line[of], byte=program.byte[of], slot=program.slot[of],
        spindle_rev_per_s=program.spindle_rev_per_s[of], path_mode=program.path_mode[of],
        arcs=_arcs(program, index, up), events=_events(program, index),
        timed_moves=np.flatnonzero(np.isin(index, program.timed_moves)),
    )  # fmt: skip


def _count(step: Step) -> int:
    return 1 if isinstance(step, Put) else step.end - step.first


def _up_mm(step: Step) -> float:
    return 0.0 if isinstance(step, Put) else step.up_mm


def _numbers(step: Step) -> IntArray:
    """Numbers of the program's moves; -1 for one that is put in."""
    if isinstance(step, Put):
        return np.array([-1], np.int64)
    return np.arange(step.first, step.end, dtype=np.int64)


def _arcs(program: Program, index: IntArray, up_mm: FloatArray) -> Arcs:
    arcs = program.arcs
    row = np.full(program.moves + 1, -1, np.int64)  # the last for those put in
    row[arcs.move] = np.arange(len(arcs.move))
    move = np.flatnonzero(row[index] >= 0)
    of = row[index[move]]
    centre = arcs.centre_mm[of].copy()
    centre[:, 2] += up_mm[move]
    return Arcs(move=move, centre_mm=centre, normal=arcs.normal[of], sweep_rad=arcs.sweep_rad[of])


def _events(program: Program, index: IntArray) -> tuple[Event, ...]:
    out: list[Event] = []
    for event in program.events:
        if event.before_move >= program.moves:
            out.append(replace(event, before_move=len(index)))
            continue
        places = np.flatnonzero(index == event.before_move)
        out += [replace(event, before_move=int(place)) for place in places]
    return tuple(sorted(out, key=lambda event: event.before_move))
