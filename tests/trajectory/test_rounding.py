"""Jerk limits, and what the motors could do, on whole programs."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from kerfwright.machine.results import possible_acceleration
from kerfwright.program import parse_program
from kerfwright.trajectory import fastest_s, plan
from kerfwright.trajectory.able import BANDS, motor_limits

START = "G21 G90 G17\n"
SHAPE = (
    "G0 X0 Y0 Z5\nG1 Z-2 F600\nG1 X80 F2400\nY40\nG2 X60 Y60 I-20 J0\nG1 X10 Y61 F1500\n"
    "X9 Y55\nX8 Y48\nX7.5 Y40\nG1 X0 Y0\nG4 P1\nG1 Z5"
)


def read(body):
    return parse_program((START + body + "\nM2\n").encode(), "job.nc")


def with_jerk(machine, jerk, rule="path tolerance"):
    changed = {axis.name: replace(axis, jerk_mm_per_s3=jerk) for axis in machine.axes}
    controller = replace(machine.controller, corner_rule=rule, corner_tolerance_mm=0.05)
    return replace(machine, controller=controller, **changed)


def test_a_straight_move_takes_the_time_of_its_closed_form(machine):
    v, a, j = 20.0, machine.x.acceleration_mm_per_s2, 20_000.0
    time = plan(read("G1 X100 F1200"), with_jerk(machine, j)).time_s
    assert time == pytest.approx(100.0 / v + v / a + a / j, rel=1e-9)


def test_a_change_of_feed_on_a_straight_line_is_two_ramps(machine):
    a, j = machine.x.acceleration_mm_per_s2, 20_000.0
    time = plan(read("G1 X100 F600\nX200 F1800"), with_jerk(machine, j)).time_s
    # Each ramp v0 to v1 lasts |v1 - v0|/a + a/j at (v0 + v1)/2.
    up, over, down = 10 / a + a / j, 20 / a + a / j, 30 / a + a / j
    steady = (100 - 5 * up) / 10 + (100 - 20 * over - 15 * down) / 30
    assert time == pytest.approx(up + over + down + steady, rel=1e-9)


def test_the_softer_the_longer_and_none_is_the_plain_plan(machine):
    program = read(SHAPE)
    times = [plan(program, with_jerk(machine, j)).time_s for j in (1e12, 1e5, 2e4, 4e3, 1e3)]
    assert (np.diff(times) > 0).all()
    plain = plan(program, with_jerk(machine, np.inf)).time_s
    assert times[0] == pytest.approx(plain, rel=1e-6)


def test_rounding_never_exceeds_the_plain_plan_and_keeps_the_waits(machine):
    program = read(SHAPE)
    plain = plan(program, with_jerk(machine, np.inf))
    soft = plan(program, with_jerk(machine, 5e3))
    assert (soft.speed2 <= plain.speed2 * (1 + 1e-9) + 1e-12).all()
    assert (np.diff(soft.node_s) >= 0).all()
    assert (soft.node_s >= plain.node_s * (1 - 1e-3)).all()
    assert soft.time_s > plain.time_s
    assert soft.wait_s.sum() == plain.wait_s.sum() == 1.0
    where = np.array([soft.at_time(t)[0] for t in np.linspace(0, soft.time_s, 2000)])
    assert np.linalg.norm(np.diff(where, axis=0), axis=1).max() < 40.0 * soft.time_s / 1999 * 1.2


def test_a_circle_is_entered_at_the_rate_of_its_line(machine):
    # The chords of an arc are no slow places: only the two ends of the whole path are.
    a, j, v = machine.x.acceleration_mm_per_s2, 20_000.0, 10.0
    time = plan(read("G2 X0 Y0 I20 J0 F600"), with_jerk(machine, j)).time_s
    least = min(machine.x.acceleration_mm_per_s2, machine.y.acceleration_mm_per_s2)
    assert time == pytest.approx(2 * pi * 20 / v + v / least + a / j, rel=0.01)


@pytest.mark.parametrize("kept", [0.0, 0.3])
def test_as_fast_as_the_motor_can_is_the_integral_of_its_curve(machine, kept):
    # t = ∫ dv / a(v), s = ∫ v dv / a(v): integrated by scipy's solver of differential equations.
    able = lambda v: float(possible_acceleration(machine.x, v, kept))  # noqa: E731
    top, _, _ = motor_limits(machine, kept)
    feed = 0.8 * float(top[0])
    run = solve_ivp(
        lambda t, y: [y[1], able(y[1])], (0, 60), [0.0, 0.0], rtol=1e-9, atol=1e-9, max_step=0.01,
        events=[lambda t, y: y[1] - feed],
    )  # fmt: skip
    ramp_s, ramp_mm = float(run.t_events[0][0]), float(run.y_events[0][0][0])
    way = 2.0 * ramp_mm + 50.0
    got = fastest_s(read(f"G1 X{way:.6f} F{60 * feed:.6f}"), machine, kept)
    assert got == pytest.approx(2.0 * ramp_s + 50.0 / feed, rel=2e-3)


def test_bands_hold_the_way_of_a_ramp_and_fall(machine):
    top, limit, band = motor_limits(machine, 0.3)
    assert limit.shape == (3, BANDS)
    assert (np.diff(limit, axis=1) <= 0).all()
    assert band * BANDS == pytest.approx(top)
    v = np.linspace(0, top[1], 200_001)[:-1]
    way = np.trapezoid(v / possible_acceleration(machine.y, v, 0.3), v)
    edges = np.arange(BANDS + 1) * band[1]
    assert (np.diff(edges**2) / (2 * limit[1])).sum() == pytest.approx(way, rel=0.02)


def test_the_motors_could_do_it_faster_than_they_are_told(machine):
    program = read(SHAPE)
    told = plan(program, machine).time_s
    assert fastest_s(program, machine, 0.9) > fastest_s(program, machine, 0.3)
    assert fastest_s(program, machine, 0.0) < told
