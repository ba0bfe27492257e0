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

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel
from kerfwright.kernels.program_arcs import (
    FARTHEST,
    SAME_POINT_MM,
    centre_by_radius,
    turned_angle,
)
from kerfwright.kernels.program_state import (
    ARC,
    CENTRES_ABSOLUTE,
    DONE,
    DOUBT,
    FEED,
    FULL,
    INCREMENTAL,
    LINE,
    MOTION,
    NORMAL,
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
    SHIFT,
    SLOT,
    SPEED,
    SPINDLE,
    TOLD_ROUND,
    UNIT,
    WHY,
)
from kerfwright.kernels.program_straight import straight_lines
from kerfwright.kernels.program_words import (
    AXES,
    CENTRE,
    NEW_INCREMENTAL,
    NEW_MOTION,
    NEW_NORMAL,
    NEW_PATH,
    NEW_SAID,
    SAYS,
    SEEN,
    TOLERATED,
    WORD_F,
    WORD_I,
    WORD_R,
    WORD_S,
    WORD_X,
    WORDS,
    scan_words,
)

Array = Any  #: a numpy array; the compiler checks what is in it

#: What ``find_way`` may find.
STILL, MOVES, STRANGE = 0, 1, 2
_RADIUS_OR_CENTRE = CENTRE | (1 << WORD_R)


@inner_kernel(boundscheck=False, **NUMPY)
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
    if seen & ((1 << (WORD_X + a)) | (1 << (WORD_X + b))) == 0:
        return False, 0.0, 0.0
    if seen & (1 << WORD_R):
        radius = value[WORD_R] * unit
        chord_a, chord_b = target[a] - place[a], target[b] - place[b]
        square = chord_a * chord_a + chord_b * chord_b
        if seen & CENTRE != 0 or radius == 0.0 or square <= SAME_POINT_MM * SAME_POINT_MM:
            return False, 0.0, 0.0
        # Near half and full turns the interpreter has something to say.
        part = square / (4.0 * radius * radius)
        if part > 0.98 or (radius < 0.0 and part < 0.018):
            return False, 0.0, 0.0
        from_a, from_b, _ = centre_by_radius(chord_a, chord_b, radius, turn)
        return True, from_a, from_b
    has_a, has_b = seen & (1 << (WORD_I + a)) != 0, seen & (1 << (WORD_I + b)) != 0
    if seen & (1 << (WORD_I + axis)) != 0 or not (has_a or has_b):
        return False, 0.0, 0.0
    if absolute != 0:
        from_a = value[WORD_I + a] * unit + real[SHIFT + a] - place[a]
        from_b = value[WORD_I + b] * unit + real[SHIFT + b] - place[b]
        return has_a and has_b, from_a, from_b
    return (
        True,
        value[WORD_I + a] * unit if has_a else 0.0,
        value[WORD_I + b] * unit if has_b else 0.0,
    )


@inner_kernel(boundscheck=False, **NUMPY)
def tell(told: Array, tolerated: int, line: int) -> None:
    """Count the things tolerated on a line: bits, one for each row."""
    for row in range(told.shape[0]):
        if tolerated & (1 << row) != 0:
            told[row, 0] += 1
            if told[row, 1] == 0:
                told[row, 1] = line


@inner_kernel(boundscheck=False, **NUMPY)
def turn_about(
    says: Array,
    value: Array,
    whole: Array,
    real: Array,
    target: Array,
    axis: int,
    clockwise: bool,
    arc_centre_mm: Array,
    arc_sweep_rad: Array,
) -> bool:
    """Write centre and sweep of the arc of a line into the next row; whether it is as usual."""
    a, b = (axis + 1) % 3, (axis + 2) % 3
    place = real[PLACE : PLACE + 3]
    turn = -1.0 if clockwise else 1.0
    usual, from_a, from_b = arc_offset(
        says[SEEN], value, real, place, target, axis, turn, whole[CENTRES_ABSOLUTE]
    )
    if not (usual and abs(from_a) <= FARTHEST and abs(from_b) <= FARTHEST):
        return False
    centre_a, centre_b = place[a] + from_a, place[b] + from_b
    to_a, to_b = target[a] - centre_a, target[b] - centre_b
    radius = sqrt(from_a * from_a + from_b * from_b)
    differ = abs(sqrt(to_a * to_a + to_b * to_b) - radius)
    if differ > real[ROUND_LOOSE_MM] or not radius > SAME_POINT_MM:
        return False
    arc = whole[ARC]
    arc_centre_mm[arc, a] = centre_a
    arc_centre_mm[arc, b] = centre_b
    arc_centre_mm[arc, axis] = place[axis]
    arc_sweep_rad[arc] = turned_angle(-from_a, -from_b, to_a, to_b, turn)
    if differ > real[ROUND_MM]:
        says[TOLERATED] |= 1 << TOLD_ROUND
        real[ROUND_WORST_MM] = max(real[ROUND_WORST_MM], differ)
    return True


@inner_kernel(boundscheck=False, **NUMPY)
def find_target(says: Array, value: Array, real: Array, incremental: int, target: Array) -> bool:
    """Where the axis words of a line lead to, mm; whether that is within reach of any machine."""
    near = True
    for k in range(3):
        target[k] = real[PLACE + k]
        if says[SEEN] & (1 << (WORD_X + k)):
            from_mm = real[PLACE + k] if incremental else real[SHIFT + k]
            target[k] = value[WORD_X + k] * real[UNIT] + from_mm
            near &= abs(target[k]) <= FARTHEST
    return near


@inner_kernel(boundscheck=False, **NUMPY)
def in_force(says: Array, new: int, whole: Array, kept: int) -> int:
    """The mode of a group on a line: what the line says, or what was in force before it."""
    return int(says[new] if says[new] >= 0 else whole[kept])


@inner_kernel(boundscheck=False, **NUMPY)
def find_way(
    says: Array,
    value: Array,
    whole: Array,
    real: Array,
    target: Array,
    arc_centre_mm: Array,
    arc_sweep_rad: Array,
) -> int:
    """What a line moves: STILL, MOVES or STRANGE; an arc is written into the next row of arcs."""
    seen = says[SEEN]
    feed = value[WORD_F] if seen & (1 << WORD_F) else real[FEED]
    if not 0.0 <= feed <= FARTHEST:
        return STRANGE
    if seen & (1 << WORD_S) and value[WORD_S] != real[SPEED]:  # a new speed is an event
        return STRANGE
    if seen & AXES == 0:
        return STRANGE if says[NEW_MOTION] >= 0 or seen & _RADIUS_OR_CENTRE else STILL
    code = in_force(says, NEW_MOTION, whole, MOTION)
    if code < 0 or (code >= 1 and not feed > 0.0):
        return STRANGE
    if not find_target(
        says, value, real, in_force(says, NEW_INCREMENTAL, whole, INCREMENTAL), target
    ):
        return STRANGE
    if code <= 1:
        if seen & _RADIUS_OR_CENTRE:
            return STRANGE
        for k in range(3):
            if target[k] != real[PLACE + k]:
                return MOVES
        return STILL
    axis = in_force(says, NEW_NORMAL, whole, NORMAL)
    usual = turn_about(
        says, value, whole, real, target, axis, code == 2, arc_centre_mm, arc_sweep_rad
    )
    return MOVES if usual else STRANGE


@inner_kernel(boundscheck=False, **NUMPY)
def keep_modes(says: Array, whole: Array) -> None:
    """What a line that counts leaves in force for those behind it."""
    if says[NEW_MOTION] >= 0:
        whole[MOTION] = says[NEW_MOTION]
    if says[NEW_INCREMENTAL] >= 0:
        whole[INCREMENTAL] = says[NEW_INCREMENTAL]
    if says[NEW_NORMAL] >= 0:
        whole[NORMAL] = says[NEW_NORMAL]
    if says[NEW_PATH] >= 0:
        whole[PATH] = says[NEW_PATH]
    whole[SAID] |= says[NEW_SAID]
    if whole[DOUBT] != 0 and not whole[INCREMENTAL]:
        whole[DOUBT] &= ~(says[SEEN] >> WORD_X)


@kernel(boundscheck=False, **NUMPY)
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
    says = np.zeros(SAYS, np.int64)
    value = np.zeros(WORDS)
    target = np.zeros(3)
    whole[WHY] = DONE
    i = start
    while i < stop:
        if whole[ROW] >= kind.size or whole[ARC] >= arc_move.size:
            whole[WHY] = FULL
            break
        if whole[MOTION] <= 1 and whole[ROW] > 0 and whole[DOUBT] == 0:
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
            if i >= stop or whole[ROW] >= kind.size:
                continue
        end = scan_words(buffer, i, whole, real[UNIT] == 1.0, says, value)
        way = STRANGE
        if end >= 0:
            way = find_way(says, value, whole, real, target, arc_centre_mm, arc_sweep_rad)
        if way == STRANGE:
            whole[WHY] = ODD
            break
        # Nothing was odd: the line counts.
        whole[LINE] += 1
        if says[TOLERATED] != 0:
            tell(told, says[TOLERATED], whole[LINE])
        if says[SEEN] & (1 << WORD_F):
            real[FEED] = value[WORD_F]
        keep_modes(says, whole)
        if way == MOVES:
            row, code = whole[ROW], whole[MOTION]
            if row == 0:
                whole[SAID_AT_MOVE] = whole[SAID]
            if code >= 2:
                arc = whole[ARC]
                if arc == 0:
                    whole[SAID_AT_ARC] = whole[SAID]
                arc_move[arc], arc_normal[arc] = row, whole[NORMAL]
                whole[ARC] = arc + 1
            kind[row] = min(code, 2)
            for k in range(3):
                real[PLACE + k] = end_mm[row, k] = target[k]
            feed_mm_per_s[row] = real[FEED] * real[UNIT] / 60.0 if code >= 1 else 0.0
            line[row], byte[row] = whole[LINE], i
            slot[row], path_mode[row] = whole[SLOT], whole[PATH]
            spindle_rev_per_s[row] = real[SPINDLE]
            whole[ROW] = row + 1
        i = end
        if i < buffer.size:
            i += 2 if buffer[i] == 13 and i + 1 < buffer.size and buffer[i + 1] == 10 else 1
    return i
