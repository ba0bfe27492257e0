"""Plates against closed forms: series, strips, beams."""

import numpy as np
import pytest

from kerfwright.physics.beams import cantilever_end_mm, supported_between_mm
from kerfwright.physics.frame import bar_compliance, on_two_supports
from kerfwright.physics.plates import (
    bending_matrix,
    flexural_rigidity_nmm,
    shapes_at,
    shapes_over,
    solved,
    stretching_matrix,
)
from kerfwright.physics.sandwich import mid_sag_mm

YOUNG, RATIO, HARD = 3590.0, 0.3, 1e9


def sagging(sides, bending, shear, ratio, held, level=(), load_at=(0.0, 0.0), order=10):
    """Sag at a place under 1 N there; w held at places, turns (index, place) held level."""
    stiff = bending_matrix(np.array(sides), bending, shear, ratio, order)
    hold = np.kron([1.0, 0.0, 0.0], shapes_at(sides, np.array(held), order))
    for turn, places in level:
        way = np.eye(3)[turn]
        hold = np.concatenate([hold, np.kron(way, shapes_at(sides, np.array(places), order))])
    stiff += HARD * hold.T @ hold
    load = np.kron([1.0, 0.0, 0.0], shapes_at(sides, np.array([load_at]), order))[0]
    return float(load @ np.linalg.solve(stiff, load))


def edge(half, count=15):
    at = np.cos(np.linspace(0.0, np.pi, count)) * half
    one, other = np.full(count, half), np.full(count, -half)
    sides = [np.stack(pair, 1) for pair in ((at, one), (at, other), (one, at), (other, at))]
    return np.concatenate(sides[:2]), np.concatenate(sides[2:])


@pytest.mark.parametrize(("clamped", "factor"), [(False, 0.0116), (True, 0.0056)])
def test_square_plate_with_a_force_in_the_middle(clamped, factor):
    # Timoshenko and Woinowsky-Krieger, k P a² / D: 0.0116 held down, 0.0056 held level as well
    # (from memory; 0.01160 by the double series of sines).
    sides, thin = np.array([100.0, 100.0]), 0.5
    bending = float(flexural_rigidity_nmm(YOUNG, thin, RATIO))
    along, across = edge(50.0)
    held = np.concatenate([along, across])
    # A held side stays level along itself; a clamped one turns neither way.
    level = ((2, along), (1, across), *(((1, along), (2, across)) if clamped else ()))
    sag = sagging(sides, bending, 5 / 6 * YOUNG / 2.6 * thin, RATIO, held, level, order=12)
    assert sag * bending / 100.0**2 == pytest.approx(factor, rel=0.02)


def test_square_plate_by_its_series():
    # Held down at its edges: Navier's double series, with the shear that a thick plate adds
    # (Mindlin; textbook), of a pressure spread over the middle.
    side, thick, reach = 200.0, 20.0, 40.0
    bending = float(flexural_rigidity_nmm(YOUNG, thick, RATIO))
    shear = 5 / 6 * YOUNG / 2.6 * thick
    odd = np.arange(1, 160, 2) * np.pi / side
    part = np.sin(odd * reach) / (odd * reach) * np.sin(odd * side / 2)
    square = odd[:, None] ** 2 + odd[None, :] ** 2
    terms = np.outer(part, part) ** 2 * (1 / (bending * square**2) + 1 / (shear * square))
    expected = 4.0 / side**2 * terms.sum()

    sides, order = np.array([side, side]), 10
    stiff = bending_matrix(sides, bending, shear, RATIO, order)
    along, across = edge(100.0)
    rows = [np.kron([1.0, 0.0, 0.0], shapes_at(sides, np.concatenate([along, across]), order))]
    rows += [
        np.kron(np.eye(3)[k], shapes_at(sides, p, order)) for k, p in ((2, along), (1, across))
    ]
    hold = np.concatenate(rows)
    mean, _, _ = shapes_over(sides, np.zeros((1, 2)), reach, order)
    load = np.kron([1.0, 0.0, 0.0], mean).T
    sag = load.T @ solved(stiff + HARD * hold.T @ hold, load)
    assert sag.item() == pytest.approx(expected, rel=2e-3)


def test_narrow_plates_are_beams():
    # Without Poisson's ratio a strip on two lines is the sandwich strip, one held at its end the
    # cantilever (Zenkert, read; textbook).
    sides, bending, shear = np.array([400.0, 20.0]), 5e6, 9e3
    lines = np.array([[x, y] for x in (-200.0, 200.0) for y in (-10.0, 0.0, 10.0)])
    sag = sagging(sides, bending, shear, 0.0, lines, order=11)
    assert sag == pytest.approx(float(mid_sag_mm(1.0, 400.0, 20 * bending, 20 * shear)), rel=0.01)
    end = np.stack([np.full(15, -200.0), np.linspace(-10.0, 10.0, 15)], 1)
    tip = sagging(sides, bending, 1e7, 0.0, end, ((2, end),), (200.0, 0.0), order=6)
    young, second = 20 * bending * 12 / 20**4, 20.0**4 / 12
    assert tip == pytest.approx(float(cantilever_end_mm(1.0, 400.0, young, second)), rel=1e-3)


def test_in_its_plane():
    # Pulled: F L / E t b. Bent in its plane as a deep cantilever: F L³ / 3 E I + F L / k G A, k 5/6
    # with Poisson's ratio 0 (textbook); sheared by its turned corners.
    sides, young, thick, order = np.array([300.0, 100.0]), 8000.0, 12.0, 8
    stiff = stretching_matrix(sides, young * thick, 0.0, order)
    line = np.stack([np.full(9, -150.0), np.linspace(-50, 50, 9)], 1)
    hold = np.kron(np.eye(2), shapes_at(sides, line, order))
    stiff += 1e7 * hold.T @ hold
    points, weights = np.polynomial.legendre.leggauss(6)
    tip = np.stack([np.full(6, 150.0), 50.0 * points], 1)
    pull = (weights / 2) @ shapes_at(sides, tip, order)
    moved = [
        load @ np.linalg.solve(stiff, load)
        for load in (np.kron([1, 0], pull), np.kron([0, 1], pull))
    ]
    area, second = 100 * thick, thick * 100**3 / 12
    assert moved[0] == pytest.approx(300 / (young * area), rel=1e-3)
    bent = 300**3 / (3 * young * second) + 300 / (5 / 6 * young / 2 * area)
    assert moved[1] == pytest.approx(bent, rel=0.01)


@pytest.mark.parametrize("order", [3, 4])
def test_a_free_plate_moves_and_turns_for_nothing(order):
    sides, at = np.array([300.0, 200.0]), np.array([[80.0, -30.0]])
    bent = np.linalg.eigvalsh(bending_matrix(sides, 5e6, 9e3, 0.3, order))
    flat = np.linalg.eigvalsh(stretching_matrix(sides, 4e4, 0.3, order))
    for values in (bent, flat):
        assert np.all(values[:3] < 1e-9 * values[-1])
        assert values[3] > 1e-8 * values[-1]
    # the mean of a slope is that of the shape itself
    mean, slope, _ = shapes_over(sides, at, 1e-3, order)
    aside = shapes_at(sides, at + [0.01, 0.0], order) - shapes_at(sides, at - [0.01, 0.0], order)
    assert mean == pytest.approx(shapes_at(sides, at, order), abs=1e-4)
    assert slope == pytest.approx(aside / 0.02, abs=1e-5)


def test_even_and_odd_apart_are_the_whole():
    rng = np.random.default_rng(3)
    sides, order = np.array([300.0, 200.0]), 4
    corners = np.array([[x, y] for x in (-90.0, 90.0) for y in (-70.0, 70.0)])
    for fields, stiff in (
        (3, bending_matrix(sides, 5e6, 9e3, 0.3, order)),
        (2, stretching_matrix(sides, 4e4, 0.3, order)),
    ):
        hold = np.kron(np.eye(fields), shapes_at(sides, corners, order))
        stiff += 1e3 * hold.T @ hold
        load = rng.normal(size=(len(stiff), 3))
        assert solved(stiff, load) == pytest.approx(
            np.linalg.solve(stiff, load), rel=1e-6, abs=1e-9
        )


def test_refused():
    with pytest.raises(ValueError, match="order"):
        bending_matrix(np.array([1.0, 1.0]), 1.0, 1.0, 0.3, 0)
    with pytest.raises(ValueError, match="not on the plate"):
        shapes_over(np.array([10.0, 10.0]), np.array([[6.0, 0.0]]), 1.0, 2)
    with pytest.raises(ValueError, match="of no plate"):
        solved(np.eye(7), np.ones((7, 1)))


BENDING, SHEAR = (9e9, 4e9), (6e6, 5e6)


@pytest.mark.parametrize("beyond", [105.0, 0.0, -30.0, -60.0])
def test_a_bar_on_two_supports_is_its_energy(beyond):
    # Twice the energy of what is inside for a force and a moment at the place (textbook), added up
    # piece by piece from the reactions; held close by two supports it is the cantilever.
    between = 120.0
    found = on_two_supports(beyond, between, 5e7, *BENDING, 2e9, *SHEAR)
    at = between + beyond
    z = (np.arange(40_000) + 0.5) / 40_000 * max(at, between)
    inside = np.zeros((2, 2, len(z)))  # moment and shear, for the force and for the moment
    for load, (force, moment) in enumerate(((1.0, 0.0), (0.0, 1.0))):
        second = -(force * at + moment) / between  # what holds it, at the second support
        first = -force - second
        for push, where in ((first, 0.0), (second, between), (force, at)):
            inside[0, load] += push * np.maximum(z - where, 0.0)
            inside[1, load] += push * (z > where)
        inside[0, load] -= moment * (z > at)
    for shift, turn, way, bend, shear in ((1, 5, 1, 4e9, 6e6), (2, 4, -1, 9e9, 5e6)):
        expected = np.einsum("ip,jp->ij", inside[0], inside[0]) / bend
        expected += np.einsum("ip,jp->ij", inside[1], inside[1]) / shear
        expected *= max(at, between) / len(z)
        mine = found[np.ix_([shift, turn], [shift, turn])]
        assert mine == pytest.approx(expected * np.array([[1, way], [way, 1]]), rel=2e-3, abs=1e-12)


def test_supports_close_together_hold_a_bar_fast():
    # But for shear, which a pair of supports close together makes large.
    found = on_two_supports(100.0, 1e-3, 5e7, *BENDING, 2e9)
    expected = bar_compliance(100.0, 5e7, *BENDING, 2e9)
    assert found == pytest.approx(expected, rel=1e-4, abs=1e-20)
    middle = on_two_supports(-200.0, 400.0, 5e7, *BENDING, 2e9)[1, 1]
    assert middle == pytest.approx(float(supported_between_mm(1.0, 200.0, 200.0, 400.0, 1.0, 4e9)))
    with pytest.raises(ValueError, match="before the first"):
        on_two_supports(-130.0, 120.0, 5e7, *BENDING, 2e9)


def test_a_plate_on_four_wheels_against_the_bar():
    # The Z plate as a plate: 130 by 250 by 12 mm of aluminium, wheels 120 and 110 mm apart, pushed
    # square to it over the upper edge of the spindle's mount. The bar is within a tenth.
    sides, young, ratio, order = np.array([250.0, 130.0]), 70300.0, 0.33, 10
    bending = float(flexural_rigidity_nmm(young, 12.0, ratio))
    shear = 5 / 6 * young / (2 * (1 + ratio)) * 12.0
    wheels = np.array([[x, y] for x in (-110.0, 10.0) for y in (-55.0, 55.0)])
    stiff = bending_matrix(sides, bending, shear, ratio, order)
    hold = np.kron([1.0, 0.0, 0.0], shapes_at(sides, wheels, order))
    line = np.stack([np.full(9, 115.0), np.linspace(-50.0, 50.0, 9)], 1)
    push = np.kron([1.0, 0.0, 0.0], shapes_at(sides, line, order)).mean(axis=0)
    sag = float(push @ np.linalg.solve(stiff + HARD * hold.T @ hold, push))
    bar = on_two_supports(105.0, 120.0, 1e9, 1e9, young * 130 * 12**3 / 12, 1e9, shear * 130)[1, 1]
    assert bar == pytest.approx(sag, rel=0.1)
