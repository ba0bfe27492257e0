"""Plain lines of a cutting program, byte by byte, into columns.

``read_lines`` takes the lines that make up nearly all of a long program: straight moves and arcs
with X Y Z I J K R F, the common modal G codes, N numbers, comments and blanks. A line that it does
not know, or finds odd in any way, it leaves untouched and hands back; the interpreter of the
program room, which is its reference, carries that line out. State and columns are the same for
both, and so is every bit of the result.
"""

from math import sqrt
from typing import Any

import numpy as np
from numba import njit

from kerfwright.kernels.program_arcs import (
    FARTHEST,
    SAME_POINT_MM,
    centre_by_radius,
    turned_angle,
)
from kerfwright.kernels.program_numbers import TEN_TO, scan_number
from kerfwright.kernels.program_state import (
    ARC,
    CENTRES_ABSOLUTE,
    DONE,
    DOUBT,
    FEED,
    FULL,
    INCREMENTAL,
    LINE,
    LONGEST_LINE,
    LOWER_CASE,
    MOTION,
    NORMAL,
    NUMBER_DIGITS,
    ODD,
    PATH,
    PLACE,
    ROUND_LOOSE_MM,
    ROUND_MM,
    ROUND_WORST_MM,
    ROW,
    SAID,
    SAID_AT_ARC,
    SAID_AT_MOVE,
    SAID_DISTANCE,
    SAID_PLANE,
    SAID_UNITS,
    SEMICOLONS,
    SHIFT,
    SLOT,
    SPEED,
    SPINDLE,
    TOLD_NUMBER,
    TOLD_ROUND,
    TOLD_SEMICOLON,
    TOLD_WIDE,
    UNIT,
    WHY,
    WIDE_COMMENTS,
)
from kerfwright.kernels.program_straight import straight_lines

Array = Any  #: a numpy array; the compiler checks what is in it

_X, _Y, _Z = 23, 24, 25
_F, _G, _I, _J, _K, _N, _R, _S = 5, 6, 8, 9, 10, 13, 17, 18
_AXES = (1 << _X) | (1 << _Y) | (1 << _Z)
_CENTRE = (1 << _I) | (1 << _J) | (1 << _K)
_PLAIN = _AXES | _CENTRE | (1 << _F) | (1 << _R) | (1 << _S)


@njit(cache=True, nogil=True, boundscheck=False)
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


@njit(cache=True, nogil=True, boundscheck=False)
def arc_offset(
    seen: int,
    value: Array,
    real: Array,
    place: Array,
    target: Array,
    axis: int,
    turn: float,
    absolute: int,
) -> tuple[bool, float, float]:
    """Whether the words of an arc are as usual, and its centre from the start in its plane. [mm]"""
    a, b = (axis + 1) % 3, (axis + 2) % 3
    unit = real[UNIT]
    if seen & ((1 << (_X + a)) | (1 << (_X + b))) == 0:
        return False, 0.0, 0.0
    if seen & (1 << _R):
        radius = value[_R] * unit
        chord_a, chord_b = target[a] - place[a], target[b] - place[b]
        square = chord_a * chord_a + chord_b * chord_b
        if seen & _CENTRE != 0 or radius == 0.0 or square <= SAME_POINT_MM * SAME_POINT_MM:
            return False, 0.0, 0.0
        # Near half and full turns the interpreter has something to say.
        part = square / (4.0 * radius * radius)
        if part > 0.98 or (radius < 0.0 and part < 0.018):
            return False, 0.0, 0.0
        from_a, from_b, _ = centre_by_radius(chord_a, chord_b, radius, turn)
        return True, from_a, from_b
    has_a, has_b = seen & (1 << (_I + a)) != 0, seen & (1 << (_I + b)) != 0
    if seen & (1 << (_I + axis)) != 0 or not (has_a or has_b):
        return False, 0.0, 0.0
    if absolute != 0:
        from_a = value[_I + a] * unit + real[SHIFT + a] - place[a]
        from_b = value[_I + b] * unit + real[SHIFT + b] - place[b]
        return has_a and has_b, from_a, from_b
    return True, value[_I + a] * unit if has_a else 0.0, value[_I + b] * unit if has_b else 0.0


@njit(cache=True, nogil=True, boundscheck=False)
def tell(told: Array, tolerated: int, line: int) -> None:
    """Count the things tolerated on a line: bits, one for each row."""
    for row in range(told.shape[0]):
        if tolerated & (1 << row) != 0:
            told[row, 0] += 1
            if told[row, 1] == 0:
                told[row, 1] = line


@njit(cache=True, nogil=True, boundscheck=False, error_model="numpy")
def read_lines(
    buffer: Array,
    start: int,
    stop: int,
    whole: Array,
    real: Array,
    told: Array,
    kind: Array,
    end_mm: Array,
    feed_mm_per_s: Array,
    line: Array,
    byte: Array,
    slot: Array,
    spindle_rev_per_s: Array,
    path_mode: Array,
    arc_move: Array,
    arc_centre_mm: Array,
    arc_normal: Array,
    arc_sweep_rad: Array,
) -> int:
    """Carry out plain lines from ``start`` on, up to the first that begins at or behind ``stop``.

    Parameters
    ----------
    buffer : (bytes,) uint8
        The whole text; the last line that begins before ``stop`` is read to its end.
    whole, real, told : int64, float64, int64
        The state, see the constants above; changed in place.
    kind ... arc_sweep_rad
        The columns of ``Program`` and ``Arcs``; rows from ``whole[ROW]`` and ``whole[ARC]`` on
        are written.

    Returns
    -------
    int
        Where the next line begins. ``whole[WHY]`` tells why it stopped there: DONE; ODD, that
        line is the interpreter's; FULL, the columns have no row left.

    Notes
    -----
    It must not be called while cutter radius compensation or inverse-time feed is on. Numbers of
    up to 15 digits are an integer divided by a power of ten, both exact, so correctly rounded.
    """
    size = buffer.size
    value = np.zeros(26)
    target = np.zeros(3)
    place = np.array([real[PLACE], real[PLACE + 1], real[PLACE + 2]])
    unit = real[UNIT]
    feed, speed, spindle = real[FEED], real[SPEED], real[SPINDLE]
    motion, incremental, normal = whole[MOTION], whole[INCREMENTAL], whole[NORMAL]
    path, in_spindle, said = whole[PATH], whole[SLOT], whole[SAID]
    row, arc, lines = whole[ROW], whole[ARC], whole[LINE]
    rows, arcs = kind.size, arc_move.size
    semicolons, number_digits = whole[SEMICOLONS], whole[NUMBER_DIGITS]
    absolute, wide = whole[CENTRES_ABSOLUTE], whole[WIDE_COMMENTS]
    longest, doubt = whole[LONGEST_LINE], whole[DOUBT]
    small = whole[LOWER_CASE]
    why = DONE
    i = start
    while i < stop:
        if row >= rows or arc >= arcs:
            why = FULL
            break
        if motion <= 1 and row > 0 and doubt == 0:
            whole[LINE], whole[ROW], whole[MOTION], real[FEED] = lines, row, motion, feed
            whole[INCREMENTAL], whole[PATH] = incremental, path
            real[PLACE], real[PLACE + 1], real[PLACE + 2] = place[0], place[1], place[2]
            i = straight_lines(
                buffer,
                i,
                stop,
                whole,
                real,
                kind,
                end_mm,
                feed_mm_per_s,
                line,
                byte,
                slot,
                spindle_rev_per_s,
                path_mode,
            )
            lines, row, motion, feed = whole[LINE], whole[ROW], whole[MOTION], real[FEED]
            for k in range(3):
                place[k] = real[PLACE + k]
            if i >= stop or row >= rows:
                continue
        first = i
        last = min(size, first + longest + 1)  # a longer line is odd
        seen = 0
        items = 0
        odd = False
        new_motion = -1
        new_incremental = -1
        new_normal = -1
        new_path = -1
        new_said = said
        once = 0  # bits of the groups G94, G40, units
        tolerated = 0  # bits, one for each row of ``told``
        while i < last:
            c = buffer[i]
            if c == 10 or c == 13:
                break
            if c == 32 or c == 9:
                i += 1
                continue
            if c == 40:  # a comment; a message begins with an M and goes to the interpreter
                i += 1
                while i < last and (buffer[i] == 32 or buffer[i] == 9):
                    i += 1
                odd = i >= last or (buffer[i] | 32) == 109
                i, found = scan_remark(buffer, i, last, 41, wide)
                odd |= i >= last or found == 2
                if odd:
                    break
                tolerated |= found << TOLD_WIDE
                i += 1
                items += 1
                continue
            if c == 59 and semicolons != 0:
                i, found = scan_remark(buffer, i, last, 10, wide)
                odd = found == 2
                tolerated |= found << TOLD_WIDE | 1 << TOLD_SEMICOLON
                break
            letter: Any = np.int64(c | 32) - 97
            if c < 65 or letter < 0 or letter > 25 or (c > 96 and small == 0):
                odd = True
                break
            i, mantissa, digits, decimals, sign = scan_number(buffer, i + 1, last)
            if digits == 0 or digits == 99:
                odd = True
                break
            if letter == _G:
                if sign < 0 or decimals > 1:
                    odd = True
                    break
                code: Any = mantissa if decimals == 1 else mantissa * 10
                if code <= 30 and code % 10 == 0:
                    odd = new_motion >= 0
                    new_motion = code // 10
                elif code == 900 or code == 910:
                    odd = new_incremental >= 0
                    new_incremental = 1 if code == 910 else 0
                    new_said |= SAID_DISTANCE
                elif code == 170 or code == 180 or code == 190:
                    odd = new_normal >= 0
                    new_normal = 19 - code // 10
                    new_said |= SAID_PLANE
                elif code == 610 or code == 611:  # G64 also ends a tolerance: the interpreter's
                    odd = new_path >= 0
                    new_path = code - 609
                elif code == 940:
                    odd = once & 1 != 0
                    once |= 1
                elif code == 400:
                    odd = once & 2 != 0
                    once |= 2
                elif code == 200 or code == 210:  # only when it changes nothing
                    odd = once & 4 != 0 or (unit == 1.0) != (code == 210)
                    once |= 4
                    new_said |= SAID_UNITS
                else:
                    odd = True
            elif letter == _N:
                odd = items > 0 or sign != 0 or decimals >= 0 or digits > number_digits
                if digits > 5:
                    tolerated |= 1 << TOLD_NUMBER
            else:
                bit = 1 << letter
                odd = (_PLAIN & bit) == 0 or (seen & bit) != 0
                seen |= bit
                number = np.float64(mantissa)
                if decimals > 0:
                    number = number / TEN_TO[decimals]
                value[letter] = -number if sign < 0 else number
            if odd:
                break
            items += 1
        if odd or (i >= last and (last < size or last - first > longest)):
            why = ODD
        else:
            new_feed = feed
            if seen & (1 << _F):
                new_feed = value[_F]
                odd = not 0.0 <= new_feed <= FARTHEST
            if seen & (1 << _S):  # a new speed is an event
                odd |= value[_S] != speed
            code = new_motion if new_motion >= 0 else motion
            inc = new_incremental if new_incremental >= 0 else incremental
            axis = new_normal if new_normal >= 0 else normal
            moves = seen & _AXES
            moving = False
            if moves == 0:
                odd |= new_motion >= 0 or seen & (_CENTRE | (1 << _R)) != 0
            elif code < 0:
                odd = True
            else:
                for k in range(3):
                    target[k] = place[k]
                    if seen & (1 << (_X + k)):
                        if inc:
                            target[k] = place[k] + value[_X + k] * unit
                        else:
                            target[k] = value[_X + k] * unit + real[SHIFT + k]
                        odd |= not abs(target[k]) <= FARTHEST
                if code >= 1:
                    odd |= not new_feed > 0.0
                if code <= 1:
                    odd |= seen & (_CENTRE | (1 << _R)) != 0
                    moving = target[0] != place[0] or target[1] != place[1] or target[2] != place[2]
                elif not odd:
                    a, b = (axis + 1) % 3, (axis + 2) % 3
                    turn = 1.0 if code == 3 else -1.0
                    usual, from_a, from_b = arc_offset(
                        seen, value, real, place, target, axis, turn, absolute
                    )
                    odd = not (usual and abs(from_a) <= FARTHEST and abs(from_b) <= FARTHEST)
                    if not odd:
                        centre_a, centre_b = place[a] + from_a, place[b] + from_b
                        to_a, to_b = target[a] - centre_a, target[b] - centre_b
                        radius = sqrt(from_a * from_a + from_b * from_b)
                        differ = abs(sqrt(to_a * to_a + to_b * to_b) - radius)
                        odd = differ > real[ROUND_LOOSE_MM] or not radius > SAME_POINT_MM
                        if not odd:
                            moving = True
                            sweep = turned_angle(-from_a, -from_b, to_a, to_b, turn)
                            arc_move[arc] = row
                            arc_centre_mm[arc, a] = centre_a
                            arc_centre_mm[arc, b] = centre_b
                            arc_centre_mm[arc, axis] = place[axis]
                            arc_normal[arc] = axis
                            arc_sweep_rad[arc] = sweep
                            if differ > real[ROUND_MM]:
                                tolerated |= 1 << TOLD_ROUND
                                real[ROUND_WORST_MM] = max(real[ROUND_WORST_MM], differ)
            if odd:
                why = ODD
        if why == ODD:
            i = first
            break
        # Nothing was odd: the line counts.
        lines += 1
        if tolerated != 0:
            tell(told, tolerated, lines)
        feed, motion, incremental, normal, said = new_feed, code, inc, axis, new_said
        if new_path >= 0:
            path = new_path
        if doubt != 0:
            for k in range(3):
                if not inc and seen & (1 << (_X + k)):
                    doubt &= ~(1 << k)
        if moving:
            if row == 0:
                whole[SAID_AT_MOVE] = said
            kind[row] = min(code, 2)
            if code >= 2:
                if arc == 0:
                    whole[SAID_AT_ARC] = said
                arc += 1
            for k in range(3):
                place[k] = target[k]
                end_mm[row, k] = target[k]
            feed_mm_per_s[row] = feed * unit / 60.0 if code >= 1 else 0.0
            line[row] = lines
            byte[row] = first
            slot[row] = in_spindle
            spindle_rev_per_s[row] = spindle
            path_mode[row] = path
            row += 1
        if i < size:
            i += 2 if buffer[i] == 13 and i + 1 < size and buffer[i + 1] == 10 else 1
    whole[WHY] = why
    whole[LINE], whole[ROW], whole[ARC] = lines, row, arc
    whole[MOTION], whole[INCREMENTAL], whole[NORMAL] = motion, incremental, normal
    whole[PATH], whole[SAID], whole[DOUBT] = path, said, doubt
    for k in range(3):
        real[PLACE + k] = place[k]
    real[FEED] = feed
    return i
