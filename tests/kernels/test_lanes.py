"""Wood of a block into lanes along the travel, against cells one by one."""

import numpy as np
import pytest

from kerfwright.kernels.engagement import LANE_ROWS, VOLUME, nothing
from kerfwright.kernels.tiles import BLOCK
from kerfwright.kernels.weighing import into_lanes, lanes_reference

PLACES, FIRST = 40, np.float32(18.3)


@pytest.mark.parametrize("heading_deg", [0, 23, 71, 90, 180, 270, 300])
def test_rows_columns_and_cells_find_their_lanes(heading_deg):
    rng = np.random.default_rng(heading_deg)
    n = BLOCK * BLOCK
    heading = np.radians(heading_deg)
    x, y = np.arange(n) % BLOCK, np.arange(n) // BLOCK
    ux, uy = np.round([np.cos(heading), np.sin(heading)], 12)
    across = (0.1 * (y * ux - x * uy)).astype(np.float32)
    per_lane = np.float32(9.7)
    wood = (rng.uniform(0.1, 1.0, n) * (rng.random(n) < 0.6)).astype(np.float32)
    # A sliver along a wall has wood, and is not tall.
    taken = np.where(rng.random(n) < 0.2, np.float32(-1.0), wood)
    low = rng.uniform(-1.0, 1.0, n).astype(np.float32)
    expected = lanes_reference(wood, taken, low, across * per_lane + FIRST, PLACES)

    found = np.empty((LANE_ROWS, PLACES), np.float32)
    nothing(found)
    into_lanes(
        n, wood.copy(), taken, low.copy(), across, FIRST, per_lane, abs(uy) > abs(ux),
        np.empty(n, np.uint32), np.empty(n, np.float32), found,
    )  # fmt: skip

    assert found[VOLUME].sum() == pytest.approx(wood.sum(), rel=1e-6)
    # In float32 a place among lanes is told to 2e-6; up to 8 cells lie in one.
    np.testing.assert_allclose(found, expected, rtol=1e-5, atol=3e-5)
