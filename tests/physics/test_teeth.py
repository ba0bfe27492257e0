"""Forces of each flute against angle, against closed forms worked out by hand.

The example: 6 mm 2-flute cutter, 300 rev/s, 6 mm deep, feed per tooth 0.1 mm, K_c 43 N/mm²,
K_e 3.7 N/mm, normal shares 0.3 and 0.7. Computed figures, none of them read anywhere.
"""

from dataclasses import replace
from math import acos, cos, hypot, pi, radians, sin

import numpy as np
import pytest

from kerfwright.physics.teeth import (
    Arcs,
    force_n,
    harmonics_n,
    lag_rad_per_mm,
    peak_n,
    power_w,
    uneven_chips,
)

CHIP, RUB, FEED, DEPTH, RADIUS = 43.0, 3.7, 0.1, 6.0, 3.0
TURN = np.arange(3600) * 2 * pi / 3600


def cut(begin, end, helix_deg=30.0, runout=0.0, heading=0.0, flutes=2, pieces=1):
    edges = heading + np.linspace(begin, end, pieces + 1)
    one = np.ones(pieces)
    middle = 0.5 * (edges[1:] + edges[:-1])
    times, plus = uneven_chips(FEED * np.cos(middle - heading), flutes, runout)
    return Arcs(
        begin_rad=edges[:-1],
        end_rad=edges[1:],
        low_mm=0.0 * one,
        high_mm=DEPTH * one,
        chip=CHIP * (1j - 0.3) * one,
        rub=RUB * (1j - 0.7) * one,
        times=times,
        plus_mm=plus,
        heading_rad=np.array(heading),
        feed_per_tooth_mm=np.array(FEED),
        lag_rad_per_mm=lag_rad_per_mm(radians(helix_deg), RADIUS),
    )


def slot(**more):
    return cut(-pi / 2, pi / 2, **more)


def side(**more):
    """Cutting down the travel, 1.2 mm wide."""
    return cut(-pi / 2, -pi / 2 + acos(0.6), **more)


@pytest.mark.parametrize("helix", [0.0, 12.0, 30.0, -30.0])
@pytest.mark.parametrize("pieces", [1, 7])
def test_mean_of_a_slot(helix, pieces):
    # By hand, times N a_p / 2π: 0.3 K_c f π/2 + 2 · 0.7 K_e along, K_c f π/2 + 2 K_e across.
    share = 2 * DEPTH / (2 * pi)
    along = share * (0.3 * CHIP * FEED * pi / 2 + 0.7 * RUB * 2)
    across = share * (CHIP * FEED * pi / 2 + RUB * 2)
    assert (along, across) == (pytest.approx(13.763, abs=1e-3), pytest.approx(27.033, abs=1e-3))
    order, force = harmonics_n(slot(helix_deg=helix, pieces=pieces), 2)
    mean = force[order == 0.0][0]
    assert -mean.real == pytest.approx(along, rel=1e-9)
    assert mean.imag == pytest.approx(across, rel=1e-9)
    # Integrated along the helix and averaged over a turn instead.
    many = force_n(slot(helix_deg=helix, pieces=pieces), TURN).mean()
    assert many == pytest.approx(complex(-along, across), rel=1e-6 if helix else 1e-3)


def test_power_of_a_slot_is_chip_and_rub():
    # K_c times the volume a second, and K_e z a_p v ψ / 2π: 92.9 + 125.5 = 218.4 W.
    rate = 2 * RADIUS * DEPTH * FEED * 2 * 300
    chip = CHIP * rate / 1000
    rub = RUB * 2 * DEPTH * (2 * pi * RADIUS * 300) * 0.5 / 1000
    assert (chip, rub) == (pytest.approx(92.9, abs=0.05), pytest.approx(125.5, abs=0.05))
    assert power_w(slot(), RADIUS, 300.0) == pytest.approx(chip + rub, rel=1e-9)
    assert power_w(slot(pieces=5), RADIUS, 300.0) == pytest.approx(218.4, abs=0.05)


def test_peak_of_straight_flutes():
    # One flute straight ahead: 6 mm of edge, a chip of 0.1 mm.
    tangential = DEPTH * (CHIP * FEED + RUB)
    normal = DEPTH * (0.3 * CHIP * FEED + 0.7 * RUB)
    straight = peak_n(slot(helix_deg=0.0))
    assert straight == pytest.approx(hypot(tangential, normal), rel=1e-4)
    assert peak_n(slot()) < straight
    # A helix of a hair is as good as straight.
    assert peak_n(slot(helix_deg=0.001)) == pytest.approx(float(straight), rel=1e-4)


@pytest.mark.parametrize("runout", [0.0, 0.05])
@pytest.mark.parametrize("helix", [20.0, 30.0, -25.0])
def test_harmonics_are_the_fourier_transform_of_the_force(helix, runout):
    arcs = side(helix_deg=helix, runout=runout, pieces=10)
    order, force = harmonics_n(arcs, 12)
    turned = np.fft.fft(force_n(arcs, TURN)) / len(TURN)
    assert force == pytest.approx(turned[order.astype(int)], abs=2e-5)
    odd = order % 2 == 1
    # Flutes that cut alike make no force at odd turns.
    assert bool(np.abs(force[odd]).max() < 1e-12) is (runout == 0.0)


def test_long_flutes_wind_round_more_than_once():
    arcs = replace(slot(), high_mm=np.array([40.0]))  # 40 mm of edge lag by 7.7 rad
    mean = harmonics_n(arcs, 0)[1][0]
    assert force_n(arcs, TURN).mean() == pytest.approx(mean, rel=1e-6)


@pytest.mark.parametrize("heading", np.linspace(-3.0, 3.0, 7))
@pytest.mark.parametrize("make", [slot, side])
def test_forces_turn_with_the_path(make, heading):
    order, first = harmonics_n(make(runout=0.02), 6)
    turned = harmonics_n(make(runout=0.02, heading=heading), 6)[1]
    # The vector turns by the heading, and comes at an angle of the tip that much on.
    assert turned == pytest.approx(first * np.exp(1j * (1.0 - order) * heading), abs=1e-12)


@pytest.mark.parametrize(("from_travel_deg", "alone"), [(59.0, False), (61.0, True)])
def test_one_flute_cuts_alone(from_travel_deg, alone):
    # Runout 0.05, feed per tooth 0.1: alone where f sin φ < 0.05, φ below 30 degrees from the wall.
    times, plus = uneven_chips(np.array([0.1 * cos(radians(from_travel_deg))]), 2, 0.05)
    assert bool(times[1, 0] == 0.0) is alone
    facing = 0.1 * cos(radians(from_travel_deg))
    chips = times[:, 0] * facing + plus[:, 0]
    assert chips.sum() == pytest.approx(2 * facing)  # together they take what there is
    assert chips[0] == pytest.approx(2 * facing if alone else facing + 0.05)


@pytest.mark.parametrize("flutes", [1, 2, 3, 4, 7])
@pytest.mark.parametrize("runout", [0.0, 0.01, 0.05, 0.4])
def test_chips_add_up_to_the_feed_of_a_turn(flutes, runout):
    facing = FEED * np.cos(np.linspace(-1.5, 1.5, 31))
    times, plus = uneven_chips(facing, flutes, runout)
    chips = times * facing + plus
    assert (chips >= 0.0).all()
    assert chips.sum(axis=0) == pytest.approx(flutes * facing, abs=1e-12)
    # And against plain counting: cut, turn after turn, into what the flutes before left.
    out = 0.5 * runout * np.cos(2 * pi * np.arange(flutes) / flutes)
    for k in (0, 11, 15):
        surface, taken = -1.0, np.zeros(flutes)
        for tooth in range(40 * flutes):
            reach = tooth * facing[k] + out[tooth % flutes]
            taken[tooth % flutes] = max(reach - surface, 0.0)
            surface = max(surface, reach)
        assert chips[:, k] == pytest.approx(taken, abs=1e-9)


def test_runout_raises_the_peak_and_keeps_the_mean_chip_force():
    true, out = side(pieces=60), side(runout=0.05, pieces=30)
    assert peak_n(out) > 1.2 * peak_n(true)
    chip = [replace(arcs, rub=0.0 * arcs.rub) for arcs in (true, out)]
    means = [harmonics_n(arcs, 0)[1][0] for arcs in chip]
    assert means[1] == pytest.approx(means[0], rel=1e-9)


def test_many_places_at_once():
    arcs = [side(heading=h, runout=0.02, pieces=6) for h in (0.0, 1.0)]
    both = Arcs(**{
        name: np.stack([getattr(one, name) for one in arcs])
        for name in Arcs.__dataclass_fields__
    })  # fmt: skip
    for k, one in enumerate(arcs):
        assert harmonics_n(both, 5)[1][k] == pytest.approx(harmonics_n(one, 5)[1])
        assert force_n(both, TURN[::300])[k] == pytest.approx(force_n(one, TURN[::300]))
        assert power_w(both, RADIUS, 300.0)[k] == pytest.approx(power_w(one, RADIUS, 300.0))
    assert peak_n(both).shape == (2,)


def test_a_cutter_without_a_radius_has_no_lag():
    assert lag_rad_per_mm(radians(30.0), 3.0) == pytest.approx(sin(pi / 6) / cos(pi / 6) / 3.0)
    with pytest.raises(ValueError, match="radius_mm must be above 0"):
        lag_rad_per_mm(0.5, 0.0)
