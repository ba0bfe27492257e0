"""Values given at the corners of a grid, in between."""

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, kernel

FloatArray = NDArray[np.float64]


@kernel(**NUMPY)
def between_corners(at, grid_x, grid_y, grid_z, corner, out):  # type: ignore[no-untyped-def]
    """``between_corners_reference``, into ``out`` (n, m)."""
    low, share = np.empty(3, np.int64), np.empty(3)
    ends = np.empty(3, np.int64)
    for n in range(at.shape[0]):
        for axis in range(3):
            grid = grid_x if axis == 0 else (grid_y if axis == 1 else grid_z)
            last = grid.shape[0] - 1
            low[axis], share[axis], ends[axis] = 0, 0.0, 1
            if last > 0:
                held = min(max(at[n, axis], grid[0]), grid[last])
                k = 0
                while k < last - 1 and grid[k + 1] <= held:
                    k += 1
                low[axis], ends[axis] = k, 2
                share[axis] = (held - grid[k]) / (grid[k + 1] - grid[k])
        out[n] = 0.0
        for a in range(ends[0]):
            for b in range(ends[1]):
                for c in range(ends[2]):
                    weight = share[0] if a else 1.0 - share[0]
                    weight *= share[1] if b else 1.0 - share[1]
                    weight *= share[2] if c else 1.0 - share[2]
                    for m in range(out.shape[1]):
                        out[n, m] += weight * corner[low[0] + a, low[1] + b, low[2] + c, m]


def between_corners_reference(
    at: FloatArray, grid: Sequence[FloatArray], corner: FloatArray
) -> FloatArray:
    """Linear along each axis, held at the grid's ends: the definition. (n, m)

    Parameters
    ----------
    at : (n, 3) places.
    grid : three rising arrays (nx,), (ny,), (nz,), one value at least in each.
    corner : (nx, ny, nz, m) values there.
    """
    weights, corners = [], []
    for values, along in zip(grid, at.T, strict=True):
        if len(values) == 1:
            corners.append(np.zeros((len(at), 1), np.int64))
            weights.append(np.ones((len(at), 1)))
            continue
        held = np.clip(along, values[0], values[-1])
        k = np.clip(np.searchsorted(values, held, side="right") - 1, 0, len(values) - 2)
        part = (held - values[k]) / (values[k + 1] - values[k])
        corners.append(np.stack([k, k + 1], axis=1))
        weights.append(np.stack([1.0 - part, part], axis=1))
    out = np.zeros((len(at), corner.shape[-1]))
    for a, b, c in product(*(range(each.shape[1]) for each in corners)):
        weight = weights[0][:, a] * weights[1][:, b] * weights[2][:, c]
        out += weight[:, None] * corner[corners[0][:, a], corners[1][:, b], corners[2][:, c]]
    return out
