"""Where the lines of a text begin and end, byte by byte: LF, CR, or CR LF as one end."""

from typing import Any

import numpy as np

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

Array = Any  #: a numpy array; the compiler checks what is in it


@kernel(**NUMPY)
def count_lines(buffer: Array, start: int, stop: int) -> int:
    """Line ends (LF, CR, or CR LF as one) in ``buffer[start:stop]``.

    Reference: the matches of ``rb"\\r\\n|\\r|\\n"``.
    """
    # In 32 bits and without a branch, so that the compiler takes many bytes at a time.
    count = np.uint32(0)
    inside = min(stop, buffer.size - 1)
    for i in range(start, inside):
        byte, following = buffer[np.uint64(i)], buffer[np.uint64(i + 1)]
        count += np.uint32((byte == 10) | ((byte == 13) & (following != 10)))
    for i in range(max(start, inside), stop):
        count += np.uint32(buffer[i] == 10 or buffer[i] == 13)
    return int(count)


@inner_kernel(**NUMPY)
def line_end(buffer: Array, start: int, stop: int) -> int:
    """Place of the first LF or CR in ``buffer[start:stop]``, or ``stop``.

    Reference: the first match of ``rb"[\\r\\n]"``.
    """
    i = start
    while i < stop and buffer[i] != 10 and buffer[i] != 13:
        i += 1
    return i


@kernel(**NUMPY)
def find_line(buffer: Array, start: int, lines: int, stop: int) -> tuple[int, int]:
    """Go ``lines`` line ends on from ``start``, not beyond ``stop``.

    Returns the place behind the last line end passed, and how many are still to pass.
    Reference: ``re.split(rb"\\r\\n|\\r|\\n", ...)``.
    """
    i = start
    while lines > 0 and i < stop:
        byte = buffer[i]
        i += 1
        if byte == 13 and i < buffer.size and buffer[i] == 10:
            i += 1
            lines -= 1
        elif byte == 10 or byte == 13:
            lines -= 1
    return i, lines


@kernel(**NUMPY)
def blank_lines(buffer: Array, start: int, stop: int) -> tuple[int, int]:
    """Go over lines that hold only spaces and tabs, from ``start`` on, not beyond ``stop``.

    Returns where the first line that is not blank begins, or the last one begun, and how many
    were passed. Reference: ``re.match(rb"(?:[ \\t]*(?:\\r\\n|\\r|\\n))*", ...)``.
    """
    count = 0
    begins = start
    i = start
    while i < stop:
        byte = buffer[i]
        i += 1
        if byte == 10 or byte == 13:
            if byte == 13 and i < buffer.size and buffer[i] == 10:
                i += 1
            count += 1
            begins = i
        elif byte != 32 and byte != 9:
            break
    return begins, count
