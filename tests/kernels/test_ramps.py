"""Jerk-limited spans against a general jerk-limited library, closed forms and plain integration."""

from math import sqrt

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from ruckig import InputParameter, Result, Ruckig, Trajectory

from kerfwright.kernels.ramps import hold_ends, lay_spans, ramp_time, top_speed

SPEEDS = st.floats(0.0, 80.0)


def library_time(way, v0, v1, most_v, most_a, jerk):
    """Ruckig 0.19 (MIT licence): time-optimal under limits of speed, acceleration and jerk."""
    asked = InputParameter(1)
    asked.current_position, asked.target_position = [0.0], [way]
    asked.current_velocity, asked.target_velocity = [v0], [v1]
    asked.current_acceleration = asked.target_acceleration = [0.0]
    asked.max_velocity, asked.max_acceleration, asked.max_jerk = [most_v], [most_a], [jerk]
    asked.min_velocity = [-1e-9]
    found = Trajectory(1)
    assert Ruckig(1).calculate(asked, found) in (Result.Working, Result.Finished)
    return found.duration


def span_time(way, v0, v1, most_v, rise, fall, jerk):
    v = top_speed(way, most_v, v0, v1, rise, fall, jerk)
    up, down = ramp_time(v - v0, rise, jerk), ramp_time(v - v1, fall, jerk)
    return up + down + (way - 0.5 * (v0 + v) * up - 0.5 * (v1 + v) * down) / v


@given(SPEEDS, SPEEDS, st.floats(1.0, 100.0), st.floats(50.0, 2000.0), st.floats(500.0, 1e5),
       st.floats(0.01, 400.0))  # fmt: skip
def test_a_span_takes_what_the_library_takes(v0, v1, most_v, most_a, jerk, way):
    assume(max(v0, v1) <= most_v)
    low, high = sorted((v0, v1))
    assume(0.5 * (low + high) * ramp_time(high - low, most_a, jerk) <= way)
    expected = library_time(way, v0, v1, most_v, most_a, jerk)
    got = span_time(way, v0, v1, most_v, most_a, most_a, jerk)
    assert got == pytest.approx(expected, rel=1e-7, abs=1e-9)


def test_rest_to_rest_in_closed_form():
    # Long: s/v + v/a + a/j. So short that neither v nor a is reached: four bends, (32 s / j)^(1/3).
    assert span_time(100.0, 0, 0, 40.0, 400.0, 400.0, 5000.0) == pytest.approx(2.68, rel=1e-12)
    short = span_time(0.05, 0, 0, 40.0, 400.0, 400.0, 5000.0)
    assert short == pytest.approx((32 * 0.05 / 5000.0) ** (1 / 3), rel=1e-9)


@given(SPEEDS, st.floats(0.0, 50.0), st.floats(50.0, 2000.0), st.floats(500.0, 1e5))
def test_the_reach_of_a_span_is_its_inverse(v0, change, most, jerk):
    way = np.array([0.5 * (2 * v0 + change) * ramp_time(change, most, jerk)])
    speed = np.array([v0, 1e6])
    hold_ends(0, 1, way, np.array([most]), np.array([most]), np.array([jerk]), False, speed)
    assert speed[1] == pytest.approx(v0 + change, rel=1e-6, abs=1e-4)
    speed = np.array([1e6, v0])
    hold_ends(0, 1, way, np.array([most]), np.array([most]), np.array([jerk]), True, speed)
    assert speed[0] == pytest.approx(v0 + change, rel=1e-6, abs=1e-4)


@pytest.mark.parametrize("jerk", [800.0, 5000.0, 1e5])
def test_nodes_follow_the_integral_of_speed(jerk):
    nodes, way = 4001, 30.0
    along = np.linspace(0.0, way, nodes)
    span_s, since, speed = np.empty(1), np.zeros(nodes), np.empty(nodes)
    one = np.ones(1)
    lay_spans(0, 1, np.array([0, nodes]), way * one, 60.0 * one, 400.0 * one, 250.0 * one,
              jerk * one, np.array([5.0, 12.0]), along, span_s, since, speed)  # fmt: skip
    assert since[0] == 0.0
    assert since[-1] == pytest.approx(span_s[0], rel=1e-12)
    assert (speed[0], speed[-1]) == (5.0, 12.0)
    walked = np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(since))
    assert np.abs(walked - along[1:]).max() < 1e-4
    pull = np.diff(speed) / np.diff(since)
    assert pull.max() <= 400.0 * (1 + 1e-6)
    assert pull.min() >= -250.0 * (1 + 1e-6)
    middle = 0.5 * (since[1:] + since[:-1])
    assert np.abs(np.diff(pull) / np.diff(middle)).max() <= jerk * 1.05
    assert speed.max() <= sqrt(2 * 400.0 * way)
