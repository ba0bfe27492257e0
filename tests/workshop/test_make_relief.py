"""Big reliefs for measuring: as many lines as asked for, evenly over the square."""

import numpy as np
import pytest

import make_relief
from kerfwright.program import parse_program
from kerfwright.stock import read_stock


@pytest.mark.parametrize("lines", [100, 1001, 20_000])
def test_as_many_lines_as_asked_for(lines):
    text = make_relief.relief_program(lines)
    assert text.count(b"\n") == lines
    assert text == make_relief.relief_program(lines)


def test_it_reads_and_covers_the_square():
    text = make_relief.relief_program(20_000)
    program = parse_program(text, "relief.nc")
    assert program.notes == ()
    ends = program.end_mm[program.feed_mm_per_s > 0]
    assert np.ptp(ends[:, 0]) == pytest.approx(300.0)
    assert np.ptp(ends[:, 1]) == pytest.approx(300.0, abs=2.0)
    height = make_relief.relief_height(ends[:, 0] - 5.0, ends[:, 1] - 5.0)
    assert ends[:, 2] == pytest.approx(height, abs=0.02)  # places are rounded to 0.001 mm


def test_it_fits_its_board():
    board = read_stock(make_relief.BOARD).board
    assert board.length_mm == make_relief.SIZE + 2 * make_relief.MARGIN


@pytest.mark.parametrize("lines", [0, 99, 10**9])
def test_out_of_range(lines):
    with pytest.raises(ValueError, match="lines is not from 100"):
        make_relief.relief_program(lines)
