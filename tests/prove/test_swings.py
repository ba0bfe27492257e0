"""Sudden changes: speed that jumps at corners, carriages that swing after a change of pull."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from kerfwright.physics.inertia import swing_mm
from kerfwright.physics.steppers import largest_speed_jump_rad_per_s

SQUARE = "G0 X10 Y10 Z2\nG1 Z-1 F300\nG1 X60 F3600\nY50\nX10\nY10\nG0 Z5"


def stepping(machine, step_mm_per_s):
    controller = replace(
        machine.controller,
        corner_rule="axis speed step",
        corner_speed_step_mm_per_s=(step_mm_per_s, step_mm_per_s, 1.0),
    )
    return replace(machine, controller=controller)


def codes(proof):
    return [finding.code for finding in proof.verdict.findings]


def test_ringing_after_a_step_of_acceleration():
    # Worked out for this project: 25 Hz, 1 m/s²: 40.5 µm standing, 81 µm at the peak.
    assert swing_mm(1000.0, 25.0) == pytest.approx(0.0811, rel=1e-3)
    # A change over one whole period leaves nothing but the standing part.
    assert swing_mm(1000.0, 25.0, 0.04) == pytest.approx(1000.0 / (50 * pi) ** 2, rel=1e-12)
    with pytest.raises(ValueError, match="above 0"):
        swing_mm(1000.0, 0.0)


def test_largest_jump_that_a_motor_follows():
    # Worked out for this project: 1.3435 N m, 1.2506e-4 kg m²: 29.32 rad/s free, 17.15 half loaded.
    free, loaded = largest_speed_jump_rad_per_s(np.array([0.0, 671.75]), 1343.5, 125.06)
    assert free == pytest.approx(29.32, abs=0.005)
    assert loaded == pytest.approx(17.15, abs=0.005)


def test_a_jump_beyond_the_motors_is_a_caution_with_a_smaller_step(proved, machine):
    proof = proved(SQUARE, on=stepping(machine, 60.0))
    found = [f for f in proof.verdict.findings if f.code == "jump of speed"]
    assert found
    first = found[0]
    assert first.severity == "caution"
    assert first.likelihood is not None
    assert first.value.value == pytest.approx(60.0, rel=0.02)  # the feed, in a right-angled corner
    assert first.limit < first.value.value
    smaller = float(first.remedies[0].changes[0].new.split()[0])
    assert "jump of speed" not in codes(proved(SQUARE, on=stepping(machine, smaller)))


def test_a_jump_that_any_motor_follows_is_not_told(proved, machine):
    assert "jump of speed" not in codes(proved(SQUARE, on=stepping(machine, 2.0)))


def test_a_soft_machine_swings_and_a_stiff_one_does_not(proved, machine):
    def soft(factor):
        return replace(machine, compliance_mm_per_n=machine.compliance_mm_per_n * factor)

    assert "swings" not in codes(proved(SQUARE, on=machine))
    found = [f for f in proved(SQUARE, on=soft(200.0)).verdict.findings if f.code == "swings"]
    assert [f.severity for f in found] == ["note"] * len(found) != []
    assert found[0].value.value > 0.03
