"""How far a surface lies off another, square to it, row by row of their cells."""

from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

FloatArray = NDArray[np.float32]
IntArray = NDArray[np.int32]

#: Steeper than this a cell belongs to a wall: its height says nothing of its surface.
STEEPEST = 2.0
#: Less than this beside the programmed cut leaves no mark that anyone sees.
GRAZE_MM = 0.02
#: Bits of a float32 that are dropped to sort sizes into bins, each 0.2 % wide.
DROPPED = 14
BINS = 1 << (31 - DROPPED)

_ONE, _MOST2, _GRAZE = np.float32(1.0), np.float32(STEEPEST**2), np.float32(GRAZE_MM)
_SIZE = 0x7FFFFFFF  #: the bits of a float32 but for its sign


@inner_kernel(**NUMPY)
def _slopes(height, row, cell, slope2, widest):  # type: ignore[no-untyped-def]
    """Slope² of each cell of a row, the steeper ways; and the most of it and its neighbours."""
    rows, columns = height.shape
    before, here, behind = height[max(row - 1, 0)], height[row], height[min(row + 1, rows - 1)]
    for c in range(columns):
        step = max(abs(here[c] - before[c]), abs(behind[c] - here[c])) / cell
        slope2[c] = step * step
    for c in range(1, columns - 1):
        step = max(abs(here[c] - here[c - 1]), abs(here[c + 1] - here[c])) / cell
        slope2[c] += step * step
    last = columns - 1
    if last > 0:
        step = abs(here[1] - here[0]) / cell
        slope2[0] += step * step
        step = abs(here[last] - here[last - 1]) / cell
        slope2[last] += step * step
    for c in range(columns):
        widest[c] = slope2[c]
    for c in range(1, columns):
        widest[c] = max(widest[c], slope2[c - 1])
    for c in range(last):
        widest[c] = max(widest[c], slope2[c + 1])


@kernel(**NUMPY)
def errors_of_rows(  # type: ignore[no-untyped-def]
    height, run, made, never, first, cell, floor, error, bits, tolerance, in_bin, sums
):
    """Errors of some rows square to the surface, and what they come to.

    Parameters
    ----------
    height, run : (r, c) float32 as programmed and as run; made : (r, c) int32, ``never`` where the
        program cut nothing. Beyond the rows that are asked for they reach two rows further, or to
        the end of what there is.
    first : the first row that is asked for. cell, floor : float32. [mm]
    error : (n, c) float32, written: above 0 the wood is proud; NaN where nothing was cut, and where
        a wall, a foot or a rim is nearer than a cell. bits : the same memory as int32.
    tolerance : float32. [mm]
    in_bin : (BINS,) errors of each size are counted here; sums : (n,) written, of each row.

    Returns
    -------
    (errors beyond the tolerance, the least, the most); no least or most: inf, -inf
    """
    rows, columns = height.shape
    slope2 = np.empty((3, columns), np.float32)
    widest = np.zeros((3, columns), np.float32)
    beyond, least, most = 0, inf, -inf
    laid = max(first - 1, 0)
    for row in range(first, first + error.shape[0]):
        while laid <= min(row + 1, rows - 1):
            _slopes(height, laid, cell, slope2[laid % 3], widest[laid % 3])
            laid += 1
        if row == rows - 1:
            widest[(row + 1) % 3, :] = np.float32(0.0)
        high, ran, makers, out = height[row], run[row], made[row], error[row - first]
        own = slope2[row % 3]
        for c in range(columns):
            steep2 = max(widest[0, c], max(widest[1, c], widest[2, c]))
            cut = (makers[c] != never) | (ran[c] < high[c] - _GRAZE)
            off = (ran[c] - high[c]) / np.float32(sqrt(own[c] + _ONE))
            told = cut & (steep2 <= _MOST2) & (high[c] > floor) & (ran[c] > floor)
            out[c] = off if told else np.float32(np.nan)
        total = 0.0
        for c in range(columns):
            off = out[c]
            if off == off:
                total += off
                least, most = min(least, off), max(most, off)
                beyond += abs(off) > tolerance
                in_bin[(bits[row - first, c] & _SIZE) >> DROPPED] += 1
        sums[row - first] = total
    return beyond, least, most


def errors_reference(
    height: FloatArray, run: FloatArray, made: IntArray, never: int, cell_mm: float, floor_mm: float
) -> FloatArray:
    """All rows at once, in plain arrays: the definition."""
    known = (run < height - np.float32(GRAZE_MM)) | (made != never)
    slope2 = _steepest(height, cell_mm) ** 2 + _steepest(height.T, cell_mm).T ** 2
    # At a foot or a rim the map's slope is not the surface's: keep clear by a cell.
    known &= ~_grown(slope2 > STEEPEST**2)
    known &= (height > floor_mm) & (run > floor_mm)
    error = np.full(height.shape, np.nan, np.float32)
    np.divide(run - height, np.sqrt(slope2 + np.float32(1.0)), out=error, where=known)
    return error


def _steepest(height: FloatArray, cell_mm: float) -> FloatArray:
    """The steeper of the ways from each row to the one before and to the one behind."""
    step = np.abs(np.diff(height, axis=0)) / np.float32(cell_mm)
    out = np.zeros_like(height)
    out[1:] = step
    np.maximum(out[:-1], step, out=out[:-1])
    return out


def _grown(those: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Those cells and all that touch them, at corners too."""
    down = those.copy()
    down[1:] |= those[:-1]
    down[:-1] |= those[1:]
    out = down.copy()
    out[:, 1:] |= down[:, :-1]
    out[:, :-1] |= down[:, 1:]
    return out
