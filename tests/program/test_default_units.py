"""A machine that is set to inches reads a program that names no units in inches, and says so."""

import pytest

from kerfwright.program import WORKSHOP, StartState, parse_program


def read(body, inches):
    text = f"G90 G17\n{body}\nM2\n".encode()
    return parse_program(text, "job.nc", WORKSHOP, StartState(inches=inches))


@pytest.mark.parametrize(("inches", "mm"), [(False, 2.0), (True, 50.8)])
def test_units_that_the_program_does_not_name(inches, mm):
    program = read("G0 X2", inches)
    assert program.end_mm[0, 0] == pytest.approx(mm)
    assert any("neither G20 nor G21" in note for note in program.notes)


@pytest.mark.parametrize("inches", [False, True])
def test_units_that_it_names_hold(inches):
    program = read("G21 G0 X2\nG20 G0 X1", inches)
    assert program.end_mm[:, 0].tolist() == pytest.approx([2.0, 25.4])
