"""A machine with round numbers, for set-ups to stand on."""

import numpy as np
import pytest

from kerfwright.machine import AxisModel, Controller, MachineModel, Spindle


def axis(name):
    return AxisModel(
        name=name,
        travel_mm=600.0,
        lead_mm=5.0,
        positions_per_rev=1600,
        motors=1,
        mass_kg=10.0,
        friction_n=10.0,
        raising_mm=1.0,
        lowering_mm=0.5,
        drag_torque_nmm=20.0,
        inertia_kg_mm2=50.0,
        curve_rev_per_s=np.array([0.0, 20.0]),
        curve_torque_nmm=np.array([1000.0, 400.0]),
        top_speed_mm_per_s=80.0,
        rapid_mm_per_s=60.0,
        acceleration_mm_per_s2=300.0,
        stiffness_n_per_mm=2000.0,
        play_mm=0.05,
    )


@pytest.fixture
def machine():
    model = MachineModel(
        name="round numbers",
        sha256="0" * 64,
        x=axis("x"),
        y=axis("y"),
        z=axis("z"),
        spindle=Spindle(
            kind="variable frequency",
            lowest_rev_per_s=100.0,
            highest_rev_per_s=400.0,
            shaft_power_w=800.0,
        ),
        controller=Controller(
            corner_rule="exact stop",
            corner_tolerance_mm=0.0,
            corner_speed_step_mm_per_s=(0.0, 0.0, 0.0),
            cutter_change="stops and Z is set again",
            cutter_change_s=60.0,
        ),
        table_mm=(700.0, 800.0),
        table_at_mm=(-50.0, -100.0),
        spoil_board_mm=12.0,
        nose_height_mm=120.0,
        compliance_at_mm=(np.array([0.0]), np.array([0.0]), np.array([0.0])),
        compliance_mm_per_n=np.zeros((1, 1, 1, 3, 3)),
        known={},
        assumed=(),
        drawn=lambda rng, many: (model,) * many,
    )
    return model
