"""What a program says, as columns."""

from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


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
    "dwell", "stop", "optional_stop", "end", "cutter", "spindle", "coolant", "message"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happens between moves.

    ``value``: seconds of a dwell; slot of a cutter change; rev/s of the spindle, positive
    clockwise seen from above, 0 stopped.
    """

    kind: EventKind
    before_move: int  #: index of the move that it comes before; the number of moves for the end
    line: int
    value: float = 0.0
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arcs:
    """Side table of the moves that are arcs. All arrays have one row for each arc."""

    move: IntArray  #: (k,) index into the moves, rising
    centre_mm: FloatArray  #: (k, 3); along the axis: the start of the arc
    normal: IntArray  #: (k,) 0, 1, 2: the axis that the arc turns about, X, Y or Z
    sweep_rad: FloatArray  #: (k,) signed, right-handed about the axis; up to 2 pi in size


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
    start_mm: FloatArray  #: (3,) where the first move starts
    kind: NDArray[np.uint8]  #: (n,) MoveKind
    end_mm: FloatArray  #: (n, 3)
    feed_mm_per_s: FloatArray  #: (n,) along the path; 0 for rapids
    line: NDArray[np.int32]  #: (n,) line in the text, from 1
    byte: IntArray  #: (n,) offset of that line's first byte
    slot: NDArray[np.int16]  #: (n,) slot of the cutter in the spindle; 0 before any change
    spindle_rev_per_s: NDArray[np.float32]  #: (n,) as commanded, clockwise positive
    path_mode: NDArray[np.uint8]  #: (n,) PathMode
    arcs: Arcs
    events: tuple[Event, ...]
    notes: tuple[str, ...] = ()  #: each thing tolerated or assumed in reading, in words

    @property
    def moves(self) -> int:
        """How many moves there are."""
        return len(self.kind)

    def text_of(self, line: int) -> str:
        """The text of a line, from 1, without its end; "" beyond the file."""
        lines = self.text.split(b"\n", line) if line > 0 else []
        if len(lines) < line:
            return ""
        return lines[line - 1].decode("latin-1").rstrip("\r")
