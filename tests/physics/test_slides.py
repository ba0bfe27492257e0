"""A carriage on its wheels against closed forms and a general optimiser."""

import numpy as np
import pytest
from scipy.optimize import minimize

from kerfwright.physics import contact, frame, gantry, slides

CORNERS = np.array([[s * 70.0, t * 45.0, 0.0] for s in (1, -1) for t in (1, -1)])
UP = np.tile([0.0, 0.0, 1.0], (4, 1))


def test_turning_is_stiffness_times_radius_squared():
    # k_theta = sum k r² (statics): springs up at four corners roll by 45, pitch by 70 mm.
    stiff = slides.slide_stiffness(CORNERS, UP, 5000.0)
    assert np.diag(stiff) == pytest.approx([0, 0, 4 * 5e3, 4 * 5e3 * 45**2, 4 * 5e3 * 70**2, 0])
    assert stiff - np.diag(np.diag(stiff)) == pytest.approx(0.0)
    # wheels across the rail yaw: the handbook's formula
    yaw = slides.slide_stiffness(CORNERS, np.tile([0.0, 1.0, 0.0], (4, 1)), 5000.0)[5, 5]
    assert yaw == pytest.approx(float(gantry.wheel_yaw_stiffness_nmm_per_rad(5000, 4, 140)))


def test_three_wheels_couple_a_shift_with_a_turn():
    # Two wheels in front, one behind: its middle of stiffness is a third of the way, and seen from
    # there shift and pitch part (parallel axes: statics).
    at = np.array([[60.0, 40.0, 0.0], [60.0, -40.0, 0.0], [-60.0, 0.0, 0.0]])
    stiff = slides.slide_stiffness(at, UP[:3], 2000.0)
    assert stiff[2, 4] == pytest.approx(-2000.0 * at[:, 0].sum())
    arm = frame.carried(np.array([20.0, 0.0, 0.0]))
    seen = np.linalg.inv(arm).T @ stiff @ np.linalg.inv(arm)
    assert seen[2, 4] == pytest.approx(0.0, abs=1e-6)
    assert seen[4, 4] == pytest.approx(2000.0 * ((at[:, 0] - 20.0) ** 2).sum())


def test_a_long_bearing_is_a_bed_of_springs():
    at = np.zeros((4000, 3))
    at[:, 0] = (np.arange(4000) + 0.5) / 4000 * 40.0 - 20.0
    bed = slides.slide_stiffness(at, np.tile([0.0, 0.0, 1.0], (4000, 1)), 50_000.0 / 4000)
    assert slides.bearing_turning_nmm_per_rad(50_000, 40) == pytest.approx(bed[4, 4], rel=1e-6)
    rows = slides.slide_stiffness(np.array([[0.0, 7.5, 0.0], [0.0, -7.5, 0.0]]), UP[:2], 25_000.0)
    assert slides.rows_turning_nmm_per_rad(50_000, 15) == pytest.approx(rows[3, 3])


PAIR_AT = np.zeros((2, 3))
PAIR = np.array([[0.0, 1.0, 0.0], [0.0, -1.0, 0.0]])
LOOSELY = np.diag([1.0, 0.0, 1.0, 1.0, 1.0, 1.0])


@pytest.mark.parametrize(("exponent", "times"), [(1.0, 2.00), (10 / 9, 2.16), (1.5, 2.83)])
def test_the_far_wheel_lets_go(exponent, times):
    # computed: at 2.00, 2.16 and 2.83 of the preload; more preload moves it later in proportion
    for preload in (30.0, 60.0, 120.0):

        def under(force, preload=preload):
            load = np.array([0.0, force, 0, 0, 0, 0])
            return slides.pressed(PAIR_AT, PAIR, 3000.0, preload, exponent, load, LOOSELY)

        opens = float(contact.unloading_force_n(preload, exponent))
        assert opens == pytest.approx(times * preload, rel=2e-3)
        assert under(0.999 * opens)[1][0] > 0.0
        assert under(1.001 * opens)[1][0] == 0.0
        soft = [np.diff([under(f)[0][1] for f in (a * opens, b * opens)])[0]
                for a, b in ((0.0, 1e-3), (1.01, 1.011))]  # fmt: skip
        if exponent == 1.0:  # half as stiff from there on
            assert soft[1] == pytest.approx(2.0 * soft[0], rel=1e-5)
        else:
            assert soft[1] > soft[0]


@pytest.mark.parametrize("seed", range(4))
def test_a_pressed_carriage_against_a_general_optimiser(seed):
    # scipy's minimiser of the energy over the movement (general-purpose reference). Wheels above
    # and below a rail and on both its sides.
    rng = np.random.default_rng(seed)
    ways = [(0, 0, 1), (0, 0, -1), (0, 1, 0), (0, -1, 0)]
    at = np.repeat(CORNERS, 4, axis=0)
    along = np.tile(np.array(ways, float), (4, 1))
    load = rng.normal(size=6) * [0.0, 240.0, 240.0, 8e3, 8e3, 8e3]
    n = (1.0, 10 / 9, 1.5, 1.5)[seed]
    moved, force = slides.pressed(at, along, 3000.0, 20.0, n, load, LOOSELY)
    lever = np.concatenate([along, np.cross(at, along)], axis=1)
    size = np.array([1e-3] * 3 + [1e-5] * 3)
    reach = n * 20.0 / 3000.0

    def energy(q):
        q = q * size
        pressed = np.maximum(1 - lever @ q / reach, 0.0) ** (n + 1)
        return 20.0 * reach / (n + 1) * pressed.sum() + 0.5 * q @ LOOSELY @ q - load @ q

    found = minimize(energy, np.zeros(6), method="BFGS", options={"gtol": 1e-9, "maxiter": 3000})
    assert moved / size == pytest.approx(found.x, rel=1e-3, abs=2e-2)
    assert lever.T @ force + load == pytest.approx(LOOSELY @ moved, abs=1e-5)
    assert force.min() == 0.0  # some have let go
    # a hair of load: the stiffness as pressed
    hair = slides.pressed(at, along, 3000.0, 20.0, n, 1e-6 * load, LOOSELY)[0]
    stiff = slides.slide_stiffness(at, along, 3000.0) + LOOSELY
    assert hair == pytest.approx(np.linalg.solve(stiff, 1e-6 * load), rel=1e-3, abs=1e-12)


def test_what_nothing_holds_is_refused():
    along_the_rail = np.array([5.0, 0, 0, 0, 0, 0])
    with pytest.raises(ValueError, match="nothing holds it"):
        slides.pressed(PAIR_AT, PAIR, 3000.0, 60.0, 1.0, along_the_rail)
    one = np.array([0.0, 200.0, 0, 0, 0, 0])
    with pytest.raises(ValueError, match="nothing holds it"):
        slides.pressed(PAIR_AT[:1], PAIR[1:], 3000.0, 60.0, 1.0, -one)
    with pytest.raises(ValueError, match="unit vector"):
        slides.slide_stiffness(CORNERS, 2.0 * UP, 1.0)
