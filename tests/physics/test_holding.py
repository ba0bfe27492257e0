"""What holds a board, against closed forms and worked values."""

import numpy as np
import pytest

from kerfwright.physics.holding import (
    disc_turning_nmm,
    even_share,
    lifting_share,
    rise_between_mm,
    rise_beyond_mm,
    sliding_share,
)

CORNERS = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])


@pytest.mark.parametrize(("span_mm", "rise_mm"), [(600.0, 1.17), (300.0, 0.15)])
def test_a_thin_sheet_rises_between_its_screws(span_mm, rise_mm):
    # Worked out for this project: 6 mm plywood, 8 GPa, a strip of 200 mm, 30 N.
    assert rise_between_mm(30.0, span_mm, 200.0, 6.0, 8000.0) == pytest.approx(rise_mm, abs=0.005)


def test_a_free_end_rises_sixty_four_times_as_much():
    # F a³ / 3 E I against F L³ / 192 E I at the same length.
    one = rise_beyond_mm(30.0, 300.0, 200.0, 6.0, 8000.0)
    assert one == pytest.approx(64.0 * rise_between_mm(30.0, 300.0, 200.0, 6.0, 8000.0))


def test_a_disc_turns_at_two_thirds():
    # Sum of friction times radius over rings.
    r = (np.arange(2000) + 0.5) / 2000 * 50.0
    rings = (0.3 * 400.0 * 2.0 * r / 50.0**2 * r).sum() * 50.0 / 2000
    assert disc_turning_nmm(0.3 * 400.0, 50.0) == pytest.approx(rings, rel=1e-6)


def test_even_pressure_is_on_the_near_side_of_many_places():
    grid = np.mgrid[-9.5:10:2.0, -9.5:10:2.0].reshape(2, -1).T
    grid = grid[np.hypot(*grid.T) < 10.0]
    holds = np.full(len(grid), 100.0 / len(grid))
    for at in ((0.0, 4.0), (0.0, 20.0), (3.0, -9.0)):
        many = sliding_share(grid, holds, np.array([60.0, 0.0]), np.array(at))
        even = even_share(60.0, 60.0 * at[1], 100.0, 10.0)
        assert many < even * 1.03


def test_four_screws_hold_a_push_through_their_middle_all_alike():
    holds = np.full(4, 50.0)
    share = sliding_share(CORNERS, holds, np.array([100.0, 0.0]), np.array([50.0, 50.0]))
    assert share == pytest.approx(0.5, rel=0.021)  # the polygon stands outside the circle
    assert share < 0.5
    beside = sliding_share(CORNERS, holds, np.array([100.0, 0.0]), np.array([50.0, 400.0]))
    # Torque alone: 100 N at 350 mm against four at 70.7 mm.
    assert beside > 100.0 * 350.0 / (4.0 * 50.0 * 70.72) * 0.98


def test_nothing_holds_nothing():
    none = np.empty((0, 2)), np.empty(0)
    assert sliding_share(*none, np.array([1.0, 0.0]), np.zeros(2)) == np.inf
    assert sliding_share(CORNERS, np.ones(4), np.zeros(2), np.zeros(2)) == 0.0


def test_lifting_over_the_edge():
    # 20 N of weight alone: 20 N lift it in the middle, 10 at the middle of an edge.
    for point, share in (((50.0, 50.0), 0.5), ((100.0, 50.0), 1.0), ((100.0, 100.0), 1.0)):
        got = lifting_share(np.empty((0, 2)), np.empty(0), CORNERS, 20.0, 10.0, np.array(point))
        assert got == pytest.approx(share)
    corner = CORNERS[:1], np.array([50.0])
    assert lifting_share(*corner, CORNERS, 0.0, 50.0, np.zeros(2)) == pytest.approx(1.0)
    assert lifting_share(*corner, CORNERS, 0.0, 0.0, np.zeros(2)) == 0.0
