"""One axis from its numbers, against the handbook formulas and values worked out by hand."""

from math import pi, radians

import numpy as np
import pytest

from kerfwright.physics import screws

EXAMPLE = """
[axes.x]
travel = "600 mm"
drive = "screw"
moving_mass = "15 kg"
guide_friction = "10 N"
bearing_drag = "0 N mm"
other_inertia = "0 kg mm2"
bearing_stiffness = "30 N/um"
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
microsteps = 10
[axes.x.screw]
form = "acme"
size = "1/2-10"
starts = 5
friction = 0.15
root_diameter = "0.4 in"
ends = "fixed-supported"
free_length = "1200 mm"
nut = "anti-backlash"
preload = "50 N"
nut_stiffness = "50 N/um"
[controller.x]
rapid = "6000 mm/min"
acceleration = "1 m/s2"
"""


@pytest.fixture
def axis(machine_of):
    return machine_of(EXAMPLE).x


def test_numbers(axis):
    assert axis.lead_mm == pytest.approx(12.7)
    assert axis.positions_per_rev == 2000
    assert axis.positions_per_rev / axis.lead_mm * 25.4 == pytest.approx(4000)  # computed
    assert axis.raising_mm * 500 == pytest.approx(1537.6, abs=0.05)  # computed
    assert axis.lowering_mm * 500 == pytest.approx(-538.4, abs=0.05)
    assert axis.drag_torque_nmm == pytest.approx(99.9, abs=0.06)
    assert axis.inertia_kg_mm2 == pytest.approx(48 + 15.78, abs=0.005)
    assert axis.curve_torque_nmm[0] == pytest.approx(1343.5, abs=0.1)
    assert not axis.locks_itself


def test_curve(axis):  # S14, computed numerically, ±0.005 N m
    assert axis.pull_nmm(10 * 12.7) == pytest.approx(925, abs=5)
    assert axis.pull_nmm(-20 * 12.7) == pytest.approx(464, abs=5)


def test_demand_through_the_nut(axis):
    # computed: 15 kg at 1 m/s² and turning parts 77.7 N mm; here with 10 N of friction and drag
    demand = axis.demand_nmm(0.0, 100.0, 1000.0)
    assert demand == pytest.approx(77.7 + 10 * axis.raising_mm + axis.drag_torque_nmm, abs=0.1)
    backwards = axis.demand_nmm(0.0, -100.0, -1000.0)
    assert backwards == pytest.approx(demand)


def test_demand_when_the_load_drives(axis):
    # Braking: the carriage pushes the screw, which gives back less than it took.
    braking = axis.demand_nmm(0.0, 100.0, -1000.0)
    turning = axis.inertia_kg_mm2 * 1000 * 2 * pi / 12.7 / 1000
    assert braking == pytest.approx(
        axis.lowering_mm * (15 - 10) + axis.drag_torque_nmm - turning, abs=1e-6
    )
    # Cutting force along the motion helps it, against the motion it costs.
    helped, held = axis.demand_nmm(np.array([40.0, -40.0]), 50.0, 0.0)
    assert held == pytest.approx(50 * axis.raising_mm + axis.drag_torque_nmm)
    assert helped == pytest.approx(30 * axis.lowering_mm + axis.drag_torque_nmm)


def test_two_motors_share_thrust_and_keep_their_inertia(machine_of, axis):
    both = machine_of(EXAMPLE.replace('drive = "screw"', 'drive = "screw"\nmotors = 2')).x
    turning = axis.inertia_kg_mm2 * 1000 * 2 * pi / 12.7 / 1000
    one = axis.demand_nmm(-100.0, 50.0, 1000.0)
    half = both.demand_nmm(-100.0, 50.0, 1000.0)
    assert half - turning - axis.drag_torque_nmm == pytest.approx(
        (one - turning - axis.drag_torque_nmm) / 2
    )
    assert both.stiffness_n_per_mm == pytest.approx(2 * axis.stiffness_n_per_mm)


def test_stiffness_is_the_chain(axis):
    # Screw 600 mm from its fixed end, nut 50, bearing 30: 11.23 N/µm (computed); then the wound
    # screw and the magnetic spring, by their formulas.
    row = 1 / 11_230
    wound = 12.7 / 2 / pi * axis.raising_mm / (207_000 / 2.584 * pi * 10.16**4 / 32 / 600)
    spring = 12.7 / 2 / pi * axis.raising_mm / (50 * 1343.5)
    assert 1 / axis.stiffness_n_per_mm == pytest.approx(row + wound + spring, rel=1e-3)
    # 50 N on the magnetic spring alone: 4.64 µm (computed; asin and its slope agree here)
    assert spring * 50 * 1000 == pytest.approx(4.64, abs=0.03)


def test_whip(axis):
    # fixed-supported 36 in: 2297 rev/min (computed); 1200 mm by the square of the length
    turns = axis.whip_mm_per_s / 12.7 * 60
    assert turns == pytest.approx(2297 * (914.4 / 1200) ** 2, rel=1e-3)


def test_top_speed_is_the_least(machine_of, axis):
    assert axis.set_rapid_mm_per_s == pytest.approx(100)
    assert axis.top_speed_mm_per_s == axis.rapid_mm_per_s == pytest.approx(100)
    need = axis.demand_nmm(0.0, 1e-9, 1000.0)
    assert axis.pull_nmm(axis.motor_top_mm_per_s) == pytest.approx(need, rel=1e-6)
    machine = machine_of(EXAMPLE.replace("6000 mm/min", "60000 mm/min"))
    assert machine.x.top_speed_mm_per_s == pytest.approx(0.8 * machine.x.whip_mm_per_s)
    assert any(
        "X, controller: rapid speed set: set to 60000 mm/min, which motor or screw cannot hold"
        in words
        for words in machine.assumed
    )


def test_z_carries_its_weight(machine_of):
    z = machine_of('[axes.z]\nmoving_mass = "4 kg"\n').z
    assert z.weight_n == pytest.approx(39.2266)
    up = z.demand_nmm(0.0, 5.0, 0.0)
    down = z.demand_nmm(0.0, -5.0, 0.0)
    assert up > down


def test_belt_and_rack(machine_of):
    machine = machine_of(
        '[axes.x]\ndrive = "belt"\ntravel = "500 mm"\nbearing_stiffness = "1e6 N/mm"\n'
        '[axes.x.belt]\npitch = "2 mm"\nteeth = 20\nwidth = "10 mm"\n'
        'specific_stiffness = "6000 N/mm"\nlength = "1000 mm"\nefficiency = 1\n'
        '[axes.y]\ndrive = "rack"\nratio = 4\n[axes.y.rack]\nmodule = "1 mm"\nteeth = 20\n'
    )
    belt, rack = machine.x, machine.y
    assert 200 * 8 / belt.lead_mm == pytest.approx(40)  # computed
    assert 200 * 8 / rack.lead_mm == pytest.approx(4 * 25.4648, rel=1e-5)
    assert belt.whip_mm_per_s == np.inf
    spring = belt.lead_mm**2 / (2 * pi) ** 2 / 50 / machine.x.curve_torque_nmm[0]
    share = machine.values["axes.x.motor.pull_share"]
    give = 1 / 160 + 1e-6 + spring * share  # 160 N/mm in the middle (computed)
    assert 1 / belt.stiffness_n_per_mm == pytest.approx(give, rel=1e-6)
    assert not rack.locks_itself


def test_ball_screw_is_driven_back(machine_of):
    machine = machine_of(
        '[axes.z.screw]\nform = "ball"\nlead = "5 mm"\nefficiency = 0.9\npreload = "0 N"\n'
    )
    assert machine.z.raising_mm == pytest.approx(5 / (2 * pi * 0.9))
    assert machine.z.lowering_mm == pytest.approx(-5 / (2 * pi) * (2 - 1 / 0.9))
    assert not machine.z.locks_itself


def test_trapezoidal_by_size(machine_of):
    machine = machine_of(
        '[axes.x.screw]\nform = "trapezoidal"\nsize = "Tr12x3"\nstarts = 2\nfriction = 0.12\n'
    )
    assert machine.x.lead_mm == 6.0
    expected = screws.raising_torque_nmm(1.0, 10.5, 6.0, 0.12, radians(15))
    assert machine.x.raising_mm == pytest.approx(float(expected))
    assert machine.values["axes.x.screw.root_diameter"] == 8.5
