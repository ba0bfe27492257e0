"""G64 P: the path tolerance of the program, where the machine's corners go by one."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.program import WORKSHOP, parse_program
from kerfwright.trajectory import plan
from kerfwright.trajectory.tolerance import largest_tolerance_mm, path_tolerances_mm

OWN_MM = 0.05
ZIGZAG = (
    "G21 G90 G17 F2000\nG1 X20\nG64 P0.4 Y20\nX40\nG61 Y40\nX60\nG64\nY60\nX80\nG20 G64 P0.01\n"
    "Y80 F80\nX100\nM2\n"
)


@pytest.fixture
def rounding(machine):
    controller = replace(
        machine.controller, corner_rule="path tolerance", corner_tolerance_mm=OWN_MM
    )
    return replace(machine, controller=controller)


@pytest.fixture
def program():
    return parse_program(ZIGZAG.encode(), "job.nc", WORKSHOP)


def test_each_move_has_the_tolerance_in_force(rounding, program):
    found = path_tolerances_mm(program, rounding)
    assert found.tolist() == pytest.approx(
        [OWN_MM, 0.4, 0.4, 0.4, 0.4, OWN_MM, OWN_MM, 0.254, 0.254]
    )
    assert largest_tolerance_mm(program, rounding) == 0.4


@pytest.mark.parametrize("rule", ["axis speed step", "exact stop"])
def test_other_machines_do_not_heed_it(machine, program, rule):
    other = replace(machine, controller=replace(machine.controller, corner_rule=rule))
    assert not path_tolerances_mm(program, other).any()
    assert largest_tolerance_mm(program, other) == 0.0


def test_nothing_moves(rounding):
    assert largest_tolerance_mm(parse_program(b"M2\n", "a"), rounding) == 0.0


def test_the_path_leaves_a_corner_by_as_much(rounding):
    """Of a right-angled corner the path is farthest at the middle of its blend."""
    body = "G1 X40 F2400\nY40\nX80\nM2\n"

    def off_mm(head):
        program = parse_program(f"G21 G90\n{head}{body}".encode(), "a", WORKSHOP)
        trajectory = plan(program, rounding)
        times = np.linspace(0.0, trajectory.time_s, 20_001)
        places = np.array([trajectory.at_time(t)[0] for t in times])
        return float(np.linalg.norm(places - [40.0, 0.0, 0.0], axis=1).min())

    own, wide = off_mm(""), off_mm("G64 P0.5\n")
    assert own == pytest.approx(OWN_MM, rel=0.05)
    assert wide == pytest.approx(0.5, rel=0.05)
    assert off_mm("G64 P0.5\nG64\n") == own
    assert off_mm("G64 P0.5\nG61\n") == pytest.approx(0.0, abs=0.01)
