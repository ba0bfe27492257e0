"""A chain that hangs between two ends, against a general solver and its own length."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from kerfwright.physics.hanging import lowest_mm


@pytest.mark.parametrize("apart", [5.0, 300.0, 900.0])
@pytest.mark.parametrize("rise", [-600.0, -200.0, 0.0, 500.0])
@pytest.mark.parametrize("more", [1.001, 1.2, 2.5])
def test_the_lowest_place(apart, rise, more):
    length = more * np.hypot(apart, rise)
    depth, along = (float(x) for x in lowest_mm(length, apart, rise))

    # By search: the curve a cosh((x - c) / a) through both ends whose length is the given one.
    def long_of(log_a):
        a = np.exp(log_a)
        s = np.arcsinh(rise / (2 * a * np.sinh(apart / (2 * a))))
        c = apart / 2 - a * s
        curve = quad(lambda x: np.cosh((x - c) / a), 0, apart, epsabs=1e-9, limit=400)[0]
        return curve, a, c

    low = np.log(apart / (2 * 14.0))
    log_a = brentq(lambda x: np.log(long_of(x)[0] / length), low, np.log(100 * apart), xtol=1e-12)
    _, a, c = long_of(log_a)
    x = np.clip(c, 0.0, apart)
    assert along == pytest.approx(x, abs=1e-3 * apart)
    assert depth == pytest.approx(a * (np.cosh(c / a) - np.cosh((x - c) / a)), abs=2e-3 * length)


def test_hanging_straight_down():
    # Both ends above one another: down and up again.
    assert float(lowest_mm(1000.0, 0.0, 200.0)[0]) == pytest.approx(400.0, rel=1e-6)


def test_a_chain_that_does_not_reach():
    with pytest.raises(ValueError, match="longer"):
        lowest_mm(100.0, 100.0, 10.0)
