"""How the board stands before the first cut, as a job file says it."""

import struct

import numpy as np
import pytest

from kerfwright.basics import InputErrors
from kerfwright.cutter import read_cutter
from kerfwright.jobs.kept_board import keep_board
from kerfwright.setup import load_job
from kerfwright.stock.field import Field

RACK = {"flat 6 mm": read_cutter("flat 6 mm, 2 flutes")}
JOB = """kerfwright = "job 1"
[board]
{board}
at = "middle"
[zero]
{zero}
[slots]
1 = "flat 6 mm"
"""
PLAIN = 'size = "300 x 200 x 18 mm"\nwood = "hard maple"\ngrain = "30 deg"\nmoisture = "9 %"'
NINE = (
    '[["0.0 mm", "0.2 mm", "0.0 mm"], ["0.1 mm", "0.4 mm", "0.1 mm"], ["0.0 mm", "0.2 mm", "0 mm"]]'
)


@pytest.fixture
def load(tmp_path, machine):
    def load_text(board, zero="", name="second"):
        path = tmp_path / "jobs" / name / "job.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(JOB.format(board=board, zero=zero), encoding="utf-8")
        return load_job(path, RACK, machine)

    return load_text


@pytest.fixture
def first(load, tmp_path):
    """A job whose board is kept: whole but for one tile that is 5 mm lower."""
    setup = load(PLAIN, name="first")
    folder = tmp_path / "jobs" / "first"
    (folder / "first.nc").write_text("G21\nM2\n")
    field = Field.of_board(setup.board, 0.5).with_room(np.array([0]))
    field.height_mm[:] -= 5.0
    keep_board(field, setup.board, folder / "first.nc", None)
    return folder


def told(load, board, zero=""):
    with pytest.raises(InputErrors) as caught:
        load(board, zero)
    return str(caught.value)


def at(setup, x, y):
    return float(setup.board.start.heights(np.array([x]), np.array([y]))[0][0, 0])


def test_thickness_at_four_corners(load):
    grid = '[["18.2 ± 0.1 mm", "18.0 mm"], ["17.8 mm", "18.1 mm"]]'
    setup = load(f'size = "300 x 200 x 18 mm"\nthickness = {grid}')
    assert setup.board.thickness_mm == pytest.approx(18.2)
    assert setup.board_at_mm[2] == pytest.approx(12.0 + 18.2)
    assert at(setup, 0, 200) == pytest.approx(-0.4)
    assert at(setup, 150, 100) == pytest.approx((18.2 + 18.0 + 17.8 + 18.1) / 4 - 18.2)
    assert any("bilinear surface through 4 thickness" in words for words in setup.assumed)
    # Z is touched at the zero of X and Y, here the left front corner: the highest place.
    assert setup.zero_on_board_mm[2] == pytest.approx(0.0)
    assert any("Z was touched at 0, 0 mm" in words for words in setup.assumed)


def test_dial_and_where_z_was_touched(load):
    dial = f'{PLAIN}\nthickness = "18.1 ± 0.1 mm"\ndial = {{ heights = {NINE}, inset = "20 mm" }}'
    setup = load(dial, 'z_at = ["20 mm", "20 mm"]')
    # The middle is the highest here, and thickness is that of the middle.
    assert setup.board.thickness_mm == pytest.approx(18.1, abs=1e-4)
    assert at(setup, 20, 20) == pytest.approx(-0.4, abs=1e-4)
    assert at(setup, 280, 100) == pytest.approx(-0.3, abs=1e-4)
    assert setup.zero_on_board_mm[2] == pytest.approx(-0.4, abs=1e-4)
    deeper = load(dial, 'z = "-2 mm"\nz_at = ["150 mm", "100 mm"]')
    assert deeper.zero_on_board_mm[2] == pytest.approx(-2.0, abs=1e-4)
    table = load(dial, 'z = "table"')
    assert table.zero_on_board_mm[2] == pytest.approx(-table.board.thickness_mm)


def test_a_board_that_an_earlier_job_left(load, first):
    setup = load('left_by = "jobs/first"', 'z_at = ["200 mm", "150 mm"]')
    board = setup.board
    assert (board.length_mm, board.width_mm, board.thickness_mm) == (300.0, 200.0, 18.0)
    assert board.wood.name == "hard maple"
    assert np.degrees(board.grain_rad) == pytest.approx(30.0)
    assert board.moisture_percent == 9.0
    assert at(setup, 10, 10) == -5.0
    assert at(setup, 100, 10) == 0.0
    assert setup.zero_on_board_mm[2] == 0.0
    assert "the board as jobs/first left it" in setup.assumed
    # Where it is not said, Z was touched at the zero of X and Y, on the lower part.
    assert load('left_by = "jobs/first"').zero_on_board_mm[2] == -5.0
    turned = load('left_by = "jobs/first"\nturned = "over X"\nwood = "birch"')
    assert np.degrees(turned.board.grain_rad) == pytest.approx(150.0)
    assert turned.board.wood.name != "hard maple"
    top, beneath = turned.board.start.heights(np.array([10.0, 100.0]), np.array([190.0]))
    assert top.tolist() == [[0.0, 0.0]]
    assert beneath.tolist() == [[-13.0, -18.0]]
    # The setups differ in what a proof is kept by.
    assert repr(turned.board.start) != repr(setup.board.start)


def test_an_earlier_job_that_changed_is_told(load, first):
    (first / "first.nc").write_text("G20\nM2\n")
    words = told(load, 'left_by = "jobs/first"')
    assert "the program of jobs/first has changed since its board was kept" in words
    assert "prove jobs/first again with --keep-board" in words
    (first / "first.nc").write_text("G21\nM2\n")
    job = first / "job.toml"
    job.write_text(job.read_text(encoding="utf-8") + "# thinner\n", encoding="utf-8")
    assert "the job file of jobs/first has changed" in told(load, 'left_by = "jobs/first"')
    (first / "first.nc").unlink()
    assert "the program first.nc of jobs/first is gone" in told(load, 'left_by = "jobs/first"')


def write_stl(tmp_path, corners):
    (tmp_path / "jobs" / "second").mkdir(parents=True)
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *c, 0) for c in corners)
    head = b" " * 80 + struct.pack("<I", len(corners))
    (tmp_path / "jobs" / "second" / "a.stl").write_bytes(head + body)


def test_a_mesh(load, tmp_path):
    write_stl(tmp_path, [[0, 0, 0, 4, 0, 0, 4, 2, 1], [0, 0, 0, 4, 2, 1, 0, 2, 1]])
    setup = load('mesh = "a.stl"\nmesh_unit = "in"', 'z_at = ["50 mm", "50.8 mm"]')
    assert setup.board.length_mm == pytest.approx(101.6)
    assert setup.board.thickness_mm == pytest.approx(25.4)
    assert at(setup, 50.8, 25.4) == pytest.approx(-12.7)
    assert setup.zero_on_board_mm[2] == pytest.approx(0.0, abs=1e-5)
    words = told(load, 'mesh = "a.stl"\nsize = "300 x 200 x 18 mm"')
    assert "is not that of the board it starts from" in words


@pytest.mark.parametrize(
    ("board", "zero", "words"),
    [
        (f'{PLAIN}\nthickness = [["18 mm"]]', "", "no 2 x 2 or 3 x 3 values"),
        (f'{PLAIN}\nthickness = [["18 mm", "1"], ["18 mm", "18 mm"]]', "", "has no unit"),
        (f'{PLAIN}\ndial = {{ heights = {NINE}, inset = "150 mm" }}', "", "not on the board"),
        (f"{PLAIN}\ndial = 3", "", "is no table of readings"),
        (f'{PLAIN}\nmesh = "a.stl"\nleft_by = "jobs/first"', "", "left_by says already"),
        ('left_by = "../elsewhere"', "", "names no job"),
        ('left_by = "jobs/none"', "", "has kept no board"),
        ('left_by = "jobs/none"\nturned = "round"', "", "is no way to turn a board"),
        (f'{PLAIN}\nturned = "over X"', "", "goes with left_by"),
        ('mesh = "none.stl"', "", "cannot be opened"),
        ('mesh = "a.obj"', "", "is no STL file"),
        (PLAIN, 'z_at = "middle"', "is no place on the board"),
    ],
)
def test_mistakes_are_told(load, board, zero, words):
    assert words in told(load, board, zero)


def test_z_where_there_is_no_wood(load, first):
    words = told(load, 'left_by = "jobs/first"', 'z_at = ["400 mm", "20 mm"]')
    assert "z_at" in words
    assert "is not on the board" in words


def test_a_job_cannot_start_from_itself(load, first):
    (first.parent / "second").mkdir(exist_ok=True)
    assert "is this very job" in told(load, 'left_by = "jobs/second"')


def test_a_mesh_that_is_open_where_nobody_sees_it_is_told(load, tmp_path):
    sheet = [[0, 0, 0, 40, 0, 0, 40, 20, 9], [0, 0, 0, 40, 20, 9, 0, 20, 9]]
    write_stl(tmp_path, sheet)
    setup = load('mesh = "a.stl"\nwood = "maple"', 'z_at = ["30 mm", "10 mm"]')
    assert any("mesh is not closed, 4 of its edges are open" in words for words in setup.assumed)


def test_a_mesh_with_a_hole_in_its_top_is_told(load, tmp_path):
    low = [[0, 0, 0, 40, 0, 0, 40, 20, 0], [0, 0, 0, 40, 20, 0, 0, 20, 0]]
    half = [[0, 0, 9, 20, 0, 9, 20, 20, 9], [0, 0, 9, 20, 20, 9, 0, 20, 9]]
    write_stl(tmp_path, low + half)
    words = told(load, 'mesh = "a.stl"\nwood = "maple"')
    assert "8 of its edges are open: beside those from 20 to 20 mm" in words
    assert "remedy: close its holes in the program that made it" in words
    assert "no size" not in words  # the mesh would have given it
