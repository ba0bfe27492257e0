"""Whole drives: nuts, demand, run-up, dropping, gantry, small steps, mid band, lead accuracy."""

from math import pi, radians

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from kerfwright.physics import (
    belts,
    contact,
    drivers,
    drives,
    gantry,
    lead_accuracy,
    microsteps,
    mid_band,
    motor_drag,
    nuts,
    racks,
    screw_limits,
    screws,
    steppers,
)
from kerfwright.tables import read_table

ACME = radians(14.5)
THREAD = (11.43, 12.7, 0.15, ACME)  # 1/2-10 Acme, five starts
PEAK = 1900.0 / 2**0.5  # the example motor, N mm
ALL_ENDS = ("fixed-free", "supported-supported", "fixed-supported", "fixed-fixed")


# --- demand -------------------------------------------------------------------------------------


def test_demand_by_efficiency():
    # computed: 200 N, lead 12.7 mm, efficiency 0.5: 0.8085 N m
    assert drives.demand_torque_nmm(200, 0, 0, 12.7, 0.5) == pytest.approx(808.5, abs=0.05)
    # engineeringprep problem 516 (read): 20 kN, lead 10 mm, 0.70: printed 45.5 N m
    assert drives.demand_torque_nmm(20e3, 0, 0, 10, 0.7) == pytest.approx(45_500, abs=50)


def test_demand_through_the_nut():
    # computed: 15 kg at 1 m/s², lead 12.7 mm, e 0.657, rotor and screw 63.78 kg mm²: 0.0777 N m
    through = drives.demand_torque_nmm(0, 15, 1000, 12.7, 0.657, 63.78)
    assert through == pytest.approx(77.7, abs=0.1)
    assert drives.screw_torque_nmm(0, 15, 1000, *THREAD, 63.78) == pytest.approx(77.7, abs=0.05)


def test_slowing_down_takes_the_lowering_torque():
    turning = 63.78 * 2 * pi / 12.7  # N mm at 1000 mm/s²
    braking = drives.screw_torque_nmm(0, 15, -1000, *THREAD, 63.78)
    assert braking == pytest.approx(screws.lowering_torque_nmm(15.0, *THREAD) - turning)
    with pytest.raises(ValueError, match="drive the carriage"):
        drives.demand_torque_nmm(10, 15, -1000, 12.7, 0.657)


# --- run-up where the acceleration falls with speed ----------------------------------------------


def test_run_up_against_quadrature():
    speed = np.array([0.0, 50.0, 120.0, 190.0])
    rate = np.array([6000.0, 6000.0, 4100.0, 2100.0])
    time, way = drives.run_up(speed, rate)

    def slope(v):
        return np.interp(v, speed, rate)

    for v, t, s in zip(speed[1:], time[1:], way[1:], strict=True):
        kinks = [50.0, 120.0]
        assert t == pytest.approx(quad(lambda u: 1 / slope(u), 0, v, points=kinks)[0], rel=1e-9)
        assert s == pytest.approx(quad(lambda u: u / slope(u), 0, v, points=kinks)[0], rel=1e-9)


def test_acceleration_at_the_top_speed_is_no_guide():
    # computed for this project: to 190 mm/s at 24 V with half the pull, 0.043 s where the
    # acceleration at the top, held from the start, would take 0.089 s. The load behind it was not
    # written down: 150 N mm of drag gives both figures.
    speed = np.linspace(0.0, 190.0, 400)
    pull = steppers.pull_out_torque_nmm(speed / 12.7, PEAK / 2.8, 2.8, 24, 1.0, 3e-3)
    need = drives.screw_torque_nmm(0, 15, 1.0, *THREAD, 48 + 15.78)  # N mm for each mm/s²
    rate = (0.5 * pull - 150.0) / need
    assert 190.0 / rate[-1] == pytest.approx(0.089, abs=0.0005)
    time, way = drives.run_up(speed, rate)
    assert time[-1] == pytest.approx(0.043, abs=0.0005)
    assert 0.5 * 190 * time[-1] < way[-1] < 190 * time[-1]


@pytest.mark.parametrize(
    ("speed", "rate", "words"),
    [
        ([0, 1], [1, 2, 3], "pair up"), ([1, 2], [1, 1], "rise from 0"),
        ([0, 2, 1], [1, 1, 1], "rise from 0"), ([0, 1], [1, 0], "above 0"),
    ],
)  # fmt: skip
def test_run_up_refuses(speed, rate, words):
    with pytest.raises(ValueError, match=words):
        drives.run_up(np.array(speed, float), np.array(rate, float))


# --- nuts ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("share", [0.5, 0.3, 0.7])
@pytest.mark.parametrize("thrust", [0.0, 20.0, 60.0, 200.0])
def test_rigid_nut_against_two_springs_solved(share, thrust):
    # Springs k1, k2 between a rigid body and the screw, squeezed by P, that cannot pull.
    preload, k1 = 50.0, 1000.0 * share
    k2 = 1000.0 * (1 - share)
    low, high = 0.0, 1.0
    for _ in range(80):  # movement at which the forces balance
        x = 0.5 * (low + high)
        held = max(preload + k1 * x, 0.0) - max(preload - k2 * x, 0.0)
        low, high = (x, high) if held < thrust else (low, x)
    loaded, other = nuts.rigid_loads_n(thrust, preload, share)
    assert loaded == pytest.approx(preload + k1 * x, abs=1e-6)
    assert other == pytest.approx(max(preload - k2 * x, 0.0), abs=1e-6)
    assert loaded - other == pytest.approx(thrust, abs=1e-9)


def test_rigid_nut_opens_at_its_load():
    assert nuts.rigid_opens_n(50) == pytest.approx(100)  # twice the preload, as for linear wheels
    assert nuts.rigid_opens_n(50) == contact.unloading_force_n(50, 1.0)
    opens = nuts.rigid_opens_n(50, 0.3)
    assert nuts.rigid_loads_n(opens * 0.999, 50, 0.3)[1] > 0
    assert nuts.rigid_loads_n(opens * 1.001, 50, 0.3)[1] == 0


def test_spring_nut_opens_towards_its_spring_only():
    fast, sprung = nuts.spring_loads_n(np.array([500.0, 0.0, -40.0, -60.0]), 50.0)
    assert fast.tolist() == [550.0, 50.0, 10.0, 0.0]
    assert sprung.tolist() == [50.0, 50.0, 50.0, 60.0]
    assert fast - sprung == pytest.approx([500, 0, -40, -60])
    opening = nuts.spring_opening_mm(np.array([500.0, -50.0, -60.0]), 50.0, 20.0)
    assert opening == pytest.approx([0.0, 0.0, 0.5])


@pytest.mark.parametrize(("lead", "drag"), [(2.54, 89.0), (5.08, 90.4), (12.7, 99.9)])
def test_drag_of_the_preload(lead, drag):
    # computed: 50 N, f 0.15, one, two and five starts: 0.0890 / 0.0904 / 0.0999 N m
    torque = nuts.turning_torque_nmm(50, 50, 11.43, lead, 0.15, ACME)
    assert torque == pytest.approx(drag, abs=0.06)
    assert torque == screws.preload_drag_torque_nmm(50, 11.43, lead, 0.15, ACME)


def test_drag_until_a_rigid_nut_opens_and_beyond():
    thrust = np.linspace(0.0, 300.0, 61)
    torque = nuts.turning_torque_nmm(*nuts.rigid_loads_n(thrust, 50.0), *THREAD)
    assert np.all(np.diff(torque) > 0)
    beyond = thrust > 100
    assert torque[beyond] == pytest.approx(screws.raising_torque_nmm(thrust[beyond], *THREAD))
    assert np.all(torque >= screws.raising_torque_nmm(thrust, *THREAD) - 1e-9)


def test_ball_nut_drag():
    # K = 0.05 / sqrt(tan λ), JIS B 1192 and guides (from memory): worked here step by step.
    slope = 5 / (pi * 16.5)
    expected = 0.05 / slope**0.5 * 300 * 5 / (2 * pi)
    assert nuts.ball_drag_torque_nmm(300, 5, 16.5) == pytest.approx(expected)


# --- stiffness, buckling, whip --------------------------------------------------------------------


def test_train_in_a_row():
    # computed: 27.97, 50 and 30 N/µm: 11.23
    stiff = drives.train_stiffness_n_per_mm(27_970, 50_000, 30_000)
    assert stiff == pytest.approx(11_230, abs=5)
    wound = drives.train_stiffness_n_per_mm(np.inf, np.inf, np.inf, np.inf, 1e5, 12.7)
    assert wound == pytest.approx(1e5 * (2 * pi / 12.7) ** 2)  # k_t (2 pi / l)²


@pytest.mark.parametrize(
    ("ends", "rpm"),
    [("supported-supported", 1179), ("fixed-supported", 1835), ("fixed-fixed", 2661)],
)
def test_whip_by_the_second_catalogue(ends, rpm):
    # Catalogue B (factors read): fc 1e7 d / L² with 0.8 inside; theory within 0.3 %.
    row = next(r for r in read_table("end_fixity") if r["condition"] == ends)
    assert screw_limits.first_root(ends) == float(row["beta1"])
    printed = float(row["crit_cat_B"]) * 1e7 * 10.16 / 914.4**2
    assert printed == pytest.approx(rpm, abs=1)
    theory = screw_limits.whip_speed_rev_per_s(10.16, 914.4, float(row["beta1"]), 207_000.0, 7850.0)
    assert 0.8 * theory * 60 == pytest.approx(printed, rel=3e-3)


@pytest.mark.parametrize("ends", ALL_ENDS)
def test_ends_by_theory(ends):
    # The root solves the beam's frequency equation; the constant is the usual handbook value.
    b = float(screw_limits.first_root(ends))
    left = {
        "fixed-free": np.cos(b) * np.cosh(b) + 1.0,
        "supported-supported": np.sin(b) * np.cosh(b),
        "fixed-supported": np.tan(b) - np.tanh(b),
        "fixed-fixed": np.cos(b) * np.cosh(b) - 1.0,
    }[ends]
    assert left / np.cosh(b) == pytest.approx(0.0, abs=1e-4)
    exact = dict(zip(ALL_ENDS, (0.25, 1.0, 2.046, 4.0), strict=True))
    assert screw_limits.end_constant(ends) == pytest.approx(exact[ends], rel=0.025)


def test_a_rectangular_column_by_its_radius_of_gyration():
    # Textbook companion (read): 60 x 100 mm, pinned, 200 GPa, 250 MPa: Euler from 1539 mm on.
    like = 4 * 60 / 12**0.5  # round rod of the same radius of gyration
    stress = screw_limits.buckling_force_n(like, 1539, 1, 200e3) / (pi / 4 * like**2)
    assert stress == pytest.approx(250, abs=0.2)


def test_johnson_begins_where_it_should():
    # computed: C 1, 207 GPa, 400 MPa: L / k 101.07
    limit = screw_limits.changes_at_slenderness(1, 207e3, 400)
    assert limit == pytest.approx(101.07, abs=0.005)
    length = limit * 10.16 / 4
    force = screw_limits.buckling_force_n(10.16, length, 1, 207e3, 400)
    assert force == pytest.approx(0.5 * 400 * pi / 4 * 10.16**2)


def test_stress_closed_form():
    # Utah slide 4-6 (read): with T = F l / 2 pi e, sigma_eq = 4 F / pi d² sqrt(1 + 12 l² / ...)
    thrust, lead, root, share = 2344.0, 2.0, 4.8, 0.9
    closed = 4 * thrust / (pi * root**2)
    closed *= (1 + 12 * lead**2 / (pi**2 * root**2 * share**2)) ** 0.5
    torque = thrust * lead / (2 * pi * share)
    assert screw_limits.screw_stress_mpa(thrust, torque, root) == pytest.approx(closed)


def test_lead_accuracy():
    # computed: 0.1 mm in 300 mm over 1200 mm
    assert lead_accuracy.error_mm(1200, 0.1) == pytest.approx(0.40)
    assert lead_accuracy.error_mm(np.array([150, 1200]), 0.1, adds_up=False) == pytest.approx(
        [0.05, 0.1]
    )
    # a maker's example (read): 842 mm, C3 ±21 µm, C5 ±40 µm
    assert lead_accuracy.ball_screw_mm(842, "C3") == pytest.approx(0.021)
    assert lead_accuracy.ball_screw_mm(842, "C5") == pytest.approx(0.040)
    # on a limit: the lower row
    assert lead_accuracy.ball_screw_mm(np.array([800, 800.1]), "C5").tolist() == [0.035, 0.040]
    with pytest.raises(ValueError, match="the table ends at 1600 mm"):
        lead_accuracy.ball_screw_mm(1700, "C0")


# --- screws: the rest of the table ----------------------------------------------------------------


def test_trapezoidal_efficiency():
    # computed: Tr8, lead 8, d2 7, f 0.2, 100 N: e 0.589
    torque = screws.raising_torque_nmm(100, 7, 8, 0.2, radians(15))
    assert screws.efficiency(100, 8, torque) == pytest.approx(0.589, abs=5e-4)


@pytest.mark.parametrize("lead", [2.54, 5.08])
def test_axial_flank_is_as_good_as_the_normal_one(lead):
    # exact: tan of the flank normal to the thread is tan(flank) cos(lead angle). For one start the
    # torque is off by less than 0.03 %, for two by less than 0.1 % (measured here).
    lam = float(screws.lead_angle_rad(11.43, lead))
    normal = np.arctan(np.tan(ACME) * np.cos(lam))
    # f sec(normal) in the plane of the helix
    f, t = 0.15 / np.cos(normal), np.tan(lam)
    exact = 11.43 / 2 * (f + t) / (1 - f * t)
    ours = screws.raising_torque_nmm(1, 11.43, lead, 0.15, ACME)
    assert ours == pytest.approx(exact, rel=1e-3)


@pytest.mark.parametrize("seed", range(8))
def test_self_locking_is_an_efficiency_below_one_half(seed):
    # statics texts (read): a screw that locks itself has an efficiency below 50 %
    rng = np.random.default_rng(seed)
    d, lead, f = rng.uniform(6, 30), rng.uniform(1, 25), rng.uniform(0.02, 0.3)
    torque = screws.raising_torque_nmm(1, d, lead, f, ACME)
    if screws.locks_itself(d, lead, f, ACME):
        assert screws.efficiency(1, lead, torque) < 0.5
        assert screws.lowering_torque_nmm(1, d, lead, f, ACME) > 0
    else:
        assert screws.lowering_torque_nmm(1, d, lead, f, ACME) <= 0


# --- a Z that drops -------------------------------------------------------------------------------


def test_a_five_start_z_drops_and_a_single_start_does_not():
    assert drives.drop_torque_nmm(4, *THREAD) > 0
    assert drives.drop_torque_nmm(4, 11.43, 2.54, 0.15, ACME) < 0
    assert drives.drop_acceleration_mm_per_s2(4, 11.43, 2.54, 0.15, ACME) == 0
    # the drag of a preloaded nut may hold what the thread alone lets go
    assert drives.drop_torque_nmm(4, *THREAD, 0.0, 99.9) < 0


def test_drop_against_the_motion_integrated():
    mass, friction, drag, turning = 4.0, 5.0, 10.0, 60.0
    thread = (11.43, 12.7, 0.1, ACME)
    back = -float(screws.lowering_torque_nmm(1.0, *thread))

    def motion(_, state):
        # the nut's force F on the screw: m (g - a) - friction; J 2 pi / l a = back F - drag
        a = state[1]
        spin = 2 * pi / 12.7 * turning / 1000
        weight = mass * 9.80665 - friction
        return [state[1], 0.0 * a + (back * weight - drag) / (back * mass / 1000 + spin)]

    end = solve_ivp(motion, (0, 0.1), [0.0, 0.0], rtol=1e-10).y[1, -1]
    ours = drives.drop_acceleration_mm_per_s2(mass, *thread, friction, drag, turning)
    assert ours * 0.1 == pytest.approx(end)
    free = drives.drop_acceleration_mm_per_s2(mass, 11.43, 1e4, 0.0)
    assert free == pytest.approx(9806.65)  # a screw of endless lead without friction: free fall


# --- small steps, slips ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lead", "microsteps_set", "um"),
    [(12.7, 10, 6.35), (12.7, 8, 7.9375), (5.08, 10, 2.54), (8, 16, 2.5)],
)  # fmt: skip
def test_position(lead, microsteps_set, um):  # computed
    assert drivers.position_mm(lead, 200, microsteps_set) * 1000 == pytest.approx(um)
    assert drivers.positions_per_mm(lead, 200, microsteps_set) == pytest.approx(1000 / um)


def test_full_step():
    # Kosow, 2nd ed., example 11-3 (read): 50 teeth, 1.8 degrees
    assert drivers.full_step_angle_rad(50) == pytest.approx(radians(1.8))


def test_standing_error_through_the_screw():
    # computed: half the torque, 1.8°, lead 12.7 mm: 0.0212 mm; 50 N through five starts 4.64, 1.62
    assert microsteps.standing_error_mm(0.5, 1.0, 12.7) == pytest.approx(0.0212, abs=5e-5)
    up = screws.raising_torque_nmm(50, *THREAD)
    down = -screws.lowering_torque_nmm(50, *THREAD)
    for torque, um in ((up, 4.64), (down, 1.62)):
        assert microsteps.standing_error_mm(torque, PEAK, 12.7) * 1000 == pytest.approx(
            um, abs=0.01
        )


@pytest.mark.parametrize("count", [1, 2, 4, 8, 16, 32, 256])
@pytest.mark.parametrize("share", [0.02, 0.1, 0.195, 0.4, 0.9])
def test_microsteps_against_the_increments_added_up(count, share):
    # Step by step: torque of a shaft still at rest after n microsteps is sin(n 90° / M).
    n = next(n for n in range(1, count + 1) if np.sin(n * pi / 2 / count) >= share - 1e-12)
    assert microsteps.microsteps_to_move(share, 1.0, count) == n


def test_a_rotor_with_dry_friction_moves_what_is_left():
    # The rotor on its spring, friction T_f: commanded angle grows slowly, then back.
    friction, lead = 150.0, 12.7
    limit = float(microsteps.standing_error_mm(friction, PEAK, lead))
    rotor, turns = 0.0, []
    for commanded in (*np.linspace(0, 0.05, 501), *np.linspace(0.05, 0.02, 301)):
        rotor = min(max(rotor, commanded - limit), commanded + limit)
        turns.append((commanded, rotor))
    assert turns[500][1] == pytest.approx(
        microsteps.surely_moved_mm(0.05, friction, PEAK, lead), abs=1e-12
    )
    back = turns[500][1] - rotor
    lost = microsteps.reversal_mm(friction, PEAK, lead)
    assert back == pytest.approx(0.03 - lost, abs=1e-9)


def test_slips():
    # computed: lead / 50: 0.102 mm at 5.08 mm, 0.254 at 12.7; on one motor of two, 700 mm apart,
    # 0.36 mrad
    assert microsteps.slip_mm(5.08) == pytest.approx(0.102, abs=5e-4)
    assert microsteps.slip_mm(12.7) == pytest.approx(0.254)
    assert gantry.two_motors_yaw_rad(0.254, 700) == pytest.approx(0.36e-3, abs=0.5e-5)


@pytest.mark.parametrize(("share", "mm_per_s"), [(0.0, 59.3), (0.5, 34.7)])
def test_largest_jump_at_the_carriage(share, mm_per_s):  # computed
    jump = steppers.largest_speed_jump_rad_per_s(share * PEAK, PEAK, 125.06)
    assert jump * 12.7 / (2 * pi) == pytest.approx(mm_per_s, abs=0.05)


# --- gantry ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_two_motors_against_springs_solved(seed):
    # A rigid bar on two drive springs whose far ends differ by d, and a yaw spring.
    rng = np.random.default_rng(seed)
    apart, k, yaw = rng.uniform(300, 900), rng.uniform(1e3, 2e4), 10 ** rng.uniform(6, 9)
    d = rng.uniform(0.05, 0.5)
    arms = np.array([-apart / 2, apart / 2])
    ends = np.array([-d / 2, d / 2])
    stiff = np.array([[2 * k, 0.0], [0.0, k * (arms**2).sum() + yaw]])
    shift, turn = np.linalg.solve(stiff, [k * ends.sum(), k * (ends * arms).sum()])
    assert gantry.two_motors_yaw_rad(d, apart, k, yaw) == pytest.approx(turn)
    force = k * (ends - shift - turn * arms)
    assert gantry.two_motors_force_n(d, apart, k, yaw) == pytest.approx(force[1])
    assert force.sum() == pytest.approx(0.0, abs=1e-9)
    stuck = gantry.two_motors_force_n(d, apart, k, 1e16)
    assert stuck == pytest.approx(k * d / 2, rel=1e-3)


def test_one_screw_at_the_side_yaws_four_times_as_softly():
    yaw = gantry.wheel_yaw_stiffness_nmm_per_rad(5000, 4, 140)
    assert yaw == pytest.approx(4 * 5000 * 70**2)
    middle = gantry.one_screw_give_mm_per_n(320, 5000, yaw) - 1 / 5000
    side = gantry.one_screw_give_mm_per_n(640, 5000, yaw) - 1 / 5000
    assert side == pytest.approx(4 * middle)
    # what the cutter moves is the yaw times the lever
    assert gantry.one_screw_yaw_rad(50, 320, yaw) * 320 == pytest.approx(50 * middle)


def test_a_drawer_jams():
    # Two guides s apart, force F at lever e: each presses with F e / s and rubs with f of that.
    lever = float(gantry.jamming_lever_mm(140, 0.15))
    assert 2 * 0.15 * lever / 140 == pytest.approx(1.0)


# --- belts and racks ------------------------------------------------------------------------------


def test_belt_spans():
    # computed: c b 60 kN, 1 m: 120 N/mm at the far end, 160 in the middle; open 240
    at = np.array([500.0, 1000.0])
    assert belts.looped_stiffness_n_per_mm(6000, 10, at, 1000) == pytest.approx([160, 120])
    assert belts.open_stiffness_n_per_mm(6000, 10, 500, 1000) == pytest.approx(240)
    # two spans side by side are the sum of two spans
    spans = belts.span_stiffness_n_per_mm(6000, 10, np.array([300.0, 1700.0])).sum()
    assert belts.looped_stiffness_n_per_mm(6000, 10, 300, 1000) == pytest.approx(spans)


def test_a_span_goes_slack_where_its_tension_is_gone():
    preload, one, other = 60.0, 500.0, 1500.0
    force = float(belts.slack_force_n(preload, one, other))
    k = belts.span_stiffness_n_per_mm(6000, 10, np.array([one, other]))
    assert preload - force * k[1] / k.sum() == pytest.approx(0.0, abs=1e-9)


def test_rack():
    # pi m z; 2 T / m z; M (m z / 2)²: the three agree by work and energy
    lead = racks.lead_mm(1, 20)
    assert racks.thrust_n(1000, 1, 20) * lead == pytest.approx(1000 * 2 * pi)
    assert racks.reflected_inertia_kg_mm2(15, 1, 20) == pytest.approx(15 * (lead / 2 / pi) ** 2)
    with pytest.raises(ValueError, match="efficiency must lie"):
        racks.thrust_n(1000, 1, 20, 1.2)


# --- drag and mid band ----------------------------------------------------------------------------


def test_quick_limit_step_time():
    # computed: 48 V, 3 mH, 2.8 A: 0.35 ms for a full step; P = I V
    rate = steppers.quick_limit_rev_per_s(48, 3e-3, 2.8, 200) * 200
    assert 1 / rate == pytest.approx(0.35e-3, abs=1e-6)


@pytest.mark.parametrize(
    ("volts", "rpm", "time_domain"),
    [(24, 600, 1004), (24, 900, 712), (24, 1200, 537), (48, 1200, 1044)],
)
def test_the_range_holds_the_time_domain_model(volts, rpm, time_domain):
    # A chopper model per phase (computed), before detent and iron drag.
    pull = steppers.pull_out_torque_nmm(rpm / 60, PEAK / 2.8, 2.8, volts, 1.0, 3e-3)
    least, most = motor_drag.pull_range_nmm(pull, PEAK, 1900, rpm / 60)
    drag_least, drag_most = motor_drag.usual_drag_nmm(rpm / 60, 1900)
    assert least <= time_domain - drag_most <= most
    assert least <= time_domain - drag_least <= most + 0.01 * time_domain


def test_iron_drag():
    assert motor_drag.iron_torque_nmm(10, 20, 0.8) == pytest.approx(20 + 0.8 * 20 * pi)
    least, most = motor_drag.usual_drag_nmm(np.array([0.0, 10.0]), 1900)
    assert np.all(least < most)


@pytest.mark.parametrize("seed", range(10))
def test_mid_band_is_found_again(seed):
    rng = np.random.default_rng(seed)
    depth, centre, width = rng.uniform(0.2, 0.8), rng.uniform(7, 12), rng.uniform(1.0, 3.0)
    speed = np.linspace(3, 16, 14)
    left = mid_band.share(speed, depth, centre, width)
    found = mid_band.fitted(speed, left)
    assert [float(x) for x in found[:3]] == pytest.approx([depth, centre, width], rel=5e-3)
    assert found[3] < 1e-3
    noisy = left + rng.normal(0.0, 0.03, 14)
    again = mid_band.fitted(speed, np.clip(noisy, 0, 2))
    assert float(again[3]) < 0.06
    assert float(again[1]) == pytest.approx(centre, abs=1.0)


def test_mid_band_needs_tests():
    with pytest.raises(ValueError, match="at least four"):
        mid_band.fitted(np.array([5.0, 6.0, 6.0]), np.array([1.0, 0.5, 0.6]))
    flat = mid_band.fitted(np.linspace(4, 14, 6), np.ones(6))
    assert flat[0] == 0.0
