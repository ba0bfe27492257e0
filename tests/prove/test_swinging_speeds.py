"""A band of speeds in which a motor swings: guessed, or in the machine's description."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.kernels import cutting
from kerfwright.machine import Change, answered
from kerfwright.workshop import demo_folder

OUT = "\nG0 Z5"


def codes(proof):
    return [finding.code for finding in proof.verdict.findings]


@pytest.mark.slow
def test_a_band_that_was_tried_is_judged_by_the_pull_alone(proved, machine):
    lead = machine.x.lead_mm
    body = f"G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\nF{60 * 6 * lead:.0f}\n" + "G1 X80\nG1 X20\n" * 3 + OUT
    at = "axes.x.motor.swings"

    def found(curve=1.0, **swings):
        x = replace(machine.x, curve_torque_nmm=machine.x.curve_torque_nmm * 0.25 * curve)
        band = {"from": 5.5, "to": 6.5, **swings} if swings else {}
        values = {**machine.values, **{f"{at}_{key}": value for key, value in band.items()}}
        on = replace(machine, x=x, values=values)
        return codes(proved(body, on=replace(on, drawn=lambda rng, many: (on,) * many)))

    assert "motor in its swinging speeds" in found()
    assert "motor in its swinging speeds" not in found(lose=0.3)
    assert "motor in its swinging speeds" not in found(lose=0.3, tried_to=7.0)
    assert "motor in its swinging speeds" in found(lose=0.3, tried_to=4.0)


def test_a_band_in_the_machine_s_description_takes_pull_from_a_proof(proved, machine):
    """Half of the pull is lost at 4 turns a second, where the program runs: half of it is left."""
    lead = machine.x.lead_mm
    body = f"G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\nF{60 * 4 * lead:.0f}\n" + "G1 X80\nG1 X20\n" + OUT
    text = (demo_folder() / "machine.toml").read_text(encoding="utf-8")
    band = {"from": "3.5 rev/s", "to": "4.5 rev/s", "lose": "50 %"}
    changes = [Change(path=f"axes.x.motor.swings_{key}", typed=word) for key, word in band.items()]
    swinging = answered(text, changes, "machine.toml")[1]
    used = []
    for on in (machine, swinging):
        groups = proved(body, on=on).groups
        turns = np.abs(groups.motion_mm[:, 0]) / groups.column[:, cutting.DURATION] / lead
        there = np.abs(turns - 4.0) < 0.01
        assert there.sum() > 10
        used.append(1.0 - groups.column[there, cutting.PULL_X])
    assert used[1] == pytest.approx(2.0 * used[0], rel=0.03)
