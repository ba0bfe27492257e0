"""What a machine can do: limits worked out by hand, and spreads that mean what they say."""

from math import pi

import numpy as np
import pytest

from kerfwright.machine import machine_results
from kerfwright.machine.guides import wheel_stiffness_n_per_mm
from kerfwright.machine.results import (
    falls,
    largest_jump_mm_per_s,
    possible_acceleration,
    resonance_hz,
    thrust_n,
    top_ruled_by,
    usable_step_mm,
)

BARE = """
[axes.x]
travel = "600 mm"
drive = "screw"
moving_mass = "15 kg"
guide_friction = "0 N"
bearing_drag = "0 N mm"
other_inertia = "0 kg mm2"
[axes.x.motor]
holding_torque = "1.9 N m"
rated_current = "2.8 A"
resistance = "1 ohm"
inductance = "3 mH"
rotor_inertia = "480 g cm2"
pull_share = 1
[axes.x.driver]
supply = "24 V"
current = "2.8 A peak"
microsteps = 8
[axes.x.screw]
size = "1/2-10"
starts = 5
friction = 0.15
free_length = "1200 mm"
nut = "plain"
"""


@pytest.fixture
def axis(machine_of):
    return machine_of(BARE).x


@pytest.fixture(scope="module")
def results(demo):
    return machine_results(demo, seed=3, draws=60)


def test_thrust_is_torque_through_the_screw(axis):
    # 1343.5 N mm over 1537.6 N mm for 500 N (both computed)
    assert thrust_n(axis, 0.0) == pytest.approx(1343.5 / 1537.6 * 500, rel=1e-3)
    curve = thrust_n(axis, np.linspace(0.0, 700.0, 50))
    assert np.all(np.diff(curve) <= 1e-9)
    assert curve[-1] >= 0.0


def test_possible_acceleration_takes_all_the_pull(axis):
    speeds = np.array([10.0, 100.0, 250.0])
    fast = possible_acceleration(axis, speeds)
    assert axis.demand_nmm(0.0, speeds, fast) == pytest.approx(axis.pull_nmm(speeds))


def test_jump_and_resonance(axis):
    # J of rotor, screw and 15 kg: 1.2506e-4 kg m²; no load: 29.32 rad/s, 59.3 mm/s (computed)
    assert largest_jump_mm_per_s(axis) == pytest.approx(59.3, abs=0.05)
    expected = np.sqrt(50 * 1.3435 / 1.2506e-4) / 2 / pi
    assert resonance_hz(axis) == pytest.approx(expected, rel=1e-3)


def test_usable_step(machine_of, axis):
    assert usable_step_mm(axis) == pytest.approx(12.7 / 1600)
    heavy = machine_of(BARE.replace('guide_friction = "0 N"', 'guide_friction = "200 N"')).x
    swallowed = np.ceil(8 / 90 * np.degrees(np.arcsin(200 * heavy.raising_mm / 1343.5)))
    assert swallowed > 1
    assert usable_step_mm(heavy) == pytest.approx(swallowed * 12.7 / 1600)


@pytest.mark.parametrize(
    ("starts", "friction", "nut", "drops"),
    [
        (1, 0.15, "plain", False),  # locks itself
        (5, 0.10, "plain", True),
        (5, 0.10, "anti-backlash", False),  # 80 N of preload hold 4 kg
    ],
)
def test_z_falls(machine_of, starts, friction, nut, drops):
    z = machine_of(
        '[axes.z]\nmoving_mass = "4 kg"\nguide_friction = "2 N"\nbearing_drag = "5 N mm"\n'
        f'[axes.z.screw]\nsize = "1/2-10"\nstarts = {starts}\nfriction = {friction}\n'
        f'nut = "{nut}"\n' + ('preload = "80 N"\n' if nut == "anti-backlash" else "")
    ).z
    assert falls(z) is drops


def test_what_rules_the_top_speed(machine_of):
    def ruled(rapid, length="800 mm", acceleration="1 m/s2"):
        text = BARE.replace('"1200 mm"', f'"{length}"')
        text += f'[controller.x]\nrapid = "{rapid} mm/min"\nacceleration = "{acceleration}"\n'
        return top_ruled_by(machine_of(text).x)

    assert ruled(3000) == "controller"
    assert ruled(90_000, acceleration="9 m/s2") == "motor"
    assert ruled(90_000, length="2500 mm") == "whip"


def test_the_same_seed_gives_the_same_results(demo):
    one, two = (machine_results(demo, seed=5, draws=8) for _ in range(2))
    assert one.nose == two.nose
    assert one.axes[0].standing_thrust == two.axes[0].standing_thrust
    assert machine_results(demo, seed=6, draws=8).nose != one.nose


def test_ends_hold_nineteen_in_twenty(demo, results):
    # New draws, another seed: between the ends 95 in 100, within the noise of 60 and 80 draws.
    rng = np.random.default_rng(99)
    fresh = demo.drawn(rng, 80)
    thrust = results.axes[0].standing_thrust
    inside = np.mean([thrust.low <= thrust_n(m.x, 0.0) <= thrust.high for m in fresh])
    assert 0.84 <= inside <= 1.0
    assert thrust.low < thrust.value < thrust.high


def test_curves_have_their_ends_around_them(results):
    for axis in results.axes:
        for band in (axis.pull, axis.thrust, axis.acceleration):
            assert band.value.shape == axis.speed_mm_per_s.shape
            assert np.all(band.low <= band.high + 1e-9)


def test_what_rules_a_figure(machine_of):
    text = BARE.replace("pull_share = 1", "pull_share = '0.6 to 1.1'")
    result = machine_results(machine_of(text), seed=1, draws=40)
    assert result.axes[0].standing_thrust.mostly_from == "X: real pull against the computed"
    assert result.axes[0].lead.mostly_from == ""  # it has no spread


def test_shares_and_softest_place(demo, results):
    for index, nose in enumerate(results.nose):
        assert sum(nose.shares.values()) == pytest.approx(1.0)
        assert list(nose.shares.values()) == sorted(nose.shares.values(), reverse=True)
        own = demo.compliance_mm_per_n[..., index, index]
        assert nose.softest.value == pytest.approx(1 / own.max())
        assert nose.push.value == pytest.approx(45.0 / nose.stiffness.value)


def test_one_slip_of_one_motor_skews_the_gantry(machine_of, results):
    # Four full steps are lead / 50; 0.254 mm on a gantry 700 mm wide is 0.36 mrad (computed).
    text = BARE.replace("travel", "motors = 2\ntravel", 1) + '[frame.beam]\nlength = "700 mm"\n'
    x = machine_results(machine_of(text + '[axes.y]\ntravel = "400 mm"\n'), seed=1, draws=2).axes[0]
    assert x.slip.value == pytest.approx(0.254)
    assert x.skew.value == pytest.approx(0.36e-3, rel=0.01)
    assert results.axes[0].skew is None


def test_a_preloaded_nut_opens(machine_of):
    screw = '[axes.x.screw]\nnut = "anti-backlash"\npreload = "40 N"\n'
    sprung = machine_results(machine_of(screw), seed=1, draws=20).axes[0]
    assert sprung.nut_opens.value == pytest.approx(40.0)
    ball = '[axes.x.screw]\nform = "ball"\nnut = "ball"\nlead = "5 mm"\npreload = "100 N"\n'
    rows = machine_results(machine_of(ball), seed=1, draws=20).axes[0]
    assert rows.nut_opens.value == pytest.approx(282.8, abs=0.1)  # 2^1.5 P: balls (computed)
    plain = machine_results(machine_of('[axes.x.screw]\nnut = "plain"\n'), seed=1, draws=20)
    assert plain.axes[0].nut_opens is None


def test_a_screw_that_buckles(machine_of):
    # Euler's 2 pi² E I / L² where it is slender: 10.16 mm core, 1.2 m, fixed-supported (Shigley's
    # constant 2); a belt has no screw.
    text = BARE.replace('nut = "plain"', 'nut = "plain"\nroot_diameter = "10.16 mm"\n'
                        'ends = "fixed-supported"')  # fmt: skip
    x = machine_results(machine_of(text), seed=1, draws=2).axes[0]
    euler = 2 * pi**2 * 207e3 * pi * 10.16**4 / 64 / 1200**2
    assert x.buckles.value == pytest.approx(euler, rel=1e-6)
    stout = machine_results(
        machine_of(text.replace('travel = "600 mm"', 'travel = "80 mm"').replace("1200", "100")),
        seed=1, draws=2,
    ).axes[0]  # fmt: skip
    yields = 250 * pi * 10.16**2 / 4  # mild steel, from memory
    assert 0.9 * yields < stout.buckles.value < yields
    belt = machine_results(machine_of('[axes.x]\ndrive = "belt"\n'), seed=1, draws=2).axes[0]
    assert belt.buckles is None


def test_damp_against_the_preload(machine_of, demo):
    # computed: 1.8e-4 for each per cent (from memory), 3 %: 55 mm of plywood grow by 0.0297 mm
    results = machine_results(demo, seed=1, draws=10)
    assert results.damp_grows.value == pytest.approx(0.0297)
    wheel = wheel_stiffness_n_per_mm(demo.values, demo.choices)[0]
    assert results.damp_follows.value == pytest.approx(2 * 60.0 / wheel)
    steel = machine_of('[frame.upright]\nmaterial = "carbon steel"\n')
    assert machine_results(steel, seed=1, draws=2).damp_grows is None
