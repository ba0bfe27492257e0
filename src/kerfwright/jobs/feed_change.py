"""A program with feeds or spindle speeds made others: for trying a remedy, never for cutting.

The text is changed by words alone, so that what is proved is read again like any other program.
"""

import re

import numpy as np

from kerfwright.basics import InputError, Place
from kerfwright.program import MoveKind, Program

_COMMENT = re.compile(rb"\([^)\r\n]*\)?|;[^\r\n]*")
_FEED = re.compile(rb"[Ff][ \t]*[-+]?(?:\d[\d \t]*\.?\d*|\.\d+)")
_SPEED = re.compile(rb"[Ss][ \t]*[-+]?((?:\d[\d \t]*\.?\d*|\.\d+))")
_ALIKE = 0.005  #: a speed as it is told is rounded
_ANY_FEED = re.compile(rb"[Ff]")
_LINE = re.compile(rb"[^\r\n]*(?:\r\n|\r|\n|$)")
_END = re.compile(rb"[ \t]*(?:\r\n|\r|\n)?$")


def with_feed(program: Program, first: int, last: int, share: float) -> bytes:
    """The text of a program with the feed of its lines ``first`` to ``last`` times ``share``.

    Raises
    ------
    InputError
        If the feed there is not plainly stated: taken from a time, from an expression, different
        from one pass over a line to the next, or in units that change.
    """
    inside = (program.line >= first) & (program.line <= last)
    feeds = program.kind != MoveKind.RAPID
    if not (inside & feeds).any():
        raise _cannot(program, first, "nothing moves at a feed on this line")
    if program.unit_mm is None or np.isin(program.timed_moves, np.flatnonzero(inside)).any():
        raise _cannot(program, first, "the feed of this line is not stated in one unit")
    wanted = {line: feed * share for line, feed in _feeds(program, inside & feeds).items()}
    after = np.flatnonzero(feeds & (program.line > last))
    if len(after):
        line = int(program.line[after[0]])
        # What follows goes on as fast as before; where it states its own feed, nothing is needed.
        wanted |= _feeds(program, feeds & (program.line == line))
    lines = _LINE.findall(program.text)
    for line, feed in wanted.items():
        number = f"{feed * 60.0 / program.unit_mm:.4f}".rstrip("0").rstrip(".").encode()
        lines[line - 1] = _with_word(program, line, lines[line - 1], number, line <= last)
    return b"".join(lines)


def with_speed(program: Program, line: int, old: float, new: float) -> bytes:
    """The text of a program in which one spindle speed is another.

    Parameters
    ----------
    line : int
        Where it is stated; 0: wherever it is.
    old, new : float
        [rev/min]

    Raises
    ------
    InputError
        If that speed is not stated there as a number.
    """
    lines = _LINE.findall(program.text)
    changed = False
    for number, text in enumerate(lines, start=1):
        if line not in (0, number):
            continue
        code = _COMMENT.sub(lambda found: b" " * len(found[0]), text)
        for stated in reversed(list(_SPEED.finditer(code))):
            said = float(re.sub(rb"[ \t]", b"", stated[1]))
            if abs(said - old) <= _ALIKE * old:
                lines[number - 1] = (
                    lines[number - 1][: stated.start()]
                    + f"S{new:g}".encode()
                    + lines[number - 1][stated.end() :]
                )
                changed = True
    if not changed:
        raise _cannot(program, max(line, 1), f"the program states no speed of {old:g} rev/min")
    return b"".join(lines)


def _feeds(program: Program, moves: np.ndarray) -> dict[int, float]:
    """The one feed of each line that these moves stand on. [mm/s]"""
    out: dict[int, float] = {}
    for line in np.unique(program.line[moves]).tolist():
        feeds = np.unique(program.feed_mm_per_s[moves & (program.line == line)])
        if len(feeds) > 1:
            raise _cannot(program, line, "this line is run at several feeds")
        out[line] = float(feeds[0])
    return out


def _with_word(program: Program, line: int, text: bytes, number: bytes, change: bool) -> bytes:
    code = _COMMENT.sub(lambda found: b" " * len(found[0]), text)
    stated = _FEED.search(code)
    if stated is not None:
        if not change:
            return text
        return text[: stated.start()] + b"F" + number + text[stated.end() :]
    if _ANY_FEED.search(code):
        raise _cannot(program, line, "the feed of this line is an expression")
    end = _END.search(code)
    at = end.start() if end is not None else len(code)
    return text[:at] + b" F" + number + text[at:]


def _cannot(program: Program, line: int, problem: str) -> InputError:
    place = Place(file=program.file, line=line, column=1, text=program.text_of(line))
    return InputError(place, problem, "change it in the software that wrote the program")
