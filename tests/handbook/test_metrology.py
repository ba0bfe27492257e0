"""Positioning, straightness, squareness, circles, uncertainty, budgets and tolerances."""

from math import radians

import numpy as np
import pytest
from scipy.optimize import minimize

from kerfwright.physics import (
    circularity,
    error_budget,
    positioning,
    squareness,
    straightness,
    thermal,
    tolerances,
    uncertainty,
)
from kerfwright.physics.geometry_errors import lean_by_diagonals
from kerfwright.tables import read_table

# Linear stage, acceptance test of the Paul Scherrer Institute, 2023-12-08 (open report, read): five
# targets, five approaches each way. Deviations, mm.
TARGETS = np.array([-10.0, -4.88, 0.24, 5.36, 10.48])
UP = np.array([
    [-10.00008102, -10.00010202, -10.00008702, -10.00009202, -10.00010002],
    [-4.88008702, -4.88009702, -4.88009702, -4.88009502, -4.88008202],
    [0.23992798, 0.23990998, 0.23991198, 0.23991298, 0.23991298],
    [5.35989798, 5.35991398, 5.35991398, 5.35990698, 5.35992198],
    [10.47989998, 10.47988798, 10.47987098, 10.47989098, 10.47990298],
]) - TARGETS[:, None]  # fmt: skip
DOWN = np.array([
    [-10.00009902, -10.00009402, -10.00008202, -10.00009102, -10.00009402],
    [-4.88010302, -4.88010402, -4.88009502, -4.88011102, -4.88009302],
    [0.23991398, 0.23989798, 0.23990898, 0.23992398, 0.23990098],
    [5.35992798, 5.35990798, 5.35990498, 5.35989698, 5.35991898],
    [10.47989598, 10.47987398, 10.47986998, 10.47985898, 10.47989298],
]) - TARGETS[:, None]  # fmt: skip


def test_each_target_of_the_open_report():
    up, down, s_up, s_down, reversal, repeat = positioning.at_targets_mm(UP, DOWN)
    assert up[0] == pytest.approx(-9.242e-5, abs=5e-9)
    assert down[1] == pytest.approx(-1.0122e-4, abs=5e-9)
    assert s_up[0] == pytest.approx(8.792e-6, abs=5e-10)
    assert s_down[3] == pytest.approx(1.218e-5, abs=5e-9)
    assert reversal == pytest.approx([-4e-7, 9.6e-6, 6e-6, -4e-7, 1.22e-5], abs=5e-9)
    assert repeat == pytest.approx([3.517e-5, 3.772e-5, 4.17e-5, 4.871e-5, 6.882e-5], abs=5e-9)


def test_the_axis_of_the_open_report():
    # B, mean B and M as printed. R and E by the standard's definitions, recomputed: the report
    # prints the greater (R) and the lesser (E) of one way's, 6.29e-5 and 2.46e-5.
    found = positioning.axis_mm(UP, DOWN)
    printed = (1.22e-5, 5.4e-6, 6.882e-5, 3.68e-5, 2.77e-5, 8.881e-5)
    assert [float(x) for x in found] == pytest.approx(printed, abs=6e-9)
    one_way = positioning.one_way_mm(UP)
    assert [float(x) for x in one_way] == pytest.approx((5.033e-5, 2.46e-5, 6.428e-5), abs=6e-9)
    one_way = positioning.one_way_mm(DOWN)
    assert [float(x) for x in one_way] == pytest.approx((6.290e-5, 3.30e-5, 8.881e-5), abs=6e-9)


@pytest.mark.parametrize("seed", range(20))
def test_relations_of_positioning(seed):
    rng = np.random.default_rng(seed)
    up, down = rng.normal(0.0, 0.01, (2, 7, 5)) + rng.normal(0.0, 0.02, (2, 7, 1))
    b, mean_b, r, e, m, a = positioning.axis_mm(up, down)
    (r_up, e_up, a_up), (r_down, e_down, a_down) = map(positioning.one_way_mm, (up, down))
    assert e >= max(e_up, e_down) - 1e-15
    assert a >= max(a_up, a_down) - 1e-15
    assert r >= max(r_up, r_down) - 1e-15
    assert r >= b
    assert m <= e
    # a constant changes nothing; a shift by direction adds to every reversal
    moved = positioning.axis_mm(up + 0.3, down + 0.3)
    assert [float(x) for x in moved] == pytest.approx([float(x) for x in (b, mean_b, r, e, m, a)])
    shifted = positioning.at_targets_mm(up + 0.05, down - 0.05)[4]
    assert shifted == pytest.approx(positioning.at_targets_mm(up, down)[4] + 0.1)


def test_approaches_must_match():
    with pytest.raises(ValueError, match="the same targets"):
        positioning.axis_mm(UP, DOWN[:4])
    with pytest.raises(ValueError, match="at least twice"):
        positioning.axis_mm(UP[:, :1], DOWN[:, :1])


# --- straightness ---------------------------------------------------------------------------------

HEIGHTS = np.array([0, 4, 7, 9, 8, 6, 3, 1, 0]) * 1e-3


def test_level():  # computed
    found = straightness.by_level_mm(np.array([20, -10, 30, 0, -25]) * 1e-6, 100.0)
    assert found * 1000 == pytest.approx([2, 1, 4, 4, 1.5])


def test_three_feelers():  # computed
    bend = straightness.bend_mm(HEIGHTS)
    assert bend * 1000 == pytest.approx([-1, -1, -3, -1, -1, 1, 1])
    assert straightness.by_bend_mm(bend) == pytest.approx(HEIGHTS, abs=1e-15)
    # a gauge off by 0.1 µm: -e N² / 8 = -0.8 µm in the middle of eight stretches
    off = straightness.by_bend_mm(bend + 1e-4) - HEIGHTS
    assert off[4] == pytest.approx(-0.8e-3)


def test_straightness_three_ways():  # computed
    assert straightness.by_ends_mm(HEIGHTS) * 1000 == pytest.approx(9.0)
    assert straightness.by_best_line_mm(HEIGHTS) * 1000 == pytest.approx(10.0)
    assert straightness.narrowest_mm(HEIGHTS) * 1000 == pytest.approx(9.0)


@pytest.mark.parametrize("seed", range(20))
def test_the_narrowest_band_against_a_general_optimiser(seed):
    # scipy's scalar search over the slope (general-purpose reference), from many starts
    rng = np.random.default_rng(seed)
    height = rng.normal(size=rng.integers(2, 40))
    at = np.arange(len(height))

    def width(slope):
        return np.ptp(height - slope[0] * at)

    starts = np.linspace(-2, 2, 9)
    best = min(minimize(width, [s], method="Nelder-Mead", tol=1e-10).fun for s in starts)
    found = straightness.narrowest_mm(height)
    assert found == pytest.approx(best, abs=1e-6)
    assert found <= straightness.by_best_line_mm(height) + 1e-12
    assert found <= straightness.by_ends_mm(height) + 1e-12


# --- squareness and circles -----------------------------------------------------------------------


def test_square_turned_round():  # computed
    machine, square = squareness.reversal_mm(0.18, 0.06)
    assert (machine, square) == (pytest.approx(0.12), pytest.approx(0.06))


def test_diagonals():  # computed: 600 x 400 mm, 0.8 mrad
    first, second = squareness.diagonals_mm(600, 400, 0.8e-3)
    assert (first, second) == (
        pytest.approx(721.37646, abs=5e-6),
        pytest.approx(720.84395, abs=5e-6),
    )
    assert first - second == pytest.approx(0.53251, abs=5e-6)
    assert squareness.by_diagonals_rad(600, 400, first, second) == pytest.approx(0.8e-3)
    assert np.arcsin(lean_by_diagonals(600, 400, first, second)) == pytest.approx(0.8e-3)
    # (d1 - d2) sqrt(a² + b²) / 2ab
    near = (first - second) * np.hypot(600, 400) / (2 * 600 * 400)
    assert near == pytest.approx(0.8e-3, rel=1e-5)


def test_diagonals_from_corners():
    lean = 0.03
    corner = np.array([400 * np.sin(lean), 400 * np.cos(lean)])  # the second side leans
    first = np.hypot(*(np.array([600.0, 0.0]) + corner))
    second = np.hypot(*(corner - [600.0, 0.0]))
    found = squareness.diagonals_mm(600, 400, lean)
    assert (first, second) == (pytest.approx(found[0]), pytest.approx(found[1]))


TURN = np.linspace(0, 2 * np.pi, 721)[:-1]


def test_pure_effects_on_a_circle():  # computed: R 100 mm
    assert circularity.by_squareness_mm(100, 0.5e-3) == pytest.approx(0.0500)
    assert circularity.by_scales_mm(100, 400e-6, 0.0) == pytest.approx(0.0400)
    assert circularity.by_play_mm(0.12) == pytest.approx(0.120)


def test_effects_against_circles_run():
    x, y = 100 * np.cos(TURN), 100 * np.sin(TURN)
    lean = circularity.deviation_mm(x - 0.5e-3 * y, y)
    assert lean == pytest.approx(circularity.by_squareness_mm(100, 0.5e-3), rel=1e-3)
    scale = circularity.deviation_mm(x * (1 + 400e-6), y)
    assert scale == pytest.approx(circularity.by_scales_mm(100, 400e-6, 0.0), rel=1e-3)
    # lost motion in X by direction: about the true centre radii differ by the play
    lost = x + np.where(np.sin(TURN) > 0, -0.06, 0.06)
    radius = np.hypot(lost, y)
    assert np.ptp(radius) == pytest.approx(circularity.by_play_mm(0.12), rel=1e-2)
    # first-order lag of both axes: amplitude 1 / sqrt(1 + (w t)²)
    turn = 50.0 / 50.0 * 0.02
    loss = 50 * (1 - 1 / np.sqrt(1 + turn**2))
    assert circularity.lag_loss_mm(50, 50, 0.02) == pytest.approx(loss, rel=1e-3)


def test_the_centre_does_not_matter():
    x, y = 30 * np.cos(TURN) + 412.0, 30 * np.sin(TURN) - 7.0
    assert circularity.deviation_mm(x, y) == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(ValueError, match="on a line"):
        circularity.deviation_mm(np.arange(5.0), 2 * np.arange(5.0))


# --- uncertainty ----------------------------------------------------------------------------------


def test_readings():  # computed
    mean, scatter, standard = uncertainty.of_readings_mm(
        np.array([100.02, 100.05, 99.98, 100.01, 100.03])
    )
    assert mean == pytest.approx(100.018)
    assert scatter == pytest.approx(0.02588, abs=5e-6)
    assert standard == pytest.approx(0.01158, abs=5e-6)


def test_caliper():  # computed: resolution 0.01, certificate U 0.02 (k 2), s 0.012 of 3 readings
    parts = np.array([uncertainty.of_resolution_mm(0.01), 0.02 / 2, 0.012 / 3**0.5])
    assert parts == pytest.approx([0.0029, 0.0100, 0.0069], abs=5e-5)
    assert uncertainty.combined_mm(parts) == pytest.approx(0.01250, abs=5e-6)


def test_gum_example_g41():
    # JCGM 100:2008, G.4.1 (from memory): Y = b X1 X2 X3, n 10, 5, 15, relative u 0.25, 0.57 and
    # 0.82 %: u_c 1.03 %, 19.0 degrees of freedom, t 2.09, U 2.2 %.
    parts = np.array([0.25, 0.57, 0.82])
    whole = uncertainty.combined_mm(parts)
    assert whole == pytest.approx(1.03, abs=5e-3)
    freedom = uncertainty.effective_freedom(parts, np.array([9.0, 4.0, 14.0]))
    assert freedom == pytest.approx(19.0, abs=0.05)
    factor = uncertainty.coverage_factor(np.round(freedom))
    assert factor == pytest.approx(2.09, abs=5e-3)
    assert factor * whole == pytest.approx(2.2, abs=0.05)


@pytest.mark.parametrize(
    ("freedom", "t"), [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01)]
)
def test_students_t(freedom, t):
    # GUM, table G.2 (from memory)
    assert uncertainty.coverage_factor(freedom) == pytest.approx(t, abs=5e-3)


@pytest.mark.parametrize(
    ("form", "divisor"), [("rectangular", 3), ("triangular", 6), ("arcsine", 2)]
)
def test_forms_of_a_spread(form, divisor):
    # against draws of that form
    rng = np.random.default_rng(1)
    draws = {
        "rectangular": rng.uniform(-1, 1, 200_000),
        "triangular": rng.triangular(-1, 0, 1, 200_000),
        "arcsine": np.sin(rng.uniform(0, 2 * np.pi, 200_000)),
    }[form]
    ours = uncertainty.of_spread_mm(1.0, form)
    assert ours == pytest.approx(divisor**-0.5)
    assert ours == pytest.approx(draws.std(), rel=1e-2)


def test_acceptance_takes_the_uncertainty_off():
    found = uncertainty.accepts(np.array([0.07, -0.09]), 0.02, 0.1)
    assert found.tolist() == [True, False]


# --- budgets, warmth ------------------------------------------------------------------------------


def test_budgets():  # computed
    errors = np.array([12.0, 5, 8, 20, 3])
    assert error_budget.worst_mm(errors) == pytest.approx(48)
    assert error_budget.root_sum_mm(errors) == pytest.approx(25.34, abs=5e-3)
    assert error_budget.between_mm(errors) == pytest.approx(36.67, abs=5e-3)
    # A teaching page (read): 100 µm over 4 parts: 25, 50, 37.5 each
    assert [float(x) for x in error_budget.shared_out_mm(100, 4)] == pytest.approx([25, 50, 37.5])
    assert error_budget.mixed_mm(np.array([20, -12, 5]), np.array([3, 4])) == pytest.approx(18)


def test_growth():  # computed: 1 m, 10 K
    assert thermal.growth_mm(1000, 10, 11.7e-6) == pytest.approx(0.117)
    assert thermal.growth_mm(1000, 10, 23.6e-6) == pytest.approx(0.236)
    assert thermal.scales_apart_mm(1000, 10, 23.6e-6, 11.7e-6) == pytest.approx(0.119)


# --- fits and general tolerances ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "hole", "shaft", "limits", "clearance"),
    [
        # ISO 286-1:2010 by a secondary transcription (read)
        (25, ("H", 7), ("g", 6), (0, 21, -20, -7), (7, 41)),
        (20, ("H", 8), ("f", 7), (0, 33, -41, -20), (20, 74)),
    ],
)
def test_fits(size, hole, shaft, limits, clearance):
    found = (*tolerances.hole_mm(size, *hole), *tolerances.shaft_mm(size, *shaft))
    assert [float(x) * 1000 for x in found] == pytest.approx(limits)
    fit = tolerances.clearance_mm(size, *hole, *shaft)
    assert [float(x) * 1000 for x in fit] == pytest.approx(clearance)


def test_a_size_on_a_limit_belongs_to_the_lower_row():
    assert tolerances.standard_mm(np.array([18.0, 18.001]), 7).tolist() == [0.018, 0.021]
    # a forum gives 25 H7 as +25 µm: that is 30 to 50 mm
    assert tolerances.standard_mm(np.array([25.0, 40.0]), 7).tolist() == [0.021, 0.025]
    with pytest.raises(ValueError, match="up to 500 mm"):
        tolerances.standard_mm(501.0, 7)


def test_grades_by_their_formula():
    # ISO 286-1's i = 0.45 D^(1/3) + 0.001 D, 7 to 2500 times (from memory), before its rounding.
    times = [7, 10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000, 1600, 2500]
    for row in read_table("iso286_it")[1:]:
        d = (float(row["over_mm"]) * float(row["upto_mm"])) ** 0.5
        i = 0.45 * d ** (1 / 3) + 0.001 * d
        for grade, factor in zip(range(5, 19), times, strict=True):
            assert float(row[f"IT{grade}"]) == pytest.approx(factor * i, rel=0.1)


def test_deviations_by_their_formulas():
    # d 16 D^0.44, e 11 D^0.41, f 5.5 D^0.41, g 2.5 D^0.34 (from memory): within 1.3 µm to 180 mm
    laws = {"d": (16, 0.44), "e": (11, 0.41), "f": (5.5, 0.41), "g": (2.5, 0.34)}
    for row in read_table("iso286_deviations")[1:9]:
        d = (float(row["over_mm"]) * float(row["upto_mm"])) ** 0.5
        for letter, (factor, power) in laws.items():
            assert float(row[letter]) == pytest.approx(-factor * d**power, abs=1.3)


def test_letters():
    assert [float(x) for x in tolerances.shaft_mm(25, "js", 7)] == [-0.0105, 0.0105]
    assert float(tolerances.shaft_mm(25, "k", 6)[0]) == pytest.approx(0.002)
    assert float(tolerances.shaft_mm(25, "k", 8)[0]) == 0.0  # k is 0 outside IT4 to IT7
    assert [float(x) for x in tolerances.hole_mm(25, "F", 7)] == pytest.approx([0.020, 0.041])
    with pytest.raises(ValueError, match="letter must be"):
        tolerances.shaft_mm(25, "s", 6)
    with pytest.raises(ValueError, match="grade must be"):
        tolerances.standard_mm(25.0, 19)


def test_general_tolerances():
    # ISO 2768-1 (read in secondary tables): 45 mm medium ± 0.3; 250 mm coarse ± 1.2
    assert tolerances.general_mm(45, "m") == pytest.approx(0.3)
    assert tolerances.general_mm(250, "c") == pytest.approx(1.2)
    assert tolerances.general_mm(np.array([0.5, 3.0, 3.1]), "c").tolist() == [0.2, 0.2, 0.3]
    with pytest.raises(ValueError, match="on the drawing"):
        tolerances.general_mm(0.4, "m")
    # the very coarse class begins above 3 mm, the fine one ends at 2000
    with pytest.raises(ValueError, match="above 3 up to 4000"):
        tolerances.general_mm(2.0, "v")
    with pytest.raises(ValueError, match="up to 2000 mm"):
        tolerances.general_mm(3000.0, "f")


def test_general_angles_and_form():
    # ISO 2768-1 table 3, -2 tables 1 and 2 (from memory)
    assert tolerances.general_angle_rad(45, "m") == pytest.approx(radians(0.5))
    assert tolerances.general_angle_rad(5000, "v") == pytest.approx(radians(20 / 60))
    assert tolerances.general_form_mm(250, "straightness", "K") == pytest.approx(0.4)
    assert tolerances.general_form_mm(250, "squareness", "H") == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("size", "kind", "low", "high"),
    [
        # Puuinfo, delivery tolerances of timber (read)
        (20, "planed thickness", -0.5, 0.5), (20.1, "planed thickness", -1.0, 1.0),
        (100, "planed width", -1.0, 1.0), (145, "planed width", -1.5, 1.5),
        (100, "sawn", -1.0, 3.0), (150, "sawn", -2.0, 4.0), (2400, "length", -2.0, 2.0),
    ],
)  # fmt: skip
def test_timber_as_delivered(size, kind, low, high):
    assert [float(x) for x in tolerances.timber_mm(size, kind)] == [low, high]
