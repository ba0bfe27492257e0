"""Geometry of what lies under the work, against a geometry library."""

import numpy as np
import pytest
from shapely import LineString, Point

from kerfwright.basics import Known
from kerfwright.fixture import Metal
from kerfwright.prove.bed import _apart_mm


@pytest.mark.parametrize("round_", [False, True])
def test_how_far_path_and_metal_lie_apart(round_):
    rng = np.random.default_rng(5)
    below = Known(value=0.0, kind="measured", ref="gauge")
    for _ in range(20):
        begin, end = rng.uniform(0, 100, (2, 40, 3))
        ends = rng.uniform(20, 80, (2, 2))
        end[0, :2] = begin[0, :2]  # straight down
        to = ends[0] if round_ else ends[1]
        metal = Metal(kind="track", name="t", from_mm=tuple(ends[0]), to_mm=tuple(to),
                      half_width_mm=1.0, below_mm=below)  # fmt: skip
        piece = Point(ends[0]) if round_ else LineString(ends)
        expected = [
            LineString([a[:2], b[:2]]).distance(piece) for a, b in zip(begin, end, strict=True)
        ]
        assert _apart_mm(begin, end, metal) == pytest.approx(np.array(expected), abs=1e-9)
