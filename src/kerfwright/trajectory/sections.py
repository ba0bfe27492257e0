"""A program's time by section and by cutter."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.program import MoveKind, Program
from kerfwright.program.program import as_words
from kerfwright.trajectory.trajectory import Trajectory
from kerfwright.trajectory.waits import Waiting

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_SECTIONS = 200
LONGEST_LABEL = 60
_COMMENT = re.compile(
    rb"^[ \t]*(?:[Nn][0-9]+[ \t]*)?(?:\(([^()\r\n]{1,200})\)|;([^\r\n]{1,200}))[ \t]*\r?$", re.M
)
_MESSAGE = re.compile(r"^\s*(?:msg|debug|print)\s*,", re.I)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A stretch of the program from one cutter change or comment to the next."""

    label: str
    first_line: int
    last_line: int
    feed_s: float  #: moving at feed
    rapid_s: float
    wait_s: float

    @property
    def total_s(self) -> float:
        """All of it."""
        return self.feed_s + self.rapid_s + self.wait_s


@dataclass(frozen=True, slots=True, kw_only=True)
class CutterTime:
    """What one cutter is in the spindle for; the change to it counts as its own."""

    slot: int  #: 0 where the program never said
    feed_s: float
    rapid_s: float
    wait_s: float
    feed_mm: float
    rapid_mm: float

    @property
    def total_s(self) -> float:
        """All of it."""
        return self.feed_s + self.rapid_s + self.wait_s


def moving_s(trajectory: Trajectory) -> FloatArray:
    """Time that each segment takes, waiting left out. (n,) [s]"""
    begin = trajectory.move_start_s
    taken = np.append(begin[1:], trajectory.node_s[-1]) - begin
    # A wait at a vertex stands at the end of the segment before it.
    return np.asarray(np.maximum(taken - trajectory.wait_s[1:], 0.0))


def by_section(
    program: Program, trajectory: Trajectory, waiting: Sequence[Waiting]
) -> tuple[Section, ...]:
    """Time of each section, in the order of the program.

    A section begins at a cutter change or at a line that holds nothing but a comment, whose text
    is then its label. Beginnings without a move between them are one; the last comment counts.
    """
    begins, labels, lines = _beginnings(program)
    segment = np.searchsorted(begins, trajectory.move, side="right") - 1
    many = len(begins)
    rapid = program.kind[trajectory.move] == MoveKind.RAPID
    taken = moving_s(trajectory)
    feed_s = np.bincount(segment[~rapid], taken[~rapid], many)
    rapid_s = np.bincount(segment[rapid], taken[rapid], many)
    wait_s = np.zeros(many)
    for one in waiting:
        where = np.searchsorted(begins, one.before_move, side="right") - 1
        wait_s += np.bincount(where, one.seconds, many)
    ends = [*(line - 1 for line in lines[1:]), program.lines]
    return tuple(
        Section(
            label=labels[i],
            first_line=lines[i],
            last_line=max(ends[i], lines[i]),
            feed_s=float(feed_s[i]),
            rapid_s=float(rapid_s[i]),
            wait_s=float(wait_s[i]),
        )
        for i in range(many)
    )


def by_cutter(
    program: Program,
    trajectory: Trajectory,
    waiting: Sequence[Waiting],
    in_spindle: int | None = None,
) -> tuple[CutterTime, ...]:
    """Time and way of each cutter, by slot."""
    slots = program.slot.astype(np.int64)
    slots[slots == 0] = in_spindle or 0
    rapid = program.kind[trajectory.move] == MoveKind.RAPID
    slot, taken = slots[trajectory.move], moving_s(trajectory)
    out = []
    for number in np.unique(slots):
        mine = slot == number
        out.append(
            CutterTime(
                slot=int(number),
                feed_s=float(taken[mine & ~rapid].sum()),
                rapid_s=float(taken[mine & rapid].sum()),
                wait_s=_waiting_for(int(number), slots, waiting),
                feed_mm=float(trajectory.length_mm[mine & ~rapid].sum()),
                rapid_mm=float(trajectory.length_mm[mine & rapid].sum()),
            )
        )
    return tuple(out)


def _waiting_for(slot: int, slots: IntArray, waiting: Sequence[Waiting]) -> float:
    """Waits before moves of this cutter; those after the last move are the last cutter's."""
    total = 0.0
    for one in waiting:
        whose = slots[np.minimum(one.before_move, len(slots) - 1)]
        total += float(one.seconds[whose == slot].sum())
    return total


def _beginnings(program: Program) -> tuple[IntArray, list[str], list[int]]:
    """First move, label and first line of each section; the first begins with the program."""
    found = [(0, 1, "from the start", False)]
    for event in program.events:
        if event.kind == "cutter":
            label = f"cutter {int(event.value)}" if event.value > 0 else "spindle empty"
            found.append((event.before_move, event.line, label, False))
    for line, words in _comments(program):
        found.append((int(np.searchsorted(program.line, line)), line, words, True))
    found.sort(key=lambda one: (one[0], one[1]))
    begins: list[int] = []
    labels: list[str] = []
    lines: list[int] = []
    said = False  #: whether the last label is a comment's
    for move, line, label, is_comment in found:
        if move >= program.moves:
            break  # nothing moves after it
        if begins and move == begins[-1]:
            if is_comment or not said:
                labels[-1] = label
                said = is_comment
        elif len(begins) == MOST_SECTIONS:
            labels[-1] = f"{labels[-1]}, and all that follows"
            break
        else:
            begins.append(move)
            labels.append(label)
            lines.append(line)
            said = is_comment
    return np.array(begins, np.int64), labels, lines


def _comments(program: Program) -> list[tuple[int, str]]:
    """Line and text of the lines that hold nothing but a comment."""
    text = program.text
    if b"\n" not in text:
        text = text.replace(b"\r", b"\n")
    found = []
    for match in _COMMENT.finditer(text):
        words = " ".join(as_words(match[1] or match[2]).split())
        if words and not _MESSAGE.match(words):
            found.append((match.start(), words[:LONGEST_LABEL]))
        if len(found) > MOST_SECTIONS * 50:
            break
    ends = np.flatnonzero(np.frombuffer(text, np.uint8) == 10)
    line = np.searchsorted(ends, [start for start, _ in found]) + 1
    return [(int(number), words) for number, (_, words) in zip(line, found, strict=True)]
