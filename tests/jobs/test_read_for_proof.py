"""What the set-up tells the reading of a program that is to be proved."""

import pytest

from kerfwright.basics.progress import silent
from kerfwright.jobs.prove_errand import Errand
from kerfwright.jobs.prove_program import prove_program, read
from kerfwright.machine import load_machine
from kerfwright.setup import setup_from_words
from kerfwright.workshop import demo_folder

BOARD = "120 x 80 x 18 mm birch ply"
OUTLINE = "G0 X10 Y10\nG1 Z-1 F300\nG41 G1 X20 Y20 F900\nX60\nG40 X70 Y10\nM2\n"


@pytest.fixture(scope="module")
def machine():
    return load_machine(demo_folder() / "machine.toml")


def program_of(tmp_path, machine, text, cutters):
    path = tmp_path / "outline.nc"
    path.write_text("G21 G90 G17\n" + text)
    return read(path, machine, setup_from_words(BOARD, cutters, machine), silent)


@pytest.mark.parametrize(
    ("change", "cutters", "radius_mm"),
    [
        ("T1 M6\n", ["1: flat 6 mm"], 3.0),
        ("T2 M6\n", ["1: flat 6 mm", "2: flat 4 mm"], 2.0),
        ("", ["1: flat 6 mm"], 3.0),  # in the spindle from the start
    ],
)
def test_the_cutter_keeps_its_radius_beside_the_outline(
    tmp_path, machine, change, cutters, radius_mm
):
    """G41: the cutter is on the left of the outline (NISTIR 6556, 3.5.10)."""
    program = program_of(tmp_path, machine, change + OUTLINE, cutters)
    along = program.end_mm[program.end_mm[:, 0] >= 60.0 - 1e-9]
    assert along[0, :2] == pytest.approx([60.0, 20.0 + radius_mm])


def test_what_the_reading_assumed_reaches_the_verdict(tmp_path):
    path = tmp_path / "bare.nc"
    path.write_text("S12000 M3 T1 M6\nG1 X20 F600\nM2\n")
    errand = Errand(
        program=path, machine="demo", stock=BOARD, cutters=("1: flat 6 mm, 2 flutes",), cell_mm=1.0
    )
    assumed = prove_program(errand).verdict.assumed
    assert "neither G20 nor G21 comes before the first move: read as mm" in assumed
