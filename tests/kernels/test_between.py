"""Values between the corners of a grid: the kernel, its reference, and a general library."""

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from kerfwright.kernels.between import between_corners, between_corners_reference


@pytest.mark.parametrize("shape", [(4, 3, 2), (1, 5, 1), (1, 1, 1), (2, 2, 2)])
def test_kernel_reference_and_library_agree(shape):
    rng = np.random.default_rng(shape)
    grid = [np.cumsum(rng.uniform(0.5, 40.0, many)) for many in shape]
    corner = rng.normal(size=(*shape, 9))
    at = rng.uniform(-20.0, 150.0, (400, 3))
    for axis, values in enumerate(grid):  # on the grid's own values too
        at[axis : len(values) + axis, axis] = values
    out = np.empty((len(at), 9))
    between_corners(at, *grid, corner, out)
    assert np.array_equal(out, between_corners_reference(at, grid, corner))
    held = [np.clip(at[:, axis], values[0], values[-1]) for axis, values in enumerate(grid)]
    wide = [np.append(values, values[-1] + 1.0) for values in grid]
    padded = np.pad(corner, [(0, 1)] * 3 + [(0, 0)], mode="edge")
    library = RegularGridInterpolator(wide, padded)(np.stack(held, axis=1))
    assert out == pytest.approx(library, rel=1e-12, abs=1e-12)
