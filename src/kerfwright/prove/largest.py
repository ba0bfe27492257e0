"""The few largest of many figures, without putting all of them in order."""

from typing import Any

import numpy as np
from numpy.typing import NDArray


def largest(values: NDArray[np.floating[Any]], count: int) -> NDArray[np.int64]:
    """Where the largest of some values (n,) stand, the largest first and of equal ones the first.

    The same as ``np.argsort(-values, kind="stable")[:count]``: (least of n and count,).
    """
    down = -values
    among = np.arange(len(down))
    if len(down) > count > 0:
        # Not above: what compares with nothing stays, and comes last as it does in a whole order.
        among = np.flatnonzero(~(down > np.partition(down, count - 1)[count - 1]))
    return np.asarray(among[np.argsort(down[among], kind="stable")][:count], dtype=np.int64)
