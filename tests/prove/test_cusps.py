"""Cusps between passes found on the path, against formulas and against a fine field."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.machine import Geometry
from kerfwright.physics.cusps import ridge_mm, scallop_mm
from kerfwright.prove.cusps import cusps
from kerfwright.prove.removal import Remover
from kerfwright.prove.run_path import cut_as_run
from kerfwright.stock.field import Field

BALL = "1: ball 3 mm, 2 flutes, flute length 10 mm, stick-out 20 mm, runout 0 mm"
FLAT = "1: flat 6 mm, 2 flutes, flute length 10 mm, stick-out 20 mm, runout 0 mm"
STOCK = "60 x 40 x 12 mm hard maple"


def passes(step, rise=0.0, first=12.0, last=24.0, z=-2.0):
    """To and fro along X, stepping over in Y; the floor rises across the passes."""
    lines = [f"G0 Z5\nG0 X15 Y{first}\nG1 Z{z} F300"]
    for k in range(round((last - first) / step) + 1):
        y = first + k * step
        lines.append(f"G1 Y{y:.5f} Z{z + rise * (y - first):.5f} F900")
        lines.append(f"G1 X{45 if k % 2 == 0 else 15}")
    return "\n".join([*lines, "G0 Z5"])


@pytest.fixture
def told(swept):
    def run(body, cutter, on):
        trajectory, tools, setup, first = swept(body, on=on, cutters=(cutter,), stock=STOCK)
        as_run = cut_as_run(trajectory, tools, setup, on, first, 1)
        line = np.zeros(len(trajectory.move), np.int64)
        return cusps(first, as_run, tools, line, setup, on)

    return run


@pytest.mark.parametrize("step", [0.3, 0.6])
def test_scallops_are_those_of_the_formula(told, machine, step):
    (cusp,) = told(passes(step), BALL, machine)
    # R 1.5 mm: 0.00752 and 0.03031 mm (worked out for this project).
    assert cusp.kind == "scallop"
    assert cusp.spacing_mm == pytest.approx(step, rel=1e-3)
    assert cusp.height.value == pytest.approx({0.3: 0.00752, 0.6: 0.03031}[step], abs=2e-5)
    assert cusp.typical_mm == pytest.approx(cusp.height.value, rel=0.01)
    assert cusp.height.low < cusp.height.value < cusp.height.high


def test_passes_closer_than_cells_are_told_apart(told, machine):
    (cusp,) = told(passes(0.1, last=16.0), BALL, machine)
    assert cusp.spacing_mm == pytest.approx(0.1, rel=0.02)


def test_on_a_slope_the_spacing_counts_along_it(told, machine):
    (cusp,) = told(passes(0.4, rise=-0.5), BALL, machine)
    along = 0.4 * np.hypot(1.0, 0.5)
    assert cusp.spacing_mm == pytest.approx(along, rel=1e-3)
    assert cusp.height.value == pytest.approx(scallop_mm(1.5, along), rel=2e-3)


def test_the_worst_of_uneven_passes_is_found(told, machine):
    body = passes(0.3) + "\n" + passes(0.3, first=24.9, last=34.0)
    (cusp,) = told(body, BALL, machine)
    assert cusp.spacing_mm == pytest.approx(0.9, rel=1e-3)
    assert 23.9 < cusp.spot.y_mm < 25.0
    assert cusp.typical_mm == pytest.approx(0.00752, rel=0.01)


def test_a_pass_above_a_later_one_is_no_neighbour(told, machine):
    body = passes(2.0, z=-1.0) + "\n" + passes(0.3, z=-2.0)
    (cusp,) = told(body, BALL, machine)
    assert cusp.spacing_mm == pytest.approx(0.3, rel=1e-3)


def test_a_fine_field_shows_the_same_cusp(swept):
    """Cells of 0.02 mm over two neighbouring passes; those of 0.25 mm see too little of it."""
    _, _, setup, _ = swept("G0 Z5\nG0 X10", cutters=(BALL,), stock=STOCK)
    cutter = setup.slots[1]
    small = replace(setup.board, length_mm=4.0, width_mm=5.0)
    heights = {}
    for cell in (0.02, 0.25):
        remover = Remover(Field.of_board(small, cell), 1, weighed=False)
        steps = np.array([[-2.0, y, -2.0, 6.0, y, -2.0] for y in (2.1, 2.7)])
        remover.take(steps, np.array([False, False]), 0, cutter)
        height = remover.field.maps()[0]
        between = height[int(2.1 / cell) : int(2.7 / cell) + 1, height.shape[1] // 2]
        heights[cell] = float(between.max() + 2.0)
    assert heights[0.02] == pytest.approx(scallop_mm(1.5, 0.6), rel=0.07)
    assert heights[0.25] < 0.9 * scallop_mm(1.5, 0.6)


def test_a_spindle_that_leans_leaves_ridges(told, machine):
    sure = {key: value for key, value in machine.known.items() if "tram" not in key}
    leaning = replace(machine, geometry=Geometry(tram=(1e-3, 2e-3)), known=sure)
    (cusp,) = told(passes(3.0), FLAT, leaning)
    assert cusp.kind == "ridge"
    # Passes along X: Y's lean is across, X's along.
    assert cusp.height.value == pytest.approx(ridge_mm(6.0, 3.0, 2e-3, 1e-3), rel=1e-3)
    (doubt,) = told(passes(3.0), FLAT, machine)
    assert doubt.height.value == pytest.approx(0.0, abs=1e-9)
    assert 0.003 < doubt.height.high < 0.01
    assert doubt.height.mostly_from == "how the spindle is trammed"


def test_one_pass_leaves_none(told, machine):
    assert told("G0 Z5\nG0 X15 Y20\nG1 Z-1 F300\nG1 X45 F900", BALL, machine) == ()
