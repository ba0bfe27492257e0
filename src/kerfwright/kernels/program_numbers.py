"""Numbers of a cutting program, from their letters: eight bytes at a time, or one by one.

A number of up to seven characters behind its sign is taken in one load: each byte minus 48 is a
digit, or more than 9 where the number is interrupted or ends. Longer ones take the plain loop,
which is the reference of the other.
"""

from typing import Any

import numpy as np

from kerfwright.kernels.compiling import NUMPY, inner_kernel

Array = Any  #: a numpy array; the compiler checks what is in it

#: Powers of ten that a double holds exactly, as it does any integer of ``DIGITS`` digits.
TEN_TO = np.array([10.0**k for k in range(16)])
DIGITS = 15

_ONE, _EIGHT, _TEN = np.uint64(1), np.uint64(8), np.uint64(10)
_ZEROS = np.uint64(0x3030303030303030)  # eight times the sign 0
_LOW_SEVEN = np.uint64(0x7F7F7F7F7F7F7F7F)
_SIX_TO_HIGH = np.uint64(0x7676767676767676)  # lifts all above 9 into the high bit
_HIGH = np.uint64(0x8080808080808080)
_PAIRS = np.uint64(0x00FF00FF00FF00FF)
_FOURS = np.uint64(0xFFFF)


@inner_kernel(boundscheck=False, forceinline=True, **NUMPY)
def load_eight(buffer: Array, start: int) -> Any:
    """The eight bytes from ``start`` on, the first one lowest. The compiler makes it one load.

    It does so only where the places have no sign: those of a signed kind may count from the end.
    """
    eight = np.uint64(0)
    for k in range(8):
        eight |= np.uint64(buffer[np.uint64(start + k)]) << np.uint64(8 * k)
    return eight


@inner_kernel(boundscheck=False, forceinline=True, **NUMPY)
def count_ones(bits: Any) -> int:
    """Bits that are set. The compiler knows this loop and makes it one instruction."""
    count = 0
    while bits != 0:
        bits &= bits - _ONE
        count += 1
    return count


@inner_kernel(boundscheck=False, forceinline=True, **NUMPY)
def short_number(buffer: Array, start: int) -> tuple[int, Any, int, int]:
    """Number without a sign that begins at ``start`` and has at most seven characters.

    Eight bytes must be there. Returns where it ends, its digits as an integer, how many they are
    (0 if it is no such number), and how many stand behind the point (-1 without a point).
    """
    digit = load_eight(buffer, start) ^ _ZEROS
    others = (((digit & _LOW_SEVEN) + _SIX_TO_HIGH) | digit) & _HIGH  # bytes that are no digits
    if others == 0:
        return start, np.int64(0), 0, -1
    before = (others ^ (others - _ONE)) >> _EIGHT  # all bits before the first of them
    bits = whole = count_ones(before)
    end = start + (bits >> 3)
    decimals = -1
    if buffer[np.uint64(end)] == 46:
        others &= others - _ONE
        if others == 0:
            return start, np.int64(0), 0, -1
        bits = count_ones((others ^ (others - _ONE)) >> _EIGHT) - 8
        end = start + (bits >> 3) + 1
        decimals = (bits - whole) >> 3
        digit = (digit & before) | ((digit >> _EIGHT) & ~before)  # the point taken out
    if bits == 0:
        return start, np.int64(0), 0, -1
    # The last digit to the highest byte, zeros before the first; then two, four, eight together.
    digit = digit << np.uint64(64 - bits)
    digit = digit * _TEN + (digit >> _EIGHT)
    digit = (digit & _PAIRS) * np.uint64(100) + ((digit >> np.uint64(16)) & _PAIRS)
    digit = (digit & _FOURS) * np.uint64(10000) + ((digit >> np.uint64(32)) & _FOURS)
    return end, np.int64(digit), bits >> 3, decimals


@inner_kernel(boundscheck=False, **NUMPY)
def long_number(buffer: Array, start: int, last: int) -> tuple[int, Any, int, int]:
    """``short_number`` of any length, up to ``last``; from the 16th digit on they only count."""
    mantissa = np.int64(0)
    digits = 0
    decimals = -1
    i = start
    while i < last:
        c = buffer[i]
        if 48 <= c <= 57:
            if digits < DIGITS:
                mantissa = mantissa * 10 + np.int64(c - 48)
            digits += 1
            if decimals >= 0:
                decimals += 1
        elif c == 46 and decimals < 0:
            decimals = 0
        else:
            break
        i += 1
    return i, mantissa, digits, decimals


@inner_kernel(boundscheck=False, **NUMPY)
def scan_number(buffer: Array, start: int, last: int) -> tuple[int, Any, int, int, int]:
    """Number that begins at ``start``, with the blanks around it.

    Returns where it ends, its digits as an integer, how many they are, how many stand behind the
    point (-1 without a point), and its sign (0 for none). More digits than a double holds exactly
    are as many as 99: so is a number with blanks inside, which is the interpreter's.
    """
    i = start
    while i < last and (buffer[i] == 32 or buffer[i] == 9):
        i += 1
    sign = 0
    if i < last and (buffer[i] == 45 or buffer[i] == 43):
        sign = -1 if buffer[i] == 45 else 1
        i += 1
    begin = i
    digits = 0
    if begin + 8 <= last:
        i, mantissa, digits, decimals = short_number(buffer, begin)
    if digits == 0:
        i, mantissa, digits, decimals = long_number(buffer, begin, last)
    while i < last and (buffer[i] == 32 or buffer[i] == 9):
        i += 1
    if digits > DIGITS or (i < last and ((48 <= buffer[i] <= 57) or buffer[i] == 46)):
        digits = 99
    return i, mantissa, digits, decimals, sign
