"""How high triangles reach, seen from above."""

from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, kernel


@kernel(**NUMPY)
def highest(corners, x0_mm, y0_mm, cell_mm, top_mm):  # type: ignore[no-untyped-def]
    """Raise a map to the triangles over its cells' centres.

    Parameters
    ----------
    corners : (k, 3, 3) x y z of three corners. [mm]
    x0_mm, y0_mm : centre of the map's first cell.
    top_mm : (rows, columns) raised in place where a triangle is higher.

    Triangles that stand upright cover nothing. A centre on the edge between two counts with both.
    """
    rows, columns = top_mm.shape
    near = 1e-9
    for k in range(corners.shape[0]):
        ax, ay, az = corners[k, 0, 0], corners[k, 0, 1], corners[k, 0, 2]
        bx, by = corners[k, 1, 0] - ax, corners[k, 1, 1] - ay
        cx, cy = corners[k, 2, 0] - ax, corners[k, 2, 1] - ay
        double = bx * cy - cx * by
        if abs(double) < 1e-14:
            continue
        bz, cz = corners[k, 1, 2] - az, corners[k, 2, 2] - az
        slope_x = (bz * cy - cz * by) / double
        slope_y = (cz * bx - bz * cx) / double
        low = min(corners[k, 0, 1], min(corners[k, 1, 1], corners[k, 2, 1])) - near
        high = max(corners[k, 0, 1], max(corners[k, 1, 1], corners[k, 2, 1])) + near
        first = max(0.0, ceil((low - y0_mm) / cell_mm))
        last = min(rows - 1.0, floor((high - y0_mm) / cell_mm))
        for row in range(int(first), int(last) + 1):
            y = y0_mm + row * cell_mm
            left, right = 1e30, -1e30
            for i in range(3):
                j = (i + 1) % 3
                xi, yi = corners[k, i, 0], corners[k, i, 1]
                xj, yj = corners[k, j, 0], corners[k, j, 1]
                if (yi > y + near and yj > y + near) or (yi < y - near and yj < y - near):
                    continue
                if abs(yj - yi) <= 2.0 * near:
                    left, right = min(left, min(xi, xj)), max(right, max(xi, xj))
                    continue
                share = min(max((y - yi) / (yj - yi), 0.0), 1.0)
                x = xi + share * (xj - xi)
                left, right = min(left, x), max(right, x)
            begin = max(0.0, ceil((left - near - x0_mm) / cell_mm))
            end = min(columns - 1.0, floor((right + near - x0_mm) / cell_mm))
            for column in range(int(begin), int(end) + 1):
                x = x0_mm + column * cell_mm
                z = az + slope_x * (x - ax) + slope_y * (y - ay)
                if z > top_mm[row, column]:
                    top_mm[row, column] = z


def highest_reference(
    corners: NDArray[np.float64],
    x0_mm: float,
    y0_mm: float,
    cell_mm: float,
    top_mm: NDArray[np.float64],
) -> None:
    """``highest``, by each centre's shares of the three corners: the definition."""
    rows, columns = top_mm.shape
    y, x = np.mgrid[0:rows, 0:columns] * cell_mm
    x, y = x + x0_mm, y + y0_mm
    for a, b, c in corners:
        double = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
        if abs(double) < 1e-14:
            continue
        of_b = ((x - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (y - a[1])) / double
        of_c = ((b[0] - a[0]) * (y - a[1]) - (x - a[0]) * (b[1] - a[1])) / double
        inside = (of_b >= -1e-9) & (of_c >= -1e-9) & (of_b + of_c <= 1.0 + 1e-9)
        z = a[2] + of_b * (b[2] - a[2]) + of_c * (c[2] - a[2])
        np.maximum(top_mm, np.where(inside, z, -np.inf), out=top_mm)
