"""Stepper motors, belts, racks and inertia against computed and printed values."""

from math import pi, radians

import numpy as np
import pytest
from scipy.optimize import minimize

from kerfwright.physics import belts, inertia, racks, screws, steppers
from kerfwright.physics.microsteps import incremental_torque_nmm, microsteps_to_move

# The example motor: holding torque 1.9 N m at 2.8 A, 1 ohm, 3 mH, 50 teeth.
HOLDING, CURRENT, OHM, HENRY = 1900.0, 2.8, 1.0, 3e-3
CONSTANT = HOLDING / (2**0.5 * CURRENT)


def pull(rpm, volts):
    return steppers.pull_out_torque_nmm(rpm / 60, CONSTANT, CURRENT, volts, OHM, HENRY)


def test_teeth():
    # Kosow, Electric Machinery and Transformers, 2nd ed., example 11-3 (read): 50 teeth, 1.8°.
    assert steppers.rotor_teeth(200) == 50


def test_torque_constant():
    assert steppers.torque_constant_nmm_per_a(HOLDING, CURRENT) == pytest.approx(479.82, abs=0.01)
    assert pytest.approx(1343.5, abs=0.1) == CONSTANT * CURRENT  # computed


@pytest.mark.parametrize(
    ("volts", "rpm", "torque"),
    [  # computed numerically for this project, ±0.005 N m
        (24, 300, 1344), (24, 400, 1256), (24, 600, 925), (24, 900, 629), (24, 1200, 464),
        (48, 600, 1344), (48, 900, 1212), (48, 1200, 976),
    ],
)  # fmt: skip
def test_pull_out(volts, rpm, torque):
    assert pull(rpm, volts) == pytest.approx(torque, abs=5)


@pytest.mark.parametrize(
    ("volts", "rpm", "time_domain"),
    [(24, 600, 1004), (24, 900, 712), (24, 1200, 537), (48, 1200, 1044)],
)
def test_pull_out_lies_below_a_time_domain_model(volts, rpm, time_domain):
    # A chopper model per phase (computed): the two-limit curve is 2 to 14 % below it.
    assert 0.86 < pull(rpm, volts) / time_domain < 0.98


@pytest.mark.parametrize("seed", range(12))
def test_pull_out_against_a_general_optimiser(seed):
    # scipy's SLSQP from several starts on the problem as stated (general-purpose reference).
    rng = np.random.default_rng(seed)
    constant, current = rng.uniform(200, 900), rng.uniform(1, 5)
    volts, ohm, henry = rng.uniform(12, 60), rng.uniform(0.3, 2.5), rng.uniform(1e-3, 8e-3)
    turning = 2 * pi * rng.uniform(0, 40)
    x, emf = 50 * turning * henry, constant / 1000 * turning

    def room_v(i):
        d, q = i * current
        return 1 - ((ohm * d - x * q) ** 2 + (ohm * q + x * d + emf) ** 2) / volts**2

    limits = [
        {"type": "ineq", "fun": lambda i: 1 - i @ i},
        {"type": "ineq", "fun": room_v},
    ]
    best = 0.0
    for start in ((0.0, 0.1), (-0.5, 0.1), (-0.9, 0.1), (-0.99, 0.0)):
        found = minimize(lambda i: -i[1], start, constraints=limits, method="SLSQP")
        if found.success and room_v(found.x) > -1e-7 and found.x @ found.x < 1 + 1e-7:
            best = max(best, found.x[1])
    mine = steppers.pull_out_torque_nmm(turning / 2 / pi, constant, current, volts, ohm, henry)
    assert mine == pytest.approx(constant * current * best, rel=5e-3, abs=1e-3 * constant * current)


def test_pull_out_without_field_current_would_be_nothing():
    # 24 V, 600 rev/min: even i_q = 0 leaves i_d = 0 no voltage: E > V.
    assert CONSTANT / 1000 * 2 * pi * 10 > 24
    assert pull(600, 24) > 900


def test_pull_out_never_rises_with_speed():
    torque = pull(np.linspace(0, 3000, 601), 36)
    assert np.all(np.diff(torque) <= 1e-9)
    assert torque[0] == pytest.approx(CONSTANT * CURRENT)


@pytest.mark.parametrize(("volts", "rpm"), [(24, 326.8), (36, 506.8), (48, 686.7)])
def test_corner_speed(volts, rpm):  # computed
    speed = steppers.corner_speed_rev_per_s(CONSTANT, CURRENT, volts, OHM, HENRY) * 60
    assert speed == pytest.approx(rpm, abs=0.06)
    assert pull(speed * 0.999, volts) == pytest.approx(CONSTANT * CURRENT)
    assert pull(speed * 1.01, volts) < CONSTANT * CURRENT


@pytest.mark.parametrize(
    ("volts", "rpm", "torque"), [(24, 600, 1054), (24, 1200, 529), (48, 1200, 1139)]
)
def test_voltage_limit_alone(volts, rpm, torque):
    # computed: the voltage limit with no limit of current
    mine = steppers.pull_out_torque_nmm(rpm / 60, CONSTANT, 1e3, volts, OHM, HENRY)
    assert mine == pytest.approx(torque, abs=1)


def test_quick_limit():  # computed; far above the corner speed
    assert steppers.quick_limit_rev_per_s(48, HENRY, CURRENT, 200) * 60 == pytest.approx(
        857, abs=0.5
    )


@pytest.mark.parametrize(
    ("microsteps", "percent"),
    [(1, 100), (2, 70.71), (4, 38.27), (8, 19.51), (32, 4.91), (256, 0.61)],
)
def test_incremental_torque(microsteps, percent):
    # Faulhaber / Micromo, "Microstepping: Myths and Realities", table 1 (read).
    assert incremental_torque_nmm(100, microsteps) == pytest.approx(percent, abs=0.006)


def test_microsteps_to_move():
    # From eq. 2 of the same note (from memory): a friction of just one step's torque takes one.
    one = incremental_torque_nmm(1000, 8)
    assert microsteps_to_move(one, 1000, 8) == 1
    assert microsteps_to_move(one * 1.01, 1000, 8) == 2
    assert microsteps_to_move(np.array([0.0, 999.0, 1001.0]), 1000, 8).tolist() == [
        1,
        8,
        np.inf,
    ]


def test_standing_error():
    # computed: half the torque, 1.8°, lead 12.7 mm: 0.6° = 0.0212 mm
    error = steppers.standing_error_rad(0.5, 1.0)
    assert error == pytest.approx(radians(0.6))
    assert error * 12.7 / (2 * pi) == pytest.approx(0.0212, abs=5e-5)


def test_magnetic_spring_through_the_screw():
    # computed: five-start 1/2-10 Acme, 50 N: 4.64 and 1.62 µm, frictionless 3.04.
    thread = (50.0, 11.43, 12.7, 0.15, radians(14.5))
    up = screws.raising_torque_nmm(*thread)
    down = screws.lowering_torque_nmm(*thread)
    free = 50.0 * 12.7 / (2 * pi)
    errors = steppers.standing_error_rad(np.array([up, -down, free]), 1343.5) * 12.7 / (2 * pi)
    assert errors * 1000 == pytest.approx([4.64, 1.62, 3.04], abs=0.01)


@pytest.mark.parametrize(("inertia_kg_m2", "hz"), [(4.8e-5, 223.9), (9.8e-5, 156.7)])
def test_electrical_resonance(inertia_kg_m2, hz):  # computed
    assert steppers.electrical_resonance_hz(1900, inertia_kg_m2 * 1e6) == pytest.approx(
        hz, abs=0.06
    )


@pytest.mark.parametrize(("share", "jump"), [(0.0, 29.32), (0.5, 17.15)])
def test_largest_speed_jump(share, jump):  # computed
    mine = steppers.largest_speed_jump_rad_per_s(share * 1343.5, 1343.5, 125.06)
    assert mine == pytest.approx(jump, abs=0.01)


@pytest.mark.parametrize("share", [0.1, 0.4, 0.7])
def test_largest_speed_jump_by_time_steps(share):
    # The rotor's motion integrated: just below it comes to rest, just above it slips.
    torque, moment = 1343.5, 125.06
    jump = float(steppers.largest_speed_jump_rad_per_s(share * torque, torque, moment))
    for factor, slips in ((0.99, False), (1.01, True)):
        angle, speed = -np.arcsin(share) / 50, -jump * factor  # lagging under load, hit backwards
        for _ in range(40_000):
            push = -torque * np.sin(50 * angle) - share * torque
            speed += push * 1000 / moment * 1e-6
            angle += speed * 1e-6
        assert (abs(angle) * 50 > pi) == slips


@pytest.mark.parametrize(
    ("microsteps", "lead", "to_the_mm", "step_um"),
    [  # computed: 200-step motors, five-start Acme at 10 and 8, 5 tpi, 8 mm lead
        (10, 12.7, 4000 / 25.4, 6.35), (8, 12.7, 3200 / 25.4, 7.9375),
        (10, 5.08, 10_000 / 25.4, 2.54), (16, 8.0, 400, 2.5),
        (8, belts.lead_mm(2, 20), 40, 25.0),
        (8, racks.lead_mm(1, 20), 25.4648, 39.27),
    ],
)  # fmt: skip
def test_resolution(microsteps, lead, to_the_mm, step_um):
    assert 200 * microsteps / lead == pytest.approx(to_the_mm, rel=1e-5)
    assert lead / 200 / microsteps * 1000 == pytest.approx(step_um, abs=0.001)


def test_inertia():
    # Coefficients of smallmotors.com's lead-screw page (read); numbers computed.
    assert inertia.reflected_inertia_kg_mm2(15, 12.7) == pytest.approx(61.28, abs=0.005)
    assert inertia.rod_inertia_kg_mm2(11.43, 1200, 7850) == pytest.approx(15.78, abs=0.005)
    assert inertia.inertia_force_n(15, 1000) == pytest.approx(15)
    # frictionless 15 kg at 1 m/s²: F l / 2 pi = J a 2 pi / l
    torque = inertia.inertia_torque_nmm(61.28, 1000 * 2 * pi / 12.7)
    assert torque == pytest.approx(15 * 12.7 / (2 * pi), rel=1e-3)


def test_belts():
    # computed: c b 60 kN, 1 m; open belt in the middle, loop at its middle and far end
    assert belts.open_stiffness_n_per_mm(6000, 10, 500, 1000) == pytest.approx(240)
    loop = belts.looped_stiffness_n_per_mm(6000, 10, np.array([500, 1000]), 1000)
    assert loop == pytest.approx([160, 120])
