"""Scallops and ridges against closed forms and against brute force."""

import numpy as np
import pytest

from kerfwright.physics.cusps import bull_scallop_mm, ridge_mm, scallop_mm


def test_scallop_of_a_ball():
    # Worked out for this project: R 1.5 mm, spacings 0.3 and 0.6 mm: 0.00752 and 0.03031 mm.
    assert scallop_mm(1.5, np.array([0.3, 0.6])) == pytest.approx([0.00752, 0.03031], abs=5e-6)
    s = np.linspace(0.0, 3.0, 31)
    assert scallop_mm(1.5, s) == pytest.approx(1.5 - np.sqrt(2.25 - s * s / 4.0), abs=1e-12)
    # The common shop rule s²/8r holds for small spacings.
    assert scallop_mm(3.0, 0.1) == pytest.approx(0.01 / 24.0, rel=1e-3)
    with pytest.raises(ValueError, match="do not meet"):
        scallop_mm(1.0, 2.1)


def test_a_bull_leaves_nothing_while_its_flats_overlap():
    assert bull_scallop_mm(6.0, 1.0, np.array([0.5, 4.0])) == pytest.approx([0.0, 0.0])
    assert bull_scallop_mm(6.0, 1.0, 4.6) == pytest.approx(scallop_mm(1.0, 0.6))
    assert bull_scallop_mm(6.0, 1.0, 0.6, 0.3) == pytest.approx(scallop_mm(1.0, 0.6))
    assert bull_scallop_mm(6.0, 3.0, 0.6) == pytest.approx(scallop_mm(3.0, 0.6))  # a ball
    with pytest.raises(ValueError, match="wider"):
        bull_scallop_mm(6.0, 3.1, 1.0)


def test_ridges_of_a_cutter_that_leans_one_way():
    # Across alone: step over times lean (the shop rule). Along alone: the end cuts a hollow.
    assert ridge_mm(6.0, np.array([1.5, 6.0]), 1e-3, 0.0) == pytest.approx([0.0015, 0.006])
    hollow = 1e-3 * (3.0 - np.sqrt(9.0 - 2.25))
    assert ridge_mm(6.0, 3.0, 0.0, np.array([1e-3, -1e-3])) == pytest.approx([hollow, hollow])
    assert ridge_mm(6.0, 3.0, 0.0, 0.0) == 0.0


@pytest.mark.parametrize("seed", range(12))
def test_ridges_against_the_lower_of_many_passes(seed):
    rng = np.random.default_rng(seed)
    diameter, (b, a) = rng.uniform(2.0, 20.0), rng.uniform(-3e-3, 3e-3, 2)
    s = diameter * rng.uniform(0.1, 0.95)
    radius = diameter / 2.0
    u = np.linspace(-s / 2.0, s / 2.0, 20_001)
    passes = u[:, None] - s * np.arange(-12, 13)
    inside = np.abs(passes) <= radius
    floor = b * passes - abs(a) * np.sqrt(np.maximum(radius**2 - passes**2, 0.0))
    floor = np.where(inside, floor, np.inf).min(axis=1)
    assert ridge_mm(diameter, s, b, a) == pytest.approx(np.ptp(floor), rel=2e-3)
