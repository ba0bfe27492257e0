"""Moves to motion: arcs, corners, waits, and the path asked at any time."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from kerfwright.program import parse_program
from kerfwright.trajectory import CHORD_MM, StandsStill, plan

START = "G21 G90 G17\n"


def planned(machine, body):
    return plan(parse_program((START + body + "\nM2\n").encode(), "job.nc"), machine)


def with_rule(machine, rule, **change):
    return replace(machine, controller=replace(machine.controller, corner_rule=rule, **change))


def test_one_move_takes_the_time_of_a_trapezoid(machine):
    trajectory = planned(machine, "G1 X100 F1200")
    v, a = 20.0, machine.x.acceleration_mm_per_s2
    assert trajectory.time_s == pytest.approx(100.0 / v + v / a, rel=1e-12)


def test_rapid_runs_at_the_rapid_of_the_slowest_axis(machine):
    trajectory = planned(machine, "G0 Z-300")
    v, a = machine.z.rapid_mm_per_s, machine.z.acceleration_mm_per_s2
    assert trajectory.time_s == pytest.approx(300.0 / v + v / a, rel=1e-12)


@pytest.mark.parametrize(
    ("body", "length_mm"),
    [
        ("G2 X0 Y0 I25 J0 F900", 2 * pi * 25),
        ("G3 X0 Y50 I0 J25 F900", pi * 25),
        ("G3 X0 Y50 Z-10 I0 J25 F900", sqrt((pi * 25) ** 2 + 100)),
        ("G18 G2 X20 Z0 I10 K0 F900", pi * 10),
        ("G19 G3 Y20 Z0 J10 K0 F900", pi * 10),
    ],
)
def test_chords_of_an_arc_are_as_long_as_the_arc(machine, body, length_mm):
    trajectory = planned(machine, body)
    # A chord that stays s inside an arc of radius R is shorter by 4 s / 3 R of its length.
    assert trajectory.length_mm.sum() == pytest.approx(length_mm, rel=4 * CHORD_MM / (3 * 10))
    assert trajectory.length_mm.sum() <= length_mm * (1 + 1e-12)


def test_arc_bulges_to_the_side_that_the_language_says(machine):
    # NISTIR 6556, 3.5.3: G2 is clockwise seen from the positive end of the axis normal to the
    # plane; in XZ that axis is Y, and G2 from X0 to X20 over I10 passes below.
    below = planned(machine, "G18 G2 X20 Z0 I10 K0 F900").point_mm[:, 2]
    assert below.min() == pytest.approx(-10.0, abs=2 * CHORD_MM)
    left = planned(machine, "G2 X20 Y0 I10 J0 F900").point_mm[:, 1]
    assert left.max() == pytest.approx(10.0, abs=2 * CHORD_MM)


def test_position_at_any_time_is_the_integral_of_speed(machine):
    body = "G1 X30 F1800\nX30 Y20\nX10 Y25 Z-5\nG2 X10 Y5 I0 J-10\nG1 X0 Y0 Z0"
    trajectory = planned(with_rule(machine, "path tolerance", corner_tolerance_mm=0.2), body)
    times = np.linspace(0.0, trajectory.time_s, 40_001)
    where, speed = map(np.array, zip(*[trajectory.at_time(t) for t in times], strict=True))
    walked = np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(times)[:, None], axis=0)
    assert np.abs(where[1:] - where[0] - walked).max() < 1e-4
    limit = np.array([axis.acceleration_mm_per_s2 for axis in machine.axes])
    pull = np.abs(np.diff(speed, axis=0)) / np.diff(times)[:, None]
    assert (pull <= limit * (1 + 1e-6) + 1e-6).all()


def test_corner_stays_within_its_tolerance(machine):
    body = "G1 X30 F1800\nX30 Y20"
    trajectory = planned(with_rule(machine, "path tolerance", corner_tolerance_mm=0.05), body)
    times = np.linspace(0.0, trajectory.time_s, 20_001)
    where = np.array([trajectory.at_time(t)[0] for t in times])
    gap = np.linalg.norm(where - [30.0, 0.0, 0.0], axis=1).min()
    assert gap == pytest.approx(0.05, rel=1e-3)


def test_exact_stop_modes_stand_still(machine):
    rule = with_rule(machine, "path tolerance", corner_tolerance_mm=0.05)
    flowing = planned(rule, "G64 G1 X30 F1800\nX30 Y20").time_s
    stopping = planned(rule, "G61.1 G1 X30 F1800\nX30 Y20").time_s
    v, a = 30.0, machine.x.acceleration_mm_per_s2
    b = machine.y.acceleration_mm_per_s2
    assert stopping == pytest.approx(30 / v + v / a + 20 / v + v / b, rel=1e-9)
    assert flowing < stopping
    always = planned(with_rule(machine, "exact stop"), "G64 G1 X30 F1800\nX30 Y20").time_s
    assert always == pytest.approx(stopping, rel=1e-12)


def test_straight_on_costs_no_stop_under_exact_path(machine):
    rule = with_rule(machine, "path tolerance", corner_tolerance_mm=0.05)
    whole = planned(rule, "G61 G1 X60 F1800").time_s
    parts = planned(rule, "G61 G1 X20 F1800\nX40\nX60").time_s
    assert parts == pytest.approx(whole, rel=1e-9)


def test_waits_are_counted_once_and_stop_the_machine(machine):
    moving = planned(machine, "G1 X10 F600\nX20").time_s
    waiting = planned(machine, "G1 X10 F600\nG4 P2.5\nX20")
    v, a = 10.0, machine.x.acceleration_mm_per_s2
    assert waiting.time_s == pytest.approx(2.5 + 2 * (10 / v + v / a), rel=1e-9)
    assert waiting.time_s > moving + 2.5
    changed = planned(machine, "G1 X10 F600\nT2 M6\nX20").time_s
    assert changed - waiting.time_s == pytest.approx(machine.controller.cutter_change_s - 2.5)


def test_nothing_to_run(machine):
    with pytest.raises(StandsStill):
        planned(machine, "G4 P1")


def test_steps_too_small_to_be_moves_leave_no_two_vertices_alike(machine):
    body = "G1 X0.0000000008 F900\nG1 X0.0000000016\nG1 X0\nG1 X10 Y1"
    trajectory = planned(machine, body)
    assert trajectory.length_mm.min() > 1e-9
    assert trajectory.length_mm.sum() == pytest.approx(np.hypot(10, 1))
    assert np.isfinite(trajectory.node_s).all()


def test_the_cutter_that_is_there_already_needs_no_change(machine):
    program = parse_program((START + "T1 M6\nG1 X10 F600\nT2 M6\nT2 M6\nX20\nM2\n").encode(), "j")
    change = machine.controller.cutter_change_s
    other, there = plan(program, machine), plan(program, machine, in_spindle=1)
    assert other.time_s - there.time_s == pytest.approx(change)
    assert there.wait_s.sum() == pytest.approx(change)


def short_lines(count, way_mm=0.2):
    return "\n".join(f"G1 X{way_mm * (k + 1):.3f} F3000" for k in range(count))


def test_a_controller_that_sees_few_lines_goes_no_faster_than_it_can_stop(machine):
    seen = with_rule(machine, "path tolerance", corner_tolerance_mm=0.05, lines_ahead=6)
    speed = np.sqrt(planned(seen, short_lines(400)).speed2)
    # v² = 2 a s, s being six lines of 0.2 mm.
    assert speed.max() == pytest.approx(sqrt(2 * machine.x.acceleration_mm_per_s2 * 1.2), rel=1e-6)
    whole = with_rule(machine, "path tolerance", corner_tolerance_mm=0.05)
    assert np.sqrt(planned(whole, short_lines(400)).speed2).max() == pytest.approx(50.0)
    # An arc is one line however many chords it has; so is one long move.
    long = "G1 X100 F3000\nG2 X100 Y0 I20 J0"
    one = with_rule(machine, "path tolerance", corner_tolerance_mm=0.05, lines_ahead=2)
    assert planned(one, long).time_s == pytest.approx(planned(whole, long).time_s, rel=1e-9)


def test_a_controller_that_takes_few_lines_a_second_slows_short_moves(machine):
    slow = with_rule(machine, "path tolerance", corner_tolerance_mm=0.05, lines_per_s=100.0)
    trajectory = planned(slow, short_lines(400))
    assert np.sqrt(trajectory.speed2).max() == pytest.approx(0.2 * 100.0)
    assert planned(slow, "G1 X80 F3000").time_s == planned(machine, "G1 X80 F3000").time_s
