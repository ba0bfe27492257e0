"""What a program says, as columns."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.program_lines import find_line

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
_LINE_END = re.compile(rb"[\r\n]")


class MoveKind(IntEnum):
    """Values of the ``kind`` column."""

    RAPID = 0
    LINE = 1
    ARC = 2  #: circular or helical, either sense: see ``Arcs``


class PathMode(IntEnum):
    """Values of the ``path_mode`` column: how corners may be taken."""

    CONTINUOUS = 0  #: G64
    EXACT_PATH = 1  #: G61
    EXACT_STOP = 2  #: G61.1


EventKind = Literal[
    "dwell",
    "stop",
    "optional_stop",
    "end",
    "cutter",
    "spindle",
    "coolant",
    "message",
    "sync",
    "probe",
    "tolerance",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happens between moves.

    ``value``: seconds of a dwell; slot of a cutter change; rev/s of the spindle, positive
    clockwise seen from above, 0 stopped; coolant 0 off, 1 mist, 2 flood, 3 both; feed of spindle
    and axis tied together (sync) 1 or 0; feed of a probing move, mm/s; path tolerance of G64 P, mm,
    below 0 when the machine's own holds again. ``words``: the text of a
    message; "pallet" for a stop with a change of pallets; "orient" for a spindle stopped at its
    marked angle.
    """

    kind: EventKind
    before_move: int  #: index of the move that it comes before; the number of moves for the end
    line: int
    value: float = 0.0
    words: str = ""
    at_mm: tuple[float, float, float] | None = None  #: programmed end of a probing move


@dataclass(frozen=True, slots=True, kw_only=True)
class Arcs:
    """Side table of the moves that are arcs. All arrays have one row for each arc.

    The radius at the end may differ from that at the start by as much as the rules of reading
    allow (0.002 mm by the standard); take it as changing evenly with the angle.
    """

    move: IntArray  #: (k,) index into the moves, rising
    centre_mm: FloatArray  #: (k, 3); along the axis: the start of the arc
    normal: IntArray  #: (k,) 0, 1, 2: the axis that the arc turns about, X, Y or Z
    sweep_rad: FloatArray  #: (k,) signed, right-handed about the axis; up to 2 pi in size


@dataclass(frozen=True, slots=True, kw_only=True)
class Jumps:
    """Where the numbers of the place change and the machine does not move (G43, G49).

    A length offset makes the cutter's tip the controlled point, so Z jumps before the next move.
    """

    move: IntArray  #: (k,) index of the move before which it happens, not falling
    by_mm: FloatArray  #: (k, 3) new place minus old place


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """How everything stands when the program has ended."""

    modes: Mapping[str, str]  #: "motion", "plane", "units", ... to the code in force
    g92_mm: tuple[float, float, float]
    gauge_z_mm: float  #: Z of the spindle's gauge point
    parameters: Mapping[int, float]  #: those that are not 0
    messages: tuple[str, ...]


NO_JUMPS = Jumps(move=np.zeros(0, np.int64), by_mm=np.zeros((0, 3)))
NOTHING_AFTER = After(modes={}, g92_mm=(0.0, 0.0, 0.0), gauge_z_mm=0.0, parameters={}, messages=())


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """A cutting program as read: its text, its moves, its events, and what it got wrong.

    Positions are of the controlled point, in the frame whose origin is the zero of the set-up
    (system 1 of the standard) before any corner is rounded. Lengths mm, feeds mm/s, spindle
    rev/s, whatever units the text uses.
    """

    file: str
    text: bytes
    sha256: str
    dialect: str  #: name of the reading rules
    lines: int  #: lines in the file
    point_mm: FloatArray  #: (n + 1, 3) where the first move starts, then where each ends
    kind: NDArray[np.uint8]  #: (n,) MoveKind
    feed_mm_per_s: FloatArray  #: (n,) along the path; 0 for rapids
    line: NDArray[np.int32]  #: (n,) line in the text, from 1
    byte: NDArray[np.int32]  #: (n,) offset of that line's first byte
    slot: NDArray[np.int16]  #: (n,) slot of the cutter in the spindle; 0 before any change
    spindle_rev_per_s: NDArray[np.float32]  #: (n,) as commanded, clockwise positive
    path_mode: NDArray[np.uint8]  #: (n,) PathMode
    arcs: Arcs
    events: tuple[Event, ...]
    notes: tuple[str, ...] = ()  #: each thing tolerated or assumed in reading, in words
    jumps: Jumps = NO_JUMPS
    #: (k,) moves whose feed comes from a time given for the whole move (G93)
    timed_moves: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))
    after: After = NOTHING_AFTER
    #: mm in one unit of the program's numbers; None where it changes after the first move
    unit_mm: float | None = 1.0
    unit_said: bool = True  #: whether the program states its units before its first move

    @property
    def moves(self) -> int:
        """How many moves there are."""
        return len(self.kind)

    @property
    def start_mm(self) -> FloatArray:
        """Where the first move starts, (3,). [mm]"""
        return np.asarray(self.point_mm[0])

    @property
    def end_mm(self) -> FloatArray:
        """Where each move ends, (n, 3). [mm]"""
        return self.point_mm[1:]

    @property
    def from_mm(self) -> FloatArray:
        """Where each move starts, (n, 3). [mm]"""
        start = np.empty_like(self.end_mm)
        if len(start):
            start[0] = self.start_mm
            start[1:] = self.end_mm[:-1]
            for move, by_mm in zip(self.jumps.move, self.jumps.by_mm, strict=True):
                if move < len(start):
                    start[move] += by_mm
        return start

    def starts_mm(self, move: IntArray) -> FloatArray:
        """Where some moves start, (k, 3): ``from_mm`` of them alone. [mm]"""
        start = np.where((move > 0)[:, None], self.end_mm[move - 1], self.start_mm)
        for at, by_mm in zip(self.jumps.move, self.jumps.by_mm, strict=True):
            start[move == at] += by_mm
        return np.asarray(start)

    @property
    def place_at_end_mm(self) -> tuple[float, float, float]:
        """Where the controlled point is when the program has ended. [mm]"""
        last = self.end_mm[-1] if self.moves else self.start_mm
        late = self.jumps.move == self.moves
        x, y, z = (last + self.jumps.by_mm[late].sum(axis=0)).tolist()
        return x, y, z

    def text_of(self, line: int) -> str:
        """The text of a line, from 1, without its end; "" beyond the file."""
        if line < 1:
            return ""
        start, missing = find_line(np.frombuffer(self.text, np.uint8), 0, line - 1, len(self.text))
        if missing:
            return ""
        end = _LINE_END.search(self.text, start)
        return as_words(self.text[start : end.start() if end else None])


def as_words(text: bytes) -> str:
    """Bytes of a program in letters: UTF-8 where they are that, else one letter for each byte."""
    try:
        return text.decode("utf-8")
    except UnicodeDecodeError:
        return text.decode("latin-1")
