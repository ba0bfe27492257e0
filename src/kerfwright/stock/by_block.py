"""Maps made coarser: what stands for a block of cells."""

from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

_BAND_CELLS = 65_536  #: of a map that are looked at in one go


def worst_by_block(
    values: NDArray[np.floating[Any]], block: int | tuple[int, int]
) -> NDArray[np.floating[Any]]:
    """Each block of cells as the value in it that is farthest from 0; NaN if it holds none.

    Parameters
    ----------
    values : array (rows, columns)
    block : int or (int, int)
        Cells along a side of a block, or along rows and columns.

    Returns
    -------
    array (ceil(rows / block), ceil(columns / block))
    """
    if block in (1, (1, 1)):
        return values
    high, low = extremes_by_block(values, block)
    return np.where(high >= -low, high, low)


def extremes_by_block(
    values: NDArray[np.floating[Any]], block: int | tuple[int, int]
) -> tuple[NDArray[np.floating[Any]], NDArray[np.floating[Any]]]:
    """The highest and the lowest value in each block of cells; NaN where a block holds none."""
    down, across = (block, block) if isinstance(block, int) else block
    rows, columns = values.shape
    if down == 1 and across == 1:
        return values, values
    # In bands that stay near the processor: over a whole map at once it takes twice as long.
    band = down * max(1, _BAND_CELLS // (down * max(columns, 1)))
    firsts = range(0, max(rows, 1), band)
    parts = [_extremes(values[first : first + band], down, across) for first in firsts]
    high, low = (np.concatenate(side) for side in zip(*parts, strict=True))
    return high, low


def _extremes(
    values: NDArray[np.floating[Any]], down: int, across: int
) -> tuple[NDArray[np.floating[Any]], NDArray[np.floating[Any]]]:
    """``extremes_by_block`` in one go."""
    rows, columns = values.shape
    if rows % down or columns % across:
        extra = ((0, -rows % down), (0, -columns % across))
        values = np.pad(values, extra, constant_values=np.nan)
    # fmax passes over NaN without a warning, which nanmax of an empty block would give. One strided
    # layer after the other: reducing along short axes takes several times as long.
    high = low = values[::down, ::across]
    for i, j in product(range(down), range(across)):
        if i or j:
            layer = values[i::down, j::across]
            high, low = np.fmax(high, layer), np.fmin(low, layer)
    return high, low
