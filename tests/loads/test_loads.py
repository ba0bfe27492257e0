"""The axes as the kernels see them, and the give between the points of the machine's grid."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.kernels.cutting import demand_torque
from kerfwright.loads import axis_numbers, compliance_at, edge_law_for
from kerfwright.machine import load_machine
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
