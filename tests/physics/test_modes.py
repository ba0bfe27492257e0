"""The cutter as a rod, and what its mode answers when the flute passes the wall."""

from dataclasses import replace
from math import acos, pi, radians

import numpy as np
import pytest

from kerfwright.physics.modes import Rod, answer_mm_per_n, passing_mm
from kerfwright.physics.teeth import Arcs, harmonics_n, lag_rad_per_mm

PLAIN = Rod(
    whole_mm=30.0, fluted_mm=12.0, fluted_diameter_mm=5.0, shank_diameter_mm=5.0,
    modulus_mpa=580_000.0, density_kg_per_m3=14_500.0,
)  # fmt: skip
STEPPED = replace(PLAIN, fluted_diameter_mm=4.0, shank_diameter_mm=6.0)


def test_a_plain_rod_is_a_cantilever():
    # Handbook: F L³ / 3 E I at the tip; with the load at a, read at x < a: F a² (3 b - a) / 6 E I.
    bend = 580_000.0 * pi * 5.0**4 / 64
    assert PLAIN.give_mm_per_n(0.0, 0.0) == pytest.approx(30.0**3 / (3 * bend), rel=1e-12)
    # Load 6 mm from the tip: a = 24 from the collet; read at the tip, 30 from it.
    assert PLAIN.give_mm_per_n(0.0, 6.0) == pytest.approx(24.0**2 * (3 * 30 - 24) / (6 * bend))


def test_a_plain_rod_rings_as_the_closed_form_says():
    # Clamped rod: 1.8751² √(E I / m L⁴) / 2π, stiffness at the tip 1.8751⁴ / 4 E I / L³ (textbook).
    bend = 580_000.0 * pi * 5.0**4 / 64
    mass = 14_500.0 * pi * 0.005**2 / 4  # kg/m
    mode = PLAIN.first_mode()
    exact = 1.8751**2 * np.sqrt(bend * 1e-6 / (mass * 0.03**4)) / (2 * pi)
    assert mode.hertz == pytest.approx(exact, rel=1e-3)
    assert mode.stiffness_n_per_mm == pytest.approx(1.8751**4 / 4 * bend / 30.0**3, rel=1e-3)
    assert mode.share(15.0) == pytest.approx(0.3395, abs=1e-3)  # tabulated shape, from memory


def test_reading_and_pushing_change_places():
    at = np.linspace(0.0, 30.0, 13)
    many = STEPPED.give_mm_per_n(at[:, None], at[None, :])
    assert many == pytest.approx(many.T, rel=1e-12)
    assert np.linalg.eigvalsh(many).min() > -1e-12


@pytest.mark.parametrize(
    "stiffer",
    [
        {"fluted_diameter_mm": 4.5},
        {"shank_diameter_mm": 8.0},
        {"modulus_mpa": 600_000.0},
        {"fluted_mm": 6.0},
    ],
)
def test_work_of_the_force_never_rises_with_a_stiffer_element(stiffer):
    at = np.linspace(0.0, 30.0, 13)
    soft = STEPPED.give_mm_per_n(at[:, None], at[None, :])
    stiff = replace(STEPPED, **stiffer).give_mm_per_n(at[:, None], at[None, :])
    # Fᵀ (C - C') F is not below 0 for any force at all.
    assert np.linalg.eigvalsh(soft - stiff).min() > -1e-12


def test_bending_stress():
    # 10 N at the tip: 120 N mm where the flutes end, 300 N mm at the collet; 32 M / π d³.
    flutes, collet = STEPPED.stress_mpa(10.0, 0.0)
    assert flutes == pytest.approx(32 * 120 / (pi * 4.0**3))
    assert collet == pytest.approx(32 * 300 / (pi * 6.0**3))
    assert STEPPED.stress_mpa(10.0, 15.0)[0] == 0.0


def test_an_oscillator_at_rest_at_its_own_pace_and_far_above():
    assert answer_mm_per_n(0.0, 40.0, 2000.0, 0.05) == pytest.approx(1 / 2000)
    assert answer_mm_per_n(40.0, 40.0, 2000.0, 0.05) == pytest.approx(1 / (2000 * 0.1j))
    assert abs(answer_mm_per_n(4000.0, 40.0, 2000.0, 0.05)) < 1.1e-4 / 2000
    back = answer_mm_per_n(-30.0, 40.0, 2000.0, 0.05)
    assert back == pytest.approx(np.conj(answer_mm_per_n(30.0, 40.0, 2000.0, 0.05)))


def cut(begin, end):
    one = np.ones(1)
    return Arcs(
        begin_rad=begin * one, end_rad=end * one, low_mm=0.0 * one, high_mm=6.0 * one,
        chip=43.0 * (1j - 0.3) * one, rub=3.7 * (1j - 0.7) * one, times=np.ones((2, 1)),
        plus_mm=np.zeros((2, 1)), heading_rad=np.array(0.0), feed_per_tooth_mm=np.array(0.1),
        lag_rad_per_mm=lag_rad_per_mm(radians(30.0), 3.0),
    )  # fmt: skip


def at_the_wall_um(arcs, hertz, n_per_um, damping, wall, heights, most=160):
    order, force = harmonics_n(arcs, most)
    answer = answer_mm_per_n(-300.0 * order, hertz, 1000.0 * n_per_um, damping)
    return 1000.0 * passing_mm(order, force, answer, wall, np.asarray(heights), arcs.lag_rad_per_mm)


def test_a_low_mode_feels_the_mean_force_alone():
    # Full slot, 40 Hz, 2 N/µm, damping 0.05: 13.50 to 13.57 µm over the wall; mean over k 13.52.
    heights = np.linspace(0.0, 6.0, 61)
    for wall in (-pi / 2, pi / 2):
        across = at_the_wall_um(cut(-pi / 2, pi / 2), 40.0, 2.0, 0.05, wall, heights).imag
        assert across.min() == pytest.approx(13.50, abs=0.006)
        assert across.max() == pytest.approx(13.57, abs=0.006)
    # The force of the instant over the stiffness would say 1.8 to 17.7 µm.
    static = at_the_wall_um(
        cut(-pi / 2, pi / 2), 1e6, 2.0, 0.05, pi / 2, heights, most=400
    ).imag  # fmt: skip
    assert static.max() == pytest.approx(17.7, abs=0.1)
    assert static.min() < 2.6


def test_a_cutter_mode_leans_the_wall():
    # 1500 Hz, 8 N/µm, damping 0.03, cutting down the travel 1.2 mm wide, at 0, 3 and 6 mm: proud
    # by 4.36, 1.46 and -0.26 µm; quasi-static 3.20, 1.60, 0; mean 1.18. The wall lies at -y.
    down = cut(-pi / 2, -pi / 2 + acos(0.6))
    heights = [0.0, 3.0, 6.0]
    away = at_the_wall_um(down, 1500.0, 8.0, 0.03, -pi / 2, heights).imag
    assert away == pytest.approx([4.36, 1.46, -0.26], abs=0.01)
    still = at_the_wall_um(down, 1e6, 8.0, 0.03, -pi / 2, heights, most=800).imag
    assert still == pytest.approx([3.20, 1.60, 0.0], abs=0.01)
    force = harmonics_n(down, 0)[1]
    assert force[0].imag / 8.0 == pytest.approx(1.18, abs=0.005)


def test_a_rod_must_be_a_rod():
    with pytest.raises(ValueError, match="whole_mm must be above 0"):
        replace(PLAIN, whole_mm=0.0)
    with pytest.raises(ValueError, match="longer than the rod"):
        replace(PLAIN, fluted_mm=31.0)
    with pytest.raises(ValueError, match="not on the rod"):
        PLAIN.give_mm_per_n(-1.0, 0.0)
