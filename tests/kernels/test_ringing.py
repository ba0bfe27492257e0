"""Carriages that swing: against the check value, superposition, and a general library."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from kerfwright.kernels.ringing import STATE, ring_steps, swing_reference
from kerfwright.machine import load_machine
from kerfwright.program import parse_program
from kerfwright.trajectory import plan
from kerfwright.workshop import demo_folder

LONG = "G21 G90 G17\nG1 X200 F3000\nX200.5\nM2\n"
TURNS = "G21 G90 G17\nG1 X30 F3000\nY20 F2400\nX10 Y35\nG1 X0 Y20 Z-4\nG4 P0.2\nX25\nM2\n"


@pytest.fixture(scope="module")
def machine():
    return load_machine(demo_folder() / "machine.toml")


def ringing(path, times, hertz=25.0, damping=0.0, jerk=np.inf):
    """Swing (n, 3) at some times of a trajectory, on a machine alike everywhere."""
    state, one = np.zeros(STATE), np.zeros(1)
    soft = np.full((1, 1, 1, 3), 1.0 / (2.0 * pi * np.broadcast_to(hertz, 3)) ** 2)
    pairs = np.stack([times, times], axis=1)
    swing = np.empty((len(times), 2, 3))
    ring_steps(
        state, path.point_mm, path.move, path.length_mm, path.blend_mm, path.node,
        path.speed2, path.node_s, path.feed_mm_per_s, path.top_mm_per_s, path.limit_mm_per_s2,
        np.zeros(3), one, one, one,
        soft, damping, np.full(3, jerk), pairs, swing,
    )  # fmt: skip
    assert np.array_equal(swing[:, 0], swing[:, 1])
    return swing[:, 0]


def by_rule(machine, rule, **changes):
    controller = replace(
        machine.controller, corner_rule=rule, corner_tolerance_mm=0.1,
        corner_speed_step_mm_per_s=(8.0, 8.0, 4.0),
    )  # fmt: skip
    return replace(machine, controller=controller, **changes)


def test_check_value_of_a_step_of_acceleration(machine):
    # Worked out for this project: 25 Hz, 1 m/s²: 40.5 µm standing, 81 µm at the peak.
    quick = by_rule(machine, "exact stop", x=replace(machine.x, acceleration_mm_per_s2=1000.0))
    path = plan(parse_program(LONG.encode(), "job.nc"), quick)
    times = np.linspace(0.0, 0.049, 400)  # it speeds up for 50 ms
    swing = ringing(path, times)[:, 0]
    assert -swing.min() == pytest.approx(0.0811, abs=1e-4)
    damped = ringing(path, times, damping=0.5)[:, 0]
    assert -damped[-1] == pytest.approx(0.0405, rel=0.03)
    assert swing == pytest.approx(
        swing_reference(times, np.zeros(1), np.zeros(1), np.array([1000.0]), 50 * pi, 0.0), abs=1e-9
    )


@pytest.mark.parametrize("rule", ["exact stop", "path tolerance", "axis speed step"])
def test_answers_each_change_as_superposition_does(machine, rule):
    path = plan(parse_program(TURNS.encode(), "job.nc"), by_rule(machine, rule))
    end = path.time_s
    fine = np.linspace(0.0, end, 15_001)
    velocity = np.array([path.at_time(t)[1] for t in fine])
    middle, jump = 0.5 * (fine[1:] + fine[:-1]), np.diff(velocity, axis=0)
    times = np.linspace(0.01, end - 0.01, 60)
    hertz, damping = np.array([9.0, 14.0, 19.0]), 0.04
    swing = ringing(path, times, hertz, damping)
    none = np.zeros(len(middle))
    for axis in range(3):
        expected = swing_reference(
            times, middle, jump[:, axis], none, 2 * pi * hertz[axis], damping
        )
        assert np.abs(expected).max() > 1e-3
        # The reference sees speed in 15 000 steps.
        assert np.abs(swing[:, axis] - expected).max() < 0.015 * np.abs(expected).max()


def test_reference_is_the_equation_of_motion():
    omega, damping = 2 * pi * 20.0, 0.06
    change = np.array([0.0, 0.07, 0.15])
    jump, pull = np.array([3.0, 0.0, -5.0]), np.array([400.0, -400.0, 150.0])
    times = np.linspace(0.001, 0.399, 50)

    def moves(t, q):
        a = pull[change <= t].sum()
        return [q[1], -2 * damping * omega * q[1] - omega**2 * q[0] - a]

    state, out = np.zeros(2), []
    for k, begin in enumerate(change):
        until = change[k + 1] if k + 1 < len(change) else 0.4
        state = state - [0.0, jump[k]]
        here = times[(times > begin) & (times < until - 1e-9)]
        asked = np.append(here, until)
        run = solve_ivp(moves, (begin, until), state, t_eval=asked, rtol=1e-9, atol=1e-12,
                        max_step=1e-3)  # fmt: skip
        out.append(run.y[0, : len(here)])
        state = run.y[:, -1]
    told = swing_reference(times, change, jump, pull, omega, damping)
    assert told == pytest.approx(np.concatenate(out), abs=1e-6)


def test_limited_jerk_swings_less(machine):
    path = plan(parse_program(LONG.encode(), "job.nc"), by_rule(machine, "exact stop"))
    times = np.linspace(0.0, path.time_s, 500)
    sharp = ringing(path, times, damping=0.03)
    a = path.limit_mm_per_s2[0]
    # A change that lasts one period leaves none of the swing, only the standing part.
    soft = ringing(path, times, damping=0.03, jerk=a * 25.0)
    assert np.abs(soft[:, 0]).max() < 0.75 * np.abs(sharp[:, 0]).max()


def test_calls_in_parts_are_the_same(machine):
    path = plan(parse_program(TURNS.encode(), "job.nc"), by_rule(machine, "path tolerance"))
    times = np.linspace(0.0, path.time_s, 300)
    whole = ringing(path, times, damping=0.05)
    state, one = np.zeros(STATE), np.zeros(1)
    soft = np.full((1, 1, 1, 3), 1.0 / (50.0 * pi) ** 2)
    parts = []
    for some in np.array_split(times, 17):
        swing = np.empty((len(some), 2, 3))
        ring_steps(
            state, path.point_mm, path.move, path.length_mm, path.blend_mm, path.node,
        path.speed2, path.node_s, path.feed_mm_per_s, path.top_mm_per_s, path.limit_mm_per_s2,
        np.zeros(3), one, one, one,
            soft, 0.05, np.full(3, np.inf), np.stack([some, some], axis=1), swing,
        )  # fmt: skip
        parts.append(swing[:, 0])
    assert np.array_equal(np.concatenate(parts), whole)


def test_a_rigid_machine_stands_still(machine):
    path = plan(parse_program(TURNS.encode(), "job.nc"), by_rule(machine, "axis speed step"))
    assert np.abs(ringing(path, np.linspace(0.0, path.time_s, 50), hertz=1e6)).max() < 1e-5


def test_an_arc_throws_outwards_and_does_not_rattle(machine):
    ring = "G21 G90 G17\nG2 X0 Y0 I20 F2400\nM2\n"  # 20 mm at 40 mm/s: 80 mm/s² towards the middle
    path = plan(parse_program(ring.encode(), "job.nc"), by_rule(machine, "axis speed step"))
    times = np.linspace(1.5, path.time_s - 0.5, 200)
    swing = ringing(path, times, hertz=20.0, damping=0.2)
    out = np.array([path.at_time(t)[0] for t in times]) - [20.0, 0.0, 0.0]
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    # It follows v²/R/ω², turning slowly: the answer at 0.32 Hz is that standing still.
    assert (swing * out).sum(axis=1) == pytest.approx(80.0 / (40 * pi) ** 2, rel=0.02)
