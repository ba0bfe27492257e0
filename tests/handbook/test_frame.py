"""Compliant parts put together, against beam formulas and statics."""

import numpy as np
import pytest

from kerfwright.physics import beams, frame, gantry, vibration

EI3, EI2, EA, GJ = 4e9, 9e9, 5e7, 2e9


def bar(length):
    return frame.bar_compliance(length, EA, EI2, EI3, GJ)


def test_bar_is_a_cantilever():
    end = bar(500.0)
    assert end[1, 1] == pytest.approx(beams.cantilever_end_mm(1, 500, 1, EI3))
    assert end[2, 2] == pytest.approx(beams.cantilever_end_mm(1, 500, 1, EI2))
    assert np.allclose(end, end.T)
    assert np.all(np.linalg.eigvalsh(end) > 0)


def test_two_bars_in_a_row_are_one():
    # Half a cantilever carried to the end, plus the other half, is the whole: fixes every sign.
    row = frame.seen_from(bar(200.0), np.array([300.0, 0, 0])) + bar(300.0)
    assert row == pytest.approx(bar(500.0), rel=1e-12, abs=1e-18)


@pytest.mark.parametrize("share", [0.5, 0.25])
def test_clamped_beam_by_assembly(share):
    # Two cantilevers meeting at the load: F L³ / 192 E I in the middle; a³ b³ / 3 L³ E I elsewhere
    # (Machinery's Handbook: mid-span read, general form from memory).
    left, right = 900 * share, 900 * (1 - share)
    turn = frame.turned(np.diag([-1.0, -1.0, 1.0]))
    stiffness = np.linalg.inv(bar(left)) + np.linalg.inv(turn @ bar(right) @ turn.T)
    sag = np.linalg.inv(stiffness)
    general = left**3 * right**3 / (3 * EI3 * 900**3)
    assert sag[1, 1] == pytest.approx(general, rel=1e-9)
    if share == 0.5:
        assert sag[1, 1] == pytest.approx(beams.clamped_mid_mm(1, 900, 1, EI3), rel=1e-9)
    assert sag[3, 3] == pytest.approx(beams.twist_rad(1, left, 900, 1, GJ), rel=1e-9)


@pytest.mark.parametrize(("share", "um"), [(0.0, 10.0), (0.25, 6.25), (0.5, 5.0)])
def test_parallel_bearers(share, um):
    # computed: 10 N/µm a side, 100 N at a share of the span
    arms = np.array([[0.0, -share * 700, 0.0], [0.0, (1 - share) * 700, 0.0]])
    up = np.array([0.0, 0.0, 1.0])
    stiffness = frame.spring_stiffness(arms, up, 10_000.0).sum(axis=0)
    free = [2, 3]  # up and roll
    compliance = np.linalg.inv(stiffness[np.ix_(free, free)])
    assert 100 * compliance[0, 0] * 1000 == pytest.approx(um)


def test_held_between_lets_rigid_motion_pass_free():
    arm = np.array([30.0, -200.0, 120.0])
    matrix = frame.held_between(bar(500.0), arm)
    near = np.eye(6)
    together = np.vstack((near, frame.carried(arm) @ near))
    assert np.abs(matrix @ together).max() < 1e-6 * np.abs(matrix).max()
    assert np.allclose(matrix, matrix.T)
    held = np.linalg.inv(matrix[6:, 6:])
    assert held == pytest.approx(bar(500.0), rel=1e-9)


def test_force_below_a_beam_twists_it():
    # displacement F / k + F h² / k_theta: superposition
    compliance = np.diag([1e-4, 1e-4, 1e-4, 1e-9, 1e-9, 1e-9])
    tip = frame.seen_from(compliance, np.array([0.0, 0.0, -150.0]))
    assert tip[0, 0] == pytest.approx(1e-4 + 150**2 * 1e-9)
    assert tip[2, 2] == pytest.approx(1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_a_stiffer_part_never_raises_the_work(seed):
    rng = np.random.default_rng(seed)
    arms = rng.uniform(-300, 300, (8, 3))
    along = rng.normal(size=(8, 3))
    along /= np.linalg.norm(along, axis=1)[:, None]
    before = rng.uniform(1e3, 1e5, 8)
    after = before * rng.uniform(1.0, 3.0, 8)
    force = np.concatenate((rng.normal(size=3), np.zeros(3)))
    work = [
        force @ np.linalg.solve(frame.spring_stiffness(arms, along, k).sum(axis=0), force)
        for k in (before, after)
    ]
    assert work[1] <= work[0] * (1 + 1e-12)


def test_a_wall_may_get_worse_though_no_work_does():
    # computed: 0.5 I and 0.5 I - 0.2 [1 1; 1 1] µm/N under (60, -100) N: one wall 30 -> 38 µm
    soft = 0.5 * np.eye(2)
    stiff = soft - 0.2 * np.ones((2, 2))
    force = np.array([60.0, -100.0])
    assert np.linalg.eigvalsh(soft - stiff).min() > -1e-12  # nowhere softer
    assert force @ stiff @ force <= force @ soft @ force
    assert (soft @ force)[0] == pytest.approx(30.0)
    assert (stiff @ force)[0] == pytest.approx(38.0)


@pytest.mark.parametrize("seed", range(5))
def test_parts_side_by_side_give_less_than_each_alone(seed):
    rng = np.random.default_rng(seed)
    arms = rng.uniform(-400, 400, (4, 3))
    along = rng.normal(size=(4, 3))
    along /= np.linalg.norm(along, axis=1)[:, None]
    ground = np.diag([10.0] * 3 + [1e6] * 3)
    each = frame.spring_stiffness(arms, along, rng.uniform(1e3, 1e5, 4))
    force = np.concatenate((rng.normal(size=3), 100 * rng.normal(size=3)))
    whole = force @ np.linalg.solve(each.sum(axis=0) + ground, force)
    for one in each:
        assert whole <= force @ np.linalg.solve(one + ground, force) * (1 + 1e-9)


def test_one_screw_by_assembly():
    # The yaw of a gantry with one screw: spring at the drive, wheels against turning, seen from the
    # cutter by the six by six matrices and by the handbook's formula.
    yaw = float(gantry.wheel_yaw_stiffness_nmm_per_rad(5000.0, 4, 140.0))
    x, drive = np.array([1.0, 0, 0]), np.array([0.0, 0, 0])
    wheels = frame.spring_stiffness(
        np.array([[s, 0.0, 0.0] for s in (-70.0, -70.0, 70.0, 70.0)]), np.array([0.0, 1, 0]), 5000.0
    ).sum(axis=0)
    stiff = frame.spring_stiffness(drive, x, 4000.0) + wheels
    keep = [0, 1, 5]
    compliance = np.zeros((6, 6))
    compliance[np.ix_(keep, keep)] = np.linalg.inv(stiff[np.ix_(keep, keep)])
    seen = frame.seen_from(compliance, np.array([0.0, 320.0, 0.0]))
    assert seen[0, 0] == pytest.approx(gantry.one_screw_give_mm_per_n(320.0, 4000.0, yaw))


SWEPT = np.array([0.0, 3.0, 11.0, 24.0, 40.0, 55.0, 90.0, 300.0])  # Hz


def test_one_mass_on_a_spring_swept():
    # 1 / (k - m w² + i c w), c = 2 z sqrt(k m): textbook
    k, m, z = 500.0, 0.012, 0.04  # N/mm, tonnes
    turn = 2 * np.pi * SWEPT
    exact = 1 / (k - m * turn**2 + 2j * z * np.sqrt(k * m) * turn)
    found = vibration.swept_compliance(np.array([[1 / k]]), np.array([12.0]), SWEPT, z)
    assert found[0][:, 0, 0] == pytest.approx(exact.real)
    assert found[1][:, 0, 0] == pytest.approx(-exact.imag)


def test_two_masses_swept():
    # Direct: (K - w² M + i w C)^-1 with the C that gives both modes the same damping,
    # C = M Phi diag(2 z w) Phi^T M (textbook). A third place without a mass rides on the spring.
    k1, k2, masses, z = 400.0, 900.0, np.array([8.0, 3.0]), 0.03
    stiff = np.array([[k1 + k2, -k2], [-k2, k2]])
    mass = np.diag(masses / 1000)
    root = np.sqrt(np.diag(mass))
    values, shapes = np.linalg.eigh(stiff / root[:, None] / root)
    phi = shapes / root[:, None]
    damped = mass @ phi @ np.diag(2 * z * np.sqrt(values)) @ phi.T @ mass
    turn = 2 * np.pi * SWEPT
    exact = np.stack([np.linalg.inv(stiff - w**2 * mass + 1j * w * damped) for w in turn])
    give = np.linalg.inv(stiff)
    half = np.array([[0.5, 0.5]])  # a place half way along the second spring
    parts = np.vstack([np.eye(2), half])
    whole = parts @ give @ parts.T
    whole[2, 2] += 0.25 / k2  # the half spring's own give under a force there
    real, late = vibration.swept_compliance(whole, np.array([8.0, 3.0, 0.0]), SWEPT, z)
    assert real[:, :2, :2] == pytest.approx(exact.real, rel=1e-9, abs=1e-12)
    assert late[:, :2, :2] == pytest.approx(-exact.imag, rel=1e-9, abs=1e-12)
    between = np.einsum("ij,kjl->kil", half, exact)[:, 0]
    assert real[:, 2, :2] == pytest.approx(between.real, rel=1e-9, abs=1e-12)
    assert real == pytest.approx(np.swapaxes(real, 1, 2))  # reciprocity


def test_a_beam_with_its_mass_spread_out_swept():
    # Simply supported, force in the middle: (tan(b L/2) - tanh(b L/2)) / 4 E I b³, b⁴ = m w² / E I
    # (textbook, undamped). Here forty slices on the handbook's sag of a supported beam.
    length, stiff, per_mm, slices = 900.0, 4e9, 1.85e-3, 40  # mm, N mm², kg/mm
    at = np.append((np.arange(slices) + 0.5) / slices, 0.5) * length
    low, high = np.minimum.outer(at, at), np.maximum.outer(at, at)
    give = (
        low * (length - high) * (length**2 - low**2 - (length - high) ** 2) / (6 * stiff * length)
    )
    assert np.diag(give) == pytest.approx(beams.supported_at_mm(1.0, at, length, 1.0, stiff))
    mass = np.append(np.full(slices, per_mm * length / slices), 0.0)
    hertz = np.array([10.0, 60.0, 85.0, 110.0, 200.0, 400.0])
    wave = (per_mm / 1000 * (2 * np.pi * hertz) ** 2 / stiff) ** 0.25
    half = wave * length / 2
    exact = (np.tan(half) - np.tanh(half)) / (4 * stiff * wave**3)
    real, _ = vibration.swept_compliance(give, mass, hertz, 0.0)
    assert real[:, -1, -1] == pytest.approx(exact, rel=2e-3)
    still, _ = vibration.swept_compliance(give, mass, np.zeros(1), 0.0)
    assert still[0] == pytest.approx(give)


def test_a_sweep_needs_a_mass():
    with pytest.raises(ValueError, match="nothing has any mass"):
        vibration.swept_compliance(np.eye(2), np.zeros(2), np.ones(1), 0.02)
