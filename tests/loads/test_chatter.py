"""From which depth on a cut sings: figures worked out independently for this project.

6 mm cutter, 2 flutes, 18 000 rev/min, full slot, K_c 43 N/mm², K_e 3.7 N/mm, normal share 0.3.
"""

from math import acos, pi, sqrt

import numpy as np
import pytest

from kerfwright.loads.chatter import depth_limit_mm, growth_n_per_mm2

CHIP, RUB, SHARE, PASSING = 43.0, 3.7, 0.3, 600.0
SLOT = (-pi / 2, pi / 2)


def growth(arc=SLOT, chip=CHIP):
    return growth_n_per_mm2(*arc, chip, SHARE, 2)


def test_it_grows_with_the_slope_of_the_force_not_with_force_over_chip():
    # A mode of 1500 Hz and 8 N/µm, damping 0.03: 11.0 mm by dF/dh, 4.0 by F/(b h) at half the feed.
    assert depth_limit_mm(growth(), 1500.0, 8000.0, 0.03) == pytest.approx(11.0, abs=0.05)
    over_chip = CHIP + RUB / 0.05
    low = depth_limit_mm(growth(chip=over_chip), 1500.0, 8000.0, 0.03)
    assert low == pytest.approx(4.0, abs=0.05)


def test_a_low_mode_does_not_sing_at_the_speed_of_a_router():
    # 40 Hz, 2 N/µm, damping 0.05: lowest limit 4.6 mm at some speed, 267 mm at 18 000 rev/min.
    assert depth_limit_mm(growth(), 40.0, 2000.0, 0.05) == pytest.approx(4.6, abs=0.05)
    assert depth_limit_mm(growth(), 40.0, 2000.0, 0.05, PASSING) == pytest.approx(267.0, abs=0.5)


def test_lowest_limit_of_a_slot_in_closed_form():
    # A slot turns every shift alike: eigenvalues N K/4 (-n ± i), and for a lightly damped mode the
    # limit is 4 k ζ / (K (1 + √(1 + n²))) with two flutes.
    for damping in (0.002, 0.01):
        by_hand = 4 * 8000.0 * damping / (CHIP * (1 + sqrt(1 + SHARE**2)))
        told = depth_limit_mm(growth(), 1500.0, 8000.0, damping)
        assert told == pytest.approx(by_hand, rel=3 * damping)


def test_growth_is_how_the_mean_force_changes():
    # Against the law itself: shift the cutter by a hair for half a turn of chip, and look.
    for arc in (SLOT, (-pi / 2, -pi / 2 + acos(0.6)), (0.2, pi / 2)):
        psi = arc[0] + (np.arange(40_000) + 0.5) / 40_000 * (arc[1] - arc[0])
        out = np.stack([np.cos(psi), np.sin(psi)])
        along = np.stack([-np.sin(psi), np.cos(psi)])
        for axis in range(2):
            force = CHIP * (along - SHARE * out) * out[axis]
            mean = force.mean(axis=1) * 2 * (arc[1] - arc[0]) / (2 * pi)
            assert growth(arc)[:, axis] == pytest.approx(mean, abs=1e-5)


@pytest.mark.parametrize("passing", [150.0, 333.0, 600.0, 1400.0])
def test_no_speed_goes_below_the_lowest_limit(passing):
    lowest = depth_limit_mm(growth(), 1500.0, 8000.0, 0.03)
    assert depth_limit_mm(growth(), 1500.0, 8000.0, 0.03, passing) >= lowest * (1.0 - 1e-6)
    less = growth((-pi / 2, -pi / 2 + acos(0.6)))
    assert depth_limit_mm(less, 1500.0, 8000.0, 0.03, passing) > lowest
