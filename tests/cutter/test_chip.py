"""The usual chip, from the judged rows of the table (common practice, no source)."""

from itertools import pairwise

import numpy as np
import pytest

from kerfwright.cutter import chip_range


@pytest.mark.parametrize(
    ("diameter", "family", "low", "high"),
    [
        (3.0, "hardwood", 0.03, 0.07),
        (6.0, "hardwood", 0.06, 0.15),
        (6.0, "mdf", 0.10, 0.25),
        (6.0, "softwood", 0.08, 0.20),
        (6.0, "plywood", 0.08, 0.18),
        (6.0, "panel", 0.08, 0.25),
    ],
)
def test_tabled_points(diameter, family, low, high):
    chip = chip_range(diameter, family)
    assert (chip.low_mm, chip.high_mm) == pytest.approx((low, high))
    assert "no source" in chip.source


def test_between_points_by_logarithms():
    """Half way between 3 and 6 mm in the logarithm the chip is the geometric mean."""
    chip = chip_range(np.sqrt(18.0), "hardwood")
    assert chip.low_mm == pytest.approx(np.sqrt(0.03 * 0.06))
    assert chip.high_mm == pytest.approx(np.sqrt(0.07 * 0.15))


def test_beyond_the_table():
    assert chip_range(0.75, "hardwood").high_mm == pytest.approx(0.015)
    assert chip_range(40.0, "hardwood").high_mm == pytest.approx(0.25)


@pytest.mark.parametrize("family", ["hardwood", "softwood", "panel", "mdf"])
def test_thicker_cutters_take_thicker_chips(family):
    chips = [chip_range(d, family) for d in np.geomspace(0.2, 30.0, 60)]
    for thin, thick in pairwise(chips):
        assert thin.low_mm <= thick.low_mm
        assert thin.high_mm <= thick.high_mm
    assert all(chip.low_mm < chip.high_mm for chip in chips)


@pytest.mark.parametrize(("diameter", "family"), [(0.0, "hardwood"), (6.0, "steel")])
def test_refused(diameter, family):
    with pytest.raises(ValueError, match=r"mm is not|no chip range"):
        chip_range(diameter, family)
