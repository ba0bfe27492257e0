"""Beams, sections, sandwiches and contacts."""

from math import pi

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from kerfwright.physics import beams, contact, inertia, modes, sandwich, sections, vibration, wood

TUBE = (40.0, 80.0, 3.0)
DEEP = sections.rectangle_tube_second_moment_mm4(*TUBE)


def test_tube_section():  # computed
    assert pytest.approx(5.5853e5, rel=1e-4) == DEEP
    assert sections.rectangle_tube_second_moment_mm4(80, 40, 3) == pytest.approx(1.8429e5, rel=1e-4)
    assert sections.rectangle_tube_torsion_mm4(*TUBE) == pytest.approx(4.2720e5, rel=1e-4)


def test_round_tube_exact_and_bredt():  # computed
    exact = sections.round_tube_torsion_mm4(50, 3)
    bredt = sections.bredt_torsion_mm4(pi * 23.5**2, pi * 47 / 3)
    assert exact == pytest.approx(2.45624e5, rel=1e-5)
    assert bredt == pytest.approx(2.44627e5, rel=1e-5)


def test_no_tube():
    with pytest.raises(ValueError, match="the walls meet"):
        sections.rectangle_tube_torsion_mm4(40, 80, 20)


@pytest.mark.parametrize("ratio", [1.0, 0.5, 0.2, 0.05])
def test_solid_rectangle_torsion_against_the_series(ratio):
    # Saint-Venant's series for a rectangle (textbook).
    n = np.arange(1, 60, 2)
    series = ratio**3 / 3 * (1 - 192 * ratio / pi**5 * np.sum(np.tanh(n * pi / 2 / ratio) / n**5))
    assert sections.rectangle_bar_torsion_mm4(1.0, ratio) == pytest.approx(series, rel=5e-3)


def test_mid_and_quarter_loads():
    # computed from the usual forms: 80 x 40 x 3 tube, 69 GPa, 0.9 m, 100 N
    assert beams.supported_mid_mm(100, 900, 69_000, DEEP) * 1000 == pytest.approx(39.41, abs=0.01)
    assert beams.clamped_mid_mm(100, 900, 69_000, DEEP) * 1000 == pytest.approx(9.852, abs=0.001)
    at = beams.supported_at_mm(100, 300, 900, 69_000, DEEP) * 1000
    assert at == pytest.approx(31.14, abs=0.01)


def test_a_beam_read_beside_its_force():
    # Under the force it is the other formula; four-point bending gives P a² (3 L - 4 a) / 6 E I
    # under either force (textbook); exchanged it is the same.
    def sag(at, read):
        return float(beams.supported_between_mm(1.0, at, read, 900.0, 69_000, DEEP))

    assert sag(300, 300) == pytest.approx(float(beams.supported_at_mm(1, 300, 900, 69_000, DEEP)))
    four = 200.0**2 * (3 * 900 - 4 * 200) / (6 * 69_000 * DEEP)
    assert sag(200, 200) + sag(700, 200) == pytest.approx(four)
    assert sag(130, 610) == pytest.approx(sag(610, 130))
    assert sag(130, 0) == 0.0


def test_printed_rectangle():
    # Inputs of an open beam code's notes (read); values computed: 22.974 + 0.0465 mm, 5.7435 mm.
    moment = 400 * 180**3 / 12
    assert beams.supported_mid_mm(125e3, 7000, 2e5, moment) == pytest.approx(22.974, abs=1e-3)
    share = beams.rectangle_shear_share(0.3)
    shear = beams.shear_mid_mm(125e3, 7000, 2e5 / 2.6, 400 * 180, share)
    assert shear == pytest.approx(0.0465, abs=5e-5)
    assert beams.clamped_mid_mm(125e3, 7000, 2e5, moment) == pytest.approx(5.7435, abs=1e-4)


def test_even_load_against_a_solver():
    # w'''' = q / E I on 0..1 with scipy's boundary-value solver (general-purpose reference).
    def slope(_, w):
        return np.vstack((w[1], w[2], w[3], np.ones_like(w[0])))

    ends = {
        "supported": lambda a, b: np.array([a[0], a[2], b[0], b[2]]),
        "clamped": lambda a, b: np.array([a[0], a[1], b[0], b[1]]),
        "cantilever": lambda a, b: np.array([a[0], a[1], b[2], b[3]]),
    }
    for kind, held in ends.items():
        found = solve_bvp(slope, held, np.linspace(0, 1, 41), np.zeros((4, 41)))
        sag = np.abs(found.sol(np.linspace(0, 1, 201))[0]).max()
        assert beams.even_load_mm(1.0, 1.0, 1.0, 1.0, kind) == pytest.approx(sag, rel=1e-4)


def test_twist():
    # computed: tube of above, 26 GPa, 10 N m in the middle: 2.0257e-4 rad
    torsion = sections.rectangle_tube_torsion_mm4(*TUBE)
    turn = beams.twist_rad(10e3, 450, 900, 26_000, torsion)
    assert turn == pytest.approx(2.0257e-4, rel=1e-4)
    assert turn * 100 == pytest.approx(0.02026, abs=1e-5)


def test_frequencies():  # computed
    area = sections.rectangle_tube_area_mm2(*TUBE)
    assert vibration.supported_frequency_hz(900, 69_000, DEEP, area, 2700) == pytest.approx(
        280.1, abs=0.1
    )
    assert vibration.spring_frequency_hz(5000, 12) == pytest.approx(102.7, abs=0.05)
    # sag of 1 mm under its own weight
    assert vibration.spring_frequency_hz(9.80665, 1) == pytest.approx(15.76, abs=0.01)
    # 25 Hz, 1 m/s²: 40.5 µm standing, 81 at the peak
    assert vibration.step_sag_mm(1000, 25) * 1000 == pytest.approx(40.5, abs=0.05)
    assert inertia.swing_mm(1000, 25) * 1000 == pytest.approx(81, abs=0.5)


def test_torsion_box():
    # computed: 600 wide, faces 6 mm of 8 GPa, core 88 mm of 60 MPa, 1.2 m, 500 N
    bending = sandwich.bending_stiffness_nmm2(600, 6, 88, 8000)
    shear = sandwich.shear_stiffness_n(600, 6, 88, 60)
    assert bending / 1e6 == pytest.approx(1.27411e5, rel=1e-5)
    assert shear == pytest.approx(3.61473e6, rel=1e-5)
    assert sandwich.mid_sag_mm(500, 1200, bending, shear) == pytest.approx(0.1828, abs=5e-5)
    bent = sandwich.mid_sag_mm(500, 1200, bending, 1e30)
    assert bent == pytest.approx(0.1413, abs=5e-5)
    assert sandwich.mid_sag_mm(500, 1200, bending, shear) - bent == pytest.approx(0.0415, abs=5e-5)
    solid = beams.supported_mid_mm(500, 1200, 8000, 600 * 12**3 / 12)
    assert solid == pytest.approx(26.04, abs=0.01)


@pytest.mark.parametrize(("skin", "um"), [(6, 158), (12, 20)])  # computed, whole micrometres
def test_skin_dent(skin, um):
    # 200 N, ribs 100 mm apart. MDF's 3.59 GPa: Wood Handbook, table 12-1 (read).
    assert sandwich.skin_dent_mm(200, 100, skin, 3590) * 1000 == pytest.approx(um, abs=0.5)


def test_a_skin_that_is_only_held_down_dents_twice_as_deep():
    # Square plate, force in the middle: 0.0116 P s² / D against 0.0056 (Timoshenko, from memory),
    # the first against Navier's double series (textbook) summed here.
    odd = np.arange(1, 400, 2)
    series = 4 / pi**4 * np.sum(1.0 / (odd[:, None] ** 2 + odd**2) ** 2)
    free = sandwich.skin_dent_mm(200, 100, 6, 3590, 0.3, clamped=False)
    plate = 3590 * 6**3 / 12 / (1 - 0.3**2)
    assert free == pytest.approx(series * 200 * 100**2 / plate, rel=5e-3)
    assert free / sandwich.skin_dent_mm(200, 100, 6, 3590) == pytest.approx(0.0116 / 0.0056)


def test_ribbed_core():
    assert sandwich.ribbed_core_shear_mpa(600, 12, 120) == pytest.approx(60)


def test_hertz():  # computed
    modulus = contact.contact_modulus_mpa(207_000, 0.292, 207_000, 0.292)
    assert modulus == pytest.approx(113_147, abs=1)
    half, pressure = contact.line_contact(100, 10, modulus)
    assert (half, pressure) == (pytest.approx(0.10608, abs=1e-5), pytest.approx(600.1, abs=0.1))
    touch, approach, pressure, stiffness = contact.ball_contact(100, 5, modulus)
    assert touch == pytest.approx(0.14909, abs=1e-5)
    assert approach == pytest.approx(4.446e-3, abs=1e-6)
    assert pressure == pytest.approx(2148, abs=1)
    assert stiffness == pytest.approx(33_740, abs=10)
    assert 100 / approach == pytest.approx(22_490, abs=10)


def test_palmgren():  # Palmgren, Harris: from memory; computed
    assert contact.roller_approach_mm(500, 3) == pytest.approx(4.283e-3, abs=1e-6)
    slope = (contact.roller_approach_mm(500.5, 3) - contact.roller_approach_mm(499.5, 3)) / 1.0
    assert contact.roller_stiffness_n_per_mm(500, 3) == pytest.approx(1 / slope, rel=1e-5)


def test_v_wheel():
    assert contact.flank_force_n(200) == pytest.approx(141.4, abs=0.05)  # computed
    radial, axial = contact.v_wheel_stiffness_n_per_mm(10_000)
    assert (radial, axial) == (pytest.approx(10_000), pytest.approx(10_000))
    # 60 degree flanks to the wheel plane's normal: work done by hand for a unit shift
    radial, axial = contact.v_wheel_stiffness_n_per_mm(1.0, np.inf, pi / 6)
    assert (radial, axial) == (pytest.approx(0.5), pytest.approx(1.5))


@pytest.mark.parametrize(("exponent", "factor"), [(1.0, 2.0), (10 / 9, 2.16), (1.5, 2.83)])
def test_unloading(exponent, factor):  # computed
    force = contact.unloading_force_n(100, exponent)
    assert force == pytest.approx(100 * factor, abs=0.3)
    # against the two contacts solved: near at P (1 + u)^n, far at P (1 - u)^n, u = 1 at lift-off
    assert force == pytest.approx(100 * ((1 + 1) ** exponent - (1 - 1) ** exponent))


def test_torsion_box_against_one_board():
    # computed: D of the box over that of both faces as one solid 12 mm board: 184.3
    box = sandwich.bending_stiffness_nmm2(600, 6, 88, 8000)
    assert box / (8000 * 600 * 12**3 / 12) == pytest.approx(184.3, abs=0.05)


def test_stepped_cutter():
    # computed: carbide 600 GPa, 6.35 mm, flutes 25 mm of 0.8 D, shank 15 mm, 50 N: 30.11 µm; 0.8 D
    # all along 54.38; solid 22.27. 0.8 D: Kops and Vo, Annals of the CIRP 39/1 (1990), abstract
    # read.
    def give(fluted, diameter):
        rod = modes.Rod(
            whole_mm=40.0, fluted_mm=fluted, fluted_diameter_mm=diameter, shank_diameter_mm=6.35,
            modulus_mpa=600e3, density_kg_per_m3=14_500.0,
        )  # fmt: skip
        return 50 * rod.give_mm_per_n(0.0, 0.0) * 1000

    assert give(25.0, 0.8 * 6.35) == pytest.approx(30.11, abs=5e-3)
    assert give(40.0, 0.8 * 6.35) == pytest.approx(54.38, abs=6e-3)
    assert give(25.0, 6.35) == pytest.approx(22.27, abs=6e-3)
    moment = sections.round_bar_second_moment_mm4(6.35)
    assert beams.cantilever_end_mm(50, 40, 600e3, moment) * 1000 == pytest.approx(22.27, abs=6e-3)


@pytest.mark.parametrize("exponent", [1.0, 10 / 9, 1.5])
def test_preloaded_wheels_soften_when_one_runs_free(exponent):
    # Two wheels of Q = c x^n pressed at each other, moved by u: near (1 + u)^n, far (1 - u)^n.
    def force(u):
        return (1 + u) ** exponent - np.maximum(1 - u, 0.0) ** exponent

    opens = contact.unloading_force_n(1.0, exponent)
    assert force(1.0) == pytest.approx(opens)
    before = (force(1.0 - 1e-6) - force(1.0 - 2e-6)) / 1e-6
    after = (force(1.0 + 2e-6) - force(1.0 + 1e-6)) / 1e-6
    if exponent == 1.0:  # linear contact: half as stiff from there on
        assert after == pytest.approx(0.5 * before, rel=1e-6)
    else:
        assert after < before
    assert force(0.999) < opens < force(1.001)


def test_damp_plywood_against_the_preload():
    # computed: 150 mm of plywood, +3 % moisture at 1.8e-4 for each per cent (from memory): 81 µm
    grown = wood.panel_growth_mm(150.0, 3.0)
    assert grown * 1000 == pytest.approx(81.0)
    travel = contact.preload_travel_mm(60.0, 3000.0)  # 60 N, 3 N/µm a wheel
    assert travel * 1000 == pytest.approx(40.0)
    assert grown > travel  # such wheels run free
