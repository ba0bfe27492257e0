"""The plainest lines of a cutting program: N, G0 or G1, X Y Z and F, one behind the other.

They make up nearly all of a relief, so they have a loop of their own, with as little in it as can
be. ``read_lines`` calls it and reads every line that it leaves alone.
"""

from typing import Any

import numpy as np

from kerfwright.kernels.compiling import NUMPY, inner_kernel
from kerfwright.kernels.program_arcs import FARTHEST
from kerfwright.kernels.program_numbers import TEN_TO, short_number
from kerfwright.kernels.program_state import (
    FEED,
    INCREMENTAL,
    LINE,
    LONGEST_LINE,
    LOWER_CASE,
    MOTION,
    NUMBER_DIGITS,
    PATH,
    PLACE,
    ROW,
    SHIFT,
    SLOT,
    SPINDLE,
    UNIT,
)

Array = Any  #: a numpy array; the compiler checks what is in it

_F, _G, _N, _X, _Y, _Z = 102, 103, 110, 120, 121, 122  # the small letters
_HAS_X, _HAS_Y, _HAS_Z, _HAS_F, _HAS_G, _HAS_N = 1, 2, 4, 8, 16, 32
_AXES = _HAS_X | _HAS_Y | _HAS_Z
#: So many bytes must stand behind a word's letter: sign, number, what ends it.
_AHEAD = 12


@inner_kernel(boundscheck=False, **NUMPY)
def straight_lines(
    buffer: Array,
    start: int,
    stop: int,
    whole: Array,
    real: Array,
    kind: Array,
    end_mm: Array,
    feed_mm_per_s: Array,
    line: Array,
    byte: Array,
    slot: Array,
    spindle_rev_per_s: Array,
    path_mode: Array,
) -> int:
    """Carry out lines of this kind from ``start`` on; parameters as in ``read_lines``.

    Returns where the first line begins that it leaves alone: another kind of line, one at fault or
    near the end of the text, one at or behind ``stop``, or any when the columns are full. At least
    one move must have been written, and no axis be in doubt.

    Notes
    -----
    Every place is handed to an array without a sign, for the compiler else looks at each whether
    it counts from the end.
    """
    x, y, z = real[PLACE], real[PLACE + 1], real[PLACE + 2]
    unit, feed = real[UNIT], real[FEED]
    feed_per_s = feed * unit / 60.0
    motion, incremental, small = whole[MOTION], whole[INCREMENTAL], whole[LOWER_CASE]
    longest, number_digits = whole[LONGEST_LINE], min(5, whole[NUMBER_DIGITS])
    row, lines = whole[ROW], whole[LINE]
    first_row, rows = row, kind.size
    enough = buffer.size - _AHEAD
    i = start
    while i < stop and row < rows:
        last = min(enough, i + longest)
        p = i
        has = 0
        code = motion
        new_feed = feed
        to_x, to_y, to_z = x, y, z
        from_x, from_y, from_z = real[SHIFT], real[SHIFT + 1], real[SHIFT + 2]
        if incremental:
            from_x, from_y, from_z = x, y, z
        plain = False
        while p < last:
            c = buffer[np.uint64(p)]
            p += 1
            if c == 10 or c == 13:
                plain = True
                break
            if c == 32:
                continue
            if c > 96 and small == 0:
                break
            letter = c | 32
            if letter == _G:
                c = buffer[np.uint64(p)]
                if c == 48 and 48 <= buffer[np.uint64(p + 1)] <= 49:  # G00, G01
                    p += 1
                    c = buffer[np.uint64(p)]
                p += 1
                beyond = buffer[np.uint64(p)]
                if not 48 <= c <= 49 or 46 <= beyond <= 57 or has & _HAS_G != 0:
                    break
                has |= _HAS_G
                code = np.int64(c) - 48
                continue
            begin = p
            negative = buffer[np.uint64(p)] == 45
            if negative:  # two calls: else the place of the number would hang on this byte
                p, mantissa, digits, decimals = short_number(buffer, begin + 1)
            else:
                p, mantissa, digits, decimals = short_number(buffer, begin)
            if digits == 0:
                break
            number = np.float64(mantissa) / TEN_TO[np.uint64(max(decimals, 0))]
            if negative:
                number = -number
            if letter == _X:
                bit = _HAS_X
                to_x = number * unit + from_x
            elif letter == _Y:
                bit = _HAS_Y
                to_y = number * unit + from_y
            elif letter == _Z:
                bit = _HAS_Z
                to_z = number * unit + from_z
            elif letter == _F:
                bit = _HAS_F
                new_feed = number
            elif letter == _N and has == 0 and not negative and decimals < 0:
                bit = _HAS_N
                if digits > number_digits:
                    break
            else:
                break
            if has & bit != 0:
                break
            has |= bit
        if not plain:
            break
        if has & _HAS_F != 0 and not 0.0 <= new_feed <= FARTHEST:
            break
        if has & _AXES != 0:
            if code < 0 or code > 1 or (code == 1 and not new_feed > 0.0):
                break
            if not (abs(to_x) <= FARTHEST and abs(to_y) <= FARTHEST and abs(to_z) <= FARTHEST):
                break
        elif has & _HAS_G != 0:
            break
        if has & _HAS_F != 0:
            feed = new_feed
            feed_per_s = feed * unit / 60.0
        motion = code
        lines += 1
        if to_x != x or to_y != y or to_z != z:
            x, y, z = to_x, to_y, to_z
            here = np.uint64(row)
            kind[here] = code
            end_mm[here, 0], end_mm[here, 1], end_mm[here, 2] = x, y, z
            feed_mm_per_s[here] = feed_per_s if code == 1 else 0.0
            line[here] = lines
            byte[here] = i
            row += 1
        i = p
        if c == 13 and buffer[np.uint64(p)] == 10:
            i += 1
    for k in range(first_row, row):
        slot[k], spindle_rev_per_s[k], path_mode[k] = whole[SLOT], real[SPINDLE], whole[PATH]
    whole[ROW], whole[LINE], whole[MOTION] = row, lines, motion
    real[PLACE], real[PLACE + 1], real[PLACE + 2], real[FEED] = x, y, z, feed
    return i
