"""Which squares of a board a cutter may touch on its way."""

from itertools import pairwise
from math import ceil, floor, hypot

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

#: Pieces of one move at most: a board of 10 m has no more squares along its diagonal.
_MOST_PIECES = 4000


@inner_kernel(**NUMPY)
def _between(a, b, radius, side, most):  # type: ignore[no-untyped-def]
    """The first square along an axis from a to b, and the one behind the last."""
    first = floor(min(max((min(a, b) - radius) / side, 0.0), most))
    behind = floor(min(max((max(a, b) + radius) / side, -1.0), most - 1.0)) + 1.0
    return int(first), int(behind)


@kernel(**NUMPY)
def mark_squares(point, mine, radius, side, piece_mm, corners):  # type: ignore[no-untyped-def]
    """Count the squares around some moves, by the corners of rectangles.

    Parameters
    ----------
    point : (n + 1, 3) from point to point. mine : (n,) which moves count.
    radius, side : of the cutter and of the squares. [mm]
    piece_mm : a move across the grain of the squares is looked at in pieces about so long, since
        it touches few of those around it.
    corners : (rows + 1, columns + 1) the rectangles are added here: summed down and across they
        tell how often each square was touched. The last row and column are no squares.
    """
    rows, columns = corners.shape[0] - 1, corners.shape[1] - 1
    left = right = front = back = -1
    for i in range(mine.shape[0]):
        if not mine[i]:
            continue
        x0, y0 = point[i, 0], point[i, 1]
        dx, dy = point[i + 1, 0] - x0, point[i + 1, 1] - y0
        pieces = 1
        if min(abs(dx), abs(dy)) > side:
            pieces = ceil(min(hypot(dx, dy) / piece_mm, _MOST_PIECES))
        for k in range(pieces):
            a, b = k / pieces, (k + 1) / pieces
            c0, c1 = _between(x0 + a * dx, x0 + b * dx, radius, side, columns)
            r0, r1 = _between(y0 + a * dy, y0 + b * dy, radius, side, rows)
            # Many a short move touches the very squares that the one before it did.
            if c1 <= c0 or r1 <= r0 or (c0, c1, r0, r1) == (left, right, front, back):
                continue
            left, right, front, back = c0, c1, r0, r1
            corners[r0, c0] += 1
            corners[r1, c1] += 1
            corners[r0, c1] -= 1
            corners[r1, c0] -= 1


def squares_reference(
    point_mm: NDArray[np.float64], radius_mm: float, side_mm: float, shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """Squares that a box around the cutter meets on its way, by many places: the definition.

    ``shape``: rows and columns of the squares.
    """
    share = np.linspace(0.0, 1.0, 400)[:, None]
    touched = np.zeros(shape, np.bool_)
    for start, end in pairwise(point_mm):
        at = start + share * (end - start)
        low, high = (np.floor((at + far) / side_mm) for far in (-radius_mm, radius_mm))
        for (c0, r0, _), (c1, r1, _) in zip(low.astype(int), high.astype(int), strict=True):
            touched[max(r0, 0) : max(r1 + 1, 0), max(c0, 0) : max(c1 + 1, 0)] = True
    return touched
