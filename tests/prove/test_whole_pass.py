"""A whole pass over a program against sums in closed form, and against itself turned."""

from dataclasses import replace
from math import cos, pi, radians, sin, tan

import numpy as np
import pytest

from kerfwright.kernels import cutting
from kerfwright.loads import edge_law_for
from kerfwright.program import parse_program
from kerfwright.prove.sweep import sweep, tooling
from kerfwright.setup import setup_from_words
from kerfwright.trajectory import plan

CUTTER = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm, runout {} mm"
START = "G21 G90 G17\nT1 M6\nS18000 M3\n"
RADIUS, DEPTH, REV_PER_S = 3.0, 4.0, 300.0


@pytest.fixture
def cut(machine):
    """First pass of a program, a spindle that never slows and an axis of no give unless asked."""

    def run(
        body, stock="100 x 60 x 18 mm MDF", runout=0.0, grain=None, on=machine, cell=0.25,
        cutter=CUTTER,
    ):  # fmt: skip
        strong = replace(on.spindle, shaft_power_w=1e9)
        on = replace(on, spindle=strong, compliance_mm_per_n=on.compliance_mm_per_n * 1e-9)
        setup = setup_from_words(stock, [cutter.format(runout)], on)
        if grain is not None:
            setup = replace(setup, board=replace(setup.board, grain_rad=grain))
        program = parse_program((START + body + "\nM2\n").encode(), "job.nc")
        trajectory = plan(program, on)
        tools = tooling(program, trajectory, setup, on)
        return setup, sweep(trajectory, tools, setup, on, cell, 1).column.astype(np.float64)

    return run


def test_energy_of_a_whole_pass(cut):
    # P = K_c MRR + K_e z a_p v_c ψ / 2π over slots from edge to edge and the runs between them.
    # Entering and leaving a straight edge, the arc adds up to π times the board's length.
    body = "G0 Z5\nG0 X-10 Y15\nG1 Z-4 F900\nG1 X110 F1800\nG1 Y40\nG1 X-10 F900\nG0 Z5"
    setup, column = cut(body)
    law = edge_law_for(setup.board, setup.slots[1])
    chip, rub = law.chip_n_per_mm2.mean(), law.edge_n_per_mm.mean()
    volume = 2 * 100.0 * 6.0 * DEPTH
    assert column[:, cutting.TAKEN].sum() == pytest.approx(volume, rel=1e-3)
    edge_speed = 2 * pi * RADIUS * REV_PER_S
    seconds = 100.0 / 30.0 + 100.0 / 15.0
    by_hand = chip * volume + rub * 2 * DEPTH * edge_speed * 0.5 * seconds  # [N mm]
    energy = (column[:, cutting.POWER] * column[:, cutting.DURATION]).sum()
    assert energy == pytest.approx(by_hand / 1000.0, rel=0.005)


def test_runout_keeps_the_chips_work_and_lessens_the_rubbing(cut):
    # Runout 0.05 and 0.05 mm a tooth: one flute alone where f cos ψ < 0.05, everywhere but ahead.
    body = "G0 Z5\nG0 X20 Y30\nG1 Z-4 F300\nG1 X80 F1800"
    setup, true = cut(body)
    _, out = cut(body, runout=0.05)
    steady = (true[:, cutting.X] > 40) & (true[:, cutting.X] < 60) & (true[:, cutting.DEPTH] > 3.9)
    law = edge_law_for(setup.board, setup.slots[1])
    chip = law.chip_n_per_mm2.mean() * 6.0 * DEPTH * 30.0 / 1000.0
    rub = true[steady, cutting.POWER].mean() - chip
    assert out[steady, cutting.POWER].mean() == pytest.approx(chip + rub / 2, rel=0.01)
    assert (out[steady, cutting.LARGEST] > true[steady, cutting.LARGEST]).all()
    assert out[steady, cutting.THICKEST] == pytest.approx(0.1, rel=0.01)


def steady_force(cut, angle, grain, depth, cell, runout, cutter):
    """Mean over 20 mm through the middle: in the plane as a complex number, along Z, largest."""
    c, s = cos(angle), sin(angle)
    a, b = (50 - 20 * c, 30 - 20 * s), (50 + 20 * c, 30 + 20 * s)
    body = f"G0 Z5\nG0 X{a[0]:.4f} Y{a[1]:.4f}\nG1 Z-{depth} F300\nG1 X{b[0]:.4f} Y{b[1]:.4f} F1800"
    _, column = cut(
        body, stock="100 x 60 x 18 mm hard maple", grain=grain, runout=runout, cell=cell,
        cutter=cutter,
    )  # fmt: skip
    middle = np.hypot(column[:, cutting.X] - 50, column[:, cutting.Y] - 30) < 10
    some = column[middle & (column[:, cutting.DEPTH] > 0.97 * depth)]
    plane = some[:, cutting.FORCE_X] + 1j * some[:, cutting.FORCE_Y]
    return plane.mean(), some[:, cutting.FORCE_Z].mean(), some[:, cutting.LARGEST].mean()


@pytest.mark.parametrize("degrees", [30.0, 67.0, 180.0])
def test_forces_turn_with_path_and_grain(cut, degrees):
    # The grid stays where it is, so what differs is its error: within 1.5 % of the force.
    turn, how = radians(degrees), (DEPTH, 0.25, 0.02, CUTTER)
    first, second = steady_force(cut, 0.0, 0.2, *how), steady_force(cut, turn, 0.2 + turn, *how)
    assert abs(second[0] / first[0] - np.exp(1j * turn)) < 0.015
    assert second[1] == pytest.approx(first[1], rel=0.015)
    assert second[2] == pytest.approx(first[2], rel=0.02)


@pytest.mark.parametrize(
    ("cutter", "depth", "cell", "mean_band", "largest_band"),
    [
        pytest.param("ball 6 mm", 2.0, 0.25, 0.007, 0.03, id="ball, 0.25 mm"),
        pytest.param("ball 6 mm", 2.0, 0.1, 0.002, 0.01, id="ball, 0.1 mm"),
        # 101 degrees alone: elsewhere the largest is within 0.6 %.
        pytest.param("v 60 deg 8 mm", 3.0, 0.25, 0.018, 0.095, id="V, 0.25 mm"),
        pytest.param("v 60 deg 8 mm", 3.0, 0.1, 0.005, 0.015, id="V, 0.1 mm"),
    ],
)
def test_forces_of_round_and_pointed_cutters_turn_too(
    cut, cutter, depth, cell, mean_band, largest_band
):
    how = (depth, cell, 0.0, f"1: {cutter}, 2 flutes, runout {{}} mm")
    first = steady_force(cut, 0.0, 0.2, *how)
    for degrees in (15.0, 67.0, 101.0, 233.0):
        turn = radians(degrees)
        second = steady_force(cut, turn, 0.2 + turn, *how)
        assert abs(second[0] / first[0] - np.exp(1j * turn)) < mean_band
        assert second[2] == pytest.approx(first[2], rel=largest_band)


def test_a_helix_pulls_by_its_share_of_the_tangential(cut):
    # Back force over cutting force 0.43 to 0.78 tan(helix) for maple (printed ratios); 0.6 taken:
    # 0.35 at 30 degrees.
    _, column = cut("G0 Z5\nG0 X20 Y30\nG1 Z-4 F300\nG1 X80 F1800")
    steady = (column[:, cutting.X] > 40) & (column[:, cutting.X] < 60)
    steady &= column[:, cutting.DEPTH] > 3.9
    tangential = column[steady, cutting.POWER] * 1000.0 / (2 * pi * RADIUS * REV_PER_S)
    share = -column[steady, cutting.FORCE_Z] / tangential
    assert share == pytest.approx(0.6 * tan(radians(30.0)), rel=0.01)
    assert share.mean() == pytest.approx(0.35, abs=0.005)
