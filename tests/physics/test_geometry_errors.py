"""The rigid chain of three slides against its full matrices, and readings against closed forms."""

import numpy as np
import pytest

from kerfwright.physics.geometry_errors import (
    RigidErrors,
    bow_mm,
    deviation_by_matrices_mm,
    deviation_mm,
    lean_by_diagonals,
)

# Worked out for this project (mm, rad): first order (-0.05730, 0.00900, 0.02840), full matrices
# (-0.05730, 0.00899, 0.02840).
CHECK = RigidErrors(
    along_mm=np.array([[0.020, -0.015, 0.010], [0.005, 0.012, -0.008], [0.004, -0.006, 0.009]]),
    turn_rad=1e-6 * np.array([[50.0, -80.0, 120.0], [30.0, 60.0, -40.0], [-20.0, 25.0, 10.0]]),
    c0y_rad=200e-6,
    b0z_rad=-150e-6,
    a0z_rad=100e-6,
)
AT, CUTTER = np.array([500.0, 300.0, -80.0]), np.array([0.0, 40.0, -60.0])


def test_check_value_of_all_21_errors():
    first = deviation_mm(AT, CUTTER, CHECK)
    assert first == pytest.approx([-0.05730, 0.00900, 0.02840], abs=5e-6)
    full = deviation_by_matrices_mm(AT, CUTTER, CHECK)
    assert full == pytest.approx([-0.05730, 0.00899, 0.02840], abs=6e-6)


def test_first_order_is_what_is_left_of_the_matrices_for_small_errors():
    rng = np.random.default_rng(3)
    for _ in range(50):
        scale = 1e-7
        errors = RigidErrors(
            along_mm=scale * rng.normal(size=(3, 3)) * 100.0,
            turn_rad=scale * rng.normal(size=(3, 3)),
            c0y_rad=scale * rng.normal(), b0z_rad=scale * rng.normal(),
            a0z_rad=scale * rng.normal(),
        )  # fmt: skip
        at, cutter = rng.uniform(-500, 500, (2, 3))
        exact = deviation_by_matrices_mm(at, cutter, errors)
        assert deviation_mm(at, cutter, errors) == pytest.approx(exact, abs=1e-9)


def test_abbe():
    # A pitch of 100 µrad of X, 150 mm above the cutter: 0.015 mm (textbook).
    turn = np.zeros((3, 3))
    turn[0, 1] = 100e-6
    errors = RigidErrors(along_mm=np.zeros((3, 3)), turn_rad=turn)
    assert deviation_mm(np.zeros(3), np.array([0, 0, -150.0]), errors)[0] == pytest.approx(-0.015)


def test_places_broadcast():
    at = np.array([AT, 2.0 * AT])
    both = deviation_mm(at, CUTTER, CHECK)
    assert both[0] == pytest.approx(deviation_mm(AT, CUTTER, CHECK))
    assert both[1] == pytest.approx(deviation_mm(2.0 * AT, CUTTER, CHECK))


def test_diagonals_tell_squareness():
    # Worked out for this project: 600 x 400 mm, 0.8 mrad: 721.37646 and 720.84395 mm.
    assert lean_by_diagonals(600.0, 400.0, 721.37646, 720.84395) == pytest.approx(8e-4, rel=1e-4)
    rng = np.random.default_rng(1)
    a, b = rng.uniform(50, 900, (2, 40))
    lean = rng.uniform(-0.02, 0.02, 40)
    up = np.stack([b * lean, b * np.sqrt(1 - lean**2)])
    rising, falling = np.hypot(a + up[0], up[1]), np.hypot(a - up[0], up[1])
    assert lean_by_diagonals(a, b, rising, falling) == pytest.approx(lean, abs=1e-12)
    with pytest.raises(ValueError, match="parallelogram"):
        lean_by_diagonals(1.0, 1.0, 5.0, 1.0)


def test_bow_stands_at_nought_at_both_ends():
    assert bow_mm(np.array([-1.0, 0.0, 0.25, 0.5, 1.0, 2.0]), 0.2) == pytest.approx(
        [0.0, 0.0, 0.15, 0.2, 0.0, 0.0]
    )
