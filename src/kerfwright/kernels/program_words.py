"""The words of one plain line of a cutting program, before any of them is carried out."""

from typing import Any

import numpy as np

from kerfwright.kernels.compiling import NUMPY, inner_kernel
from kerfwright.kernels.program_numbers import TEN_TO, scan_number
from kerfwright.kernels.program_state import (
    LONGEST_LINE,
    LOWER_CASE,
    NUMBER_DIGITS,
    SAID_DISTANCE,
    SAID_PLANE,
    SAID_UNITS,
    SEMICOLONS,
    TOLD_NUMBER,
    TOLD_SEMICOLON,
    TOLD_WIDE,
    WIDE_COMMENTS,
)

Array = Any  #: a numpy array; the compiler checks what is in it

#: Words by letter: A is 0.
WORDS = 26
WORD_F, WORD_G, WORD_I, WORD_N, WORD_R, WORD_S, WORD_X = 5, 6, 8, 13, 17, 18, 23
AXES = 7 << WORD_X
CENTRE = 7 << WORD_I
_PLAIN = AXES | CENTRE | (1 << WORD_F) | (1 << WORD_R) | (1 << WORD_S)

#: Places of what a line says, int64. A mode that it does not name is -1.
NEW_MOTION, NEW_INCREMENTAL, NEW_NORMAL, NEW_PATH = 0, 1, 2, 3
NEW_SAID = 4  #: bits SAID_*
SEEN = 5  #: a bit for each letter whose value it gives
ITEMS = 6  #: words and remarks
ONCE = 7  #: bits of G94, G40 and the units, each of which may stand once
TOLERATED = 8  #: bits, one for each row of the table of things tolerated
SAYS = 9


@inner_kernel(boundscheck=False, **NUMPY)
def scan_remark(
    buffer: Array, start: int, last: int, closed: int, wide_allowed: int
) -> tuple[int, int]:
    """Go over a remark, from behind its opening sign to ``closed``: ``)``, or 10 for the line end.

    Returns where it is closed, or ``last``; and 0, 1 if it holds letters beyond the 7-bit set, or 2
    if it holds what no remark may.
    """
    i = start
    found = 0
    while i < last:
        c = buffer[i]
        if c == closed or (closed == 10 and c == 13):
            break
        if (c < 32 and c != 9) or (c > 126 and wide_allowed == 0) or (c == 40 and closed == 41):
            return i, 2
        if c > 126:
            found = 1
        i += 1
    return i, found


@inner_kernel(boundscheck=False, **NUMPY)
def pass_remark(buffer: Array, start: int, last: int, wide_allowed: int, says: Array) -> int:
    """Go over a remark in brackets from behind its opening; -1 if it is odd or a message.

    A message begins with an M and goes to the interpreter.
    """
    i = start
    while i < last and (buffer[i] == 32 or buffer[i] == 9):
        i += 1
    if i >= last or (buffer[i] | 32) == 109:
        return -1
    i, found = scan_remark(buffer, i, last, 41, wide_allowed)
    if i >= last or found == 2:
        return -1
    says[TOLERATED] |= found << TOLD_WIDE
    return i + 1


@inner_kernel(boundscheck=False, **NUMPY)
def take_mode(says: Array, group: int, value: int, said: int) -> bool:
    """Note the mode of a group; whether it is the first of that group on the line."""
    first = bool(says[group] < 0)
    says[group] = value
    says[NEW_SAID] |= said
    return first


@inner_kernel(boundscheck=False, **NUMPY)
def take_once(says: Array, bit: int) -> bool:
    """Note a code that changes nothing; whether it is the first of its group on the line."""
    first = bool(says[ONCE] & bit == 0)
    says[ONCE] |= bit
    return first


@inner_kernel(boundscheck=False, **NUMPY)
def take_code(says: Array, code: int, metric: bool) -> bool:
    """Note a G word, ten times its number; whether it is a usual one."""
    if code <= 30 and code % 10 == 0:
        return take_mode(says, NEW_MOTION, code // 10, 0)
    if code == 900 or code == 910:
        return take_mode(says, NEW_INCREMENTAL, 1 if code == 910 else 0, SAID_DISTANCE)
    if code == 170 or code == 180 or code == 190:
        return take_mode(says, NEW_NORMAL, 19 - code // 10, SAID_PLANE)
    if code == 610 or code == 611:  # G64 also ends a tolerance: the interpreter's
        return take_mode(says, NEW_PATH, code - 609, 0)
    if code == 940:
        return take_once(says, 1)
    if code == 400:
        return take_once(says, 2)
    if code == 200 or code == 210:  # only when it changes nothing
        says[NEW_SAID] |= SAID_UNITS
        return take_once(says, 4) and metric == (code == 210)
    return False


@inner_kernel(boundscheck=False, **NUMPY)
def take_word(
    buffer: Array, start: int, last: int, whole: Array, metric: bool, says: Array, value: Array
) -> int:
    """Note the word that begins at ``start``; where it ends, or -1 if it is odd."""
    c = buffer[np.uint64(start)]
    letter: Any = np.int64(c | 32) - 97
    if c < 65 or letter < 0 or letter > 25 or (c > 96 and whole[LOWER_CASE] == 0):
        return -1
    end, mantissa, digits, decimals, sign = scan_number(buffer, start + 1, last)
    if digits == 0 or digits == 99:
        return -1
    if letter == WORD_G:
        code: Any = mantissa if decimals == 1 else mantissa * 10
        usual = sign >= 0 and decimals <= 1 and take_code(says, code, metric)
    elif letter == WORD_N:
        usual = says[ITEMS] == 0 and sign == 0 and decimals < 0 and digits <= whole[NUMBER_DIGITS]
        if digits > 5:
            says[TOLERATED] |= 1 << TOLD_NUMBER
    else:
        bit = 1 << letter
        usual = (_PLAIN & bit) != 0 and (says[SEEN] & bit) == 0
        says[SEEN] |= bit
        number = np.float64(mantissa)
        if decimals > 0:
            number = number / TEN_TO[np.uint64(decimals)]
        value[np.uint64(letter)] = -number if sign < 0 else number
    return end if usual else -1


@inner_kernel(boundscheck=False, **NUMPY)
def scan_words(
    buffer: Array, first: int, whole: Array, metric: bool, says: Array, value: Array
) -> int:
    """What the line from ``first`` on says, into ``says`` and ``value``.

    ``metric`` tells whether millimetres are in force; ``value`` is by letter, and holds for those
    in ``says[SEEN]``. Returns the place of the line's end, or -1 if anything in it is odd.
    """
    size = buffer.size
    last = min(size, first + whole[LONGEST_LINE] + 1)  # a longer line is odd
    for k in range(SAYS):
        says[np.uint64(k)] = -1 if k < NEW_SAID else 0
    i = first
    while i < last:
        c = buffer[np.uint64(i)]
        if c == 10 or c == 13:
            return i
        if c == 32 or c == 9:
            i += 1
            continue
        if c == 59 and whole[SEMICOLONS] != 0:
            i, found = scan_remark(buffer, i, last, 10, whole[WIDE_COMMENTS])
            if found == 2:
                return -1
            says[TOLERATED] |= found << TOLD_WIDE | 1 << TOLD_SEMICOLON
            break
        if c == 40:
            i = pass_remark(buffer, i + 1, last, whole[WIDE_COMMENTS], says)
        else:
            i = take_word(buffer, i, last, whole, metric, says, value)
        if i < 0:
            return -1
        says[ITEMS] += 1
    ended = i < last or (last == size and last - first <= whole[LONGEST_LINE])
    return i if ended else -1
