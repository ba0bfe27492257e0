"""The axes as the kernels see them, and the give between the points of the machine's grid."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.kernels.cutting import demand_torque
from kerfwright.loads import axis_numbers, compliance_at, edge_law_for
from kerfwright.machine import load_machine
from kerfwright.machine.results import holds_at_rest_n
from kerfwright.setup import setup_from_words
from kerfwright.workshop import demo_folder


@pytest.fixture(scope="module")
def machine():
    return load_machine(demo_folder() / "machine.toml")


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("number", range(3))
def test_kernel_demand_equals_the_axis_own(machine, number, seed):
    rng = np.random.default_rng(seed)
    axis, numbers = machine.axes[number], axis_numbers(machine)[0][number]
    for _ in range(20):
        force, speed, acceleration = rng.normal(0, (80, 40, 300))
        kernel = demand_torque(numbers, speed, acceleration, force)
        assert kernel == pytest.approx(abs(axis.demand_nmm(force, speed, acceleration)), rel=1e-9)


@pytest.mark.parametrize("lowering", [-0.8, -1e-3, 0.8])
def test_an_axis_that_stands_is_held_by_friction_and_drag_first(machine, lowering):
    # What pushes it, less friction, turns the screw by the lowering torque for each newton; the
    # screw's drag takes its part of that, and the motors share the rest. [N, N mm]
    axis = replace(machine.z, lowering_mm=lowering, friction_n=12.0, drag_torque_nmm=9.0, motors=2)
    assert axis.weight_n == pytest.approx(41.188, abs=1e-3)
    numbers = axis_numbers(replace(machine, z=axis))[0][2]
    for force in (-60.0, 0.0, 29.5, 41.0, 53.0, 120.0):
        spare = max(abs(axis.weight_n - force) - 12.0, 0.0)
        expected = max(max(-lowering, 0.0) * spare - 9.0, 0.0) / 2.0
        assert demand_torque(numbers, 0.0, 0.0, force) == pytest.approx(expected, abs=1e-9)
        assert axis.demand_nmm(force, 0.0, 0.0) == pytest.approx(-expected, abs=1e-9)
    # The least of what moving ever so slowly either way asks, where that is a push at all.
    for force in (-60.0, 0.0, 120.0):
        slowly = axis.demand_nmm(force, np.array([-1e-9, 1e-9]), 0.0)
        held = np.abs(axis.demand_nmm(force, 0.0, 0.0))
        assert held == pytest.approx(np.abs(slowly).min() if (slowly < 0).any() else 0.0)


@pytest.mark.parametrize("number", [0, 1])
def test_what_holds_at_rest_asks_for_the_idle_current(machine, number):
    axis = machine.axes[number]
    asked = axis.demand_nmm(holds_at_rest_n(axis) * np.array([-1.0, 1.0]), 0.0, 0.0)
    assert -asked == pytest.approx(axis.idle_share * axis.holding_torque_nmm)


@pytest.mark.parametrize("number", range(3))
def test_from_rest_an_axis_asks_for_what_it_begins_with(machine, number):
    axis, numbers = machine.axes[number], axis_numbers(machine)[0][number]
    for force in (-50.0, 0.0, 30.0):
        for acceleration in (-400.0, -1.0, 0.0, 1.0, 400.0):
            kernel = demand_torque(numbers, 0.0, acceleration, force)
            assert kernel == pytest.approx(abs(axis.demand_nmm(force, 0.0, acceleration)))
            if acceleration:
                begun = demand_torque(numbers, 1e-9 * acceleration, acceleration, force)
                assert kernel == pytest.approx(begun)


def test_compliance_between_grid_points_is_linear_and_held_at_the_ends(machine):
    xs, ys, zs = machine.compliance_at_mm
    on = compliance_at(machine, xs[:1], ys[-1:], zs[:1])[0]
    assert on == pytest.approx(machine.compliance_mm_per_n[0, -1, 0])
    a, b = machine.compliance_mm_per_n[0, 0, 0], machine.compliance_mm_per_n[1, 0, 0]
    middle = compliance_at(machine, np.array([0.25 * xs[0] + 0.75 * xs[1]]), ys[:1], zs[:1])[0]
    assert middle == pytest.approx(0.25 * a + 0.75 * b)
    beyond = compliance_at(machine, np.array([1e6]), ys[:1], zs[:1])[0]
    assert beyond == pytest.approx(machine.compliance_mm_per_n[-1, 0, 0])


def test_compliance_is_symmetric_and_gives_no_energy_away(machine):
    rng = np.random.default_rng(1)
    at = [rng.uniform(grid[0], grid[-1], 50) for grid in machine.compliance_at_mm]
    many = compliance_at(machine, *at)
    assert many == pytest.approx(np.swapaxes(many, 1, 2), abs=1e-9)
    assert (np.linalg.eigvalsh(many) > 0).all()


def test_law_turns_with_the_board(machine):
    along = setup_from_words("90 x 90 x 18 mm hard maple", ["1: flat 6 mm, 2 flutes"], machine)
    across = replace(along.board, grain_rad=np.pi / 2)
    first = edge_law_for(along.board, along.slots[1])
    second = edge_law_for(across, along.slots[1])
    # A quarter turn of the fibres is six bins of fifteen degrees.
    assert second.chip_n_per_mm2 == pytest.approx(np.roll(first.chip_n_per_mm2, 6, axis=1))
    assert second.edge_n_per_mm == pytest.approx(np.roll(first.edge_n_per_mm, 6, axis=1))


def test_panels_know_no_grain(machine):
    mdf = setup_from_words("90 x 90 x 18 mm MDF", ["1: flat 6 mm, 2 flutes"], machine)
    law = edge_law_for(mdf.board, mdf.slots[1])
    assert np.ptp(law.chip_n_per_mm2) == 0.0
