"""Columns of moves while they grow, with the arcs, events and jumps that go with them."""

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from kerfwright.program.pieces import Piece, Turn, Vector
from kerfwright.program.problem import Fault
from kerfwright.program.program import Arcs, Event, EventKind, Jumps, MoveKind

#: More moves than this are refused: a few short lines can ask for any number of holes.
MOST_MOVES = 50_000_000
MOST_EVENTS = 1_000_000


class Mark(NamedTuple):
    """How much there was at some moment, to go back to."""

    rows: int
    arcs: int
    events: int
    jumps: int
    timed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """What goes with a move beside its geometry: the values of the other columns."""

    feed_mm_per_s: float
    slot: int
    spindle_rev_per_s: float
    path: int


class Columns:
    """Moves and what stands between them, in the order in which they happen.

    ``line`` and ``byte`` are those of the line in hand. The arrays have spare rows at their end;
    ``rows`` and ``arcs`` tell how many are in use.
    """

    def __init__(self, rows: int) -> None:
        self.rows = self.arcs = 0
        self.line = self.byte = 0
        self.events: list[Event] = []
        self.jumps: list[tuple[int, Vector]] = []
        self.timed: list[int] = []
        rows = max(rows, 16)
        self._moves: list[Any] = [
            np.empty(rows, np.uint8),  # kind
            np.empty(rows),  # feed_mm_per_s
            np.empty(rows, np.int32),  # line
            np.empty(rows, np.int32),  # byte
            np.empty(rows, np.int16),  # slot
            np.empty(rows, np.float32),  # spindle_rev_per_s
            np.empty(rows, np.uint8),  # path_mode
        ]
        # Where the first move starts, then where each ends: with a row more than the others.
        self._point: list[Any] = [np.empty((rows + 1, 3))]
        self._arcs: list[Any] = [
            np.empty(16, np.int64),  # move
            np.empty((16, 3)),  # centre_mm
            np.empty(16, np.int64),  # normal
            np.empty(16),  # sweep_rad
        ]

    def arrays(self) -> tuple[Any, ...]:
        """All arrays, in the order in which the kernel takes them."""
        kind, *others = self._moves
        return (kind, self._point[0][1:], *others, *self._arcs)

    def make_room(self) -> None:
        """See that there is at least one row more for a move and one for an arc."""
        if self.rows == len(self._moves[0]):
            self._make_moves(self.rows + self.rows // 2)
        if self.arcs == len(self._arcs[0]):
            _resize(self._arcs, 2 * self.arcs)

    def add(self, kind: MoveKind, piece: Piece, start: Vector, manner: Manner) -> None:
        """Append one move; a straight one that goes nowhere is left out."""
        if not isinstance(piece, Turn) and piece.to == start:
            return
        self.make_room()
        row = (
            int(MoveKind.ARC) if isinstance(piece, Turn) else int(kind),
            manner.feed_mm_per_s,
            self.line,
            self.byte,
            manner.slot,
            manner.spindle_rev_per_s,
            manner.path,
        )
        for array, value in zip(self._moves, row, strict=True):
            array[self.rows] = value
        self._point[0][self.rows + 1] = piece.to
        if isinstance(piece, Turn):
            turn = (self.rows, piece.centre, piece.normal, piece.sweep_rad)
            for array, figure in zip(self._arcs, turn, strict=True):
                array[self.arcs] = figure
            self.arcs += 1
        self.rows += 1

    def happens(
        self, kind: EventKind, value: float = 0.0, words: str = "", at_mm: Vector | None = None
    ) -> None:
        """Append an event that comes before the next move."""
        if len(self.events) >= MOST_EVENTS:
            raise Fault(
                "too_large",
                1,
                f"the program has more than {MOST_EVENTS} stops, dwells, messages and the like",
                "break the job into several programs",
            )
        self.events.append(
            Event(
                kind=kind,
                before_move=self.rows,
                line=self.line,
                value=value,
                words=words,
                at_mm=at_mm,
            )
        )

    def mark(self) -> Mark:
        """How much there is now."""
        return Mark(self.rows, self.arcs, len(self.events), len(self.jumps), len(self.timed))

    def back_to(self, mark: Mark) -> None:
        """Forget everything that came after ``mark``."""
        self.rows, self.arcs = mark.rows, mark.arcs
        del self.events[mark.events :], self.jumps[mark.jumps :], self.timed[mark.timed :]

    def finish(self, start: Vector) -> tuple[tuple[Any, ...], Arcs, Jumps]:
        """The columns without their spare rows, the arcs and the jumps. Nothing may be added.

        ``start``: where the first move starts. The points come first, the others as in
        ``arrays``.
        """
        self._make_moves(self.rows)
        self._point[0][0] = start
        _resize(self._arcs, self.arcs)
        move, centre, normal, sweep = self._arcs
        arcs = Arcs(move=move, centre_mm=centre, normal=normal, sweep_rad=sweep)
        jumps = Jumps(
            move=np.array([row for row, _ in self.jumps], np.int64),
            by_mm=np.array([by for _, by in self.jumps], np.float64).reshape(-1, 3),
        )
        return (*self._point, *self._moves), arcs, jumps

    def _make_moves(self, rows: int) -> None:
        """See that there are so many rows for moves, used or spare."""
        _resize(self._moves, rows)
        _resize(self._point, rows + 1)


def _resize(arrays: list[Any], rows: int) -> None:
    for array in arrays:
        # In place: the system moves the pages, nothing is copied. No view of these arrays lives
        # outside a call of the kernel.
        array.resize((rows, *array.shape[1:]), refcheck=False)
