"""How fine the cells are: by board and path, told, and the same on every computer."""

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from kerfwright.app.prove_command import _cell_mm
from kerfwright.basics import InputError
from kerfwright.prove.cells import LOADS_MM, MOST_FINE_CELLS, TooManyCells, _Reach, cells_for
from kerfwright.setup import setup_from_words

BALL, FLAT = "1: ball 3 mm, 2 flutes", "1: flat 6 mm, 2 flutes"


def job(machine, stock, points, cutter=FLAT):
    """A path through some points as the choice sees it: corners, lengths, one cutter."""
    point = np.array(points, float)
    many = len(point) - 1
    path = SimpleNamespace(point_mm=point, length_mm=np.linalg.norm(np.diff(point, axis=0), axis=1))
    tools = SimpleNamespace(kind=np.zeros(many, np.int64), slot=np.ones(many, np.int64))
    return path, tools, setup_from_words(stock, [cutter], machine)


def rows(x0, y0, side, apart, z=-3.0):
    y = np.repeat(np.arange(y0, y0 + side + 1e-9, apart), 2)
    x = np.where(np.arange(len(y)) // 2 % 2 == np.arange(len(y)) % 2, x0, x0 + side)
    return np.stack([x, y, np.full(len(y), z)], axis=1)


def test_a_small_job_gets_the_finest(machine):
    path = [(10, 10, 5), (10, 10, -3), (60, 10, -3), (60, 10, 5)]
    cells = cells_for(*job(machine, "120 x 80 x 18 mm birch ply", path), None)
    assert cells.cell_mm == 0.05
    assert "little enough for the finest" in cells.why


def test_a_relief_on_a_full_sheet_gets_the_verdict_cells(machine):
    path = rows(400.0, 150.0, 300.0, 0.3)
    cells = cells_for(*job(machine, "1220 x 610 x 18 mm MDF", path, BALL), None)
    assert cells.cell_mm == 0.1
    # 303 x 303 mm, and up to a square more on each side.
    found = float(cells.why.split("touch ")[1].split(" cm")[0])
    assert found == pytest.approx(30.3**2, rel=0.02)
    assert "0.05 mm" in cells.why
    whole = rows(2.0, 2.0, 606.0, 3.0)
    whole[:, 0] *= 2.0
    cells = cells_for(*job(machine, "1220 x 610 x 18 mm MDF", whole), None)
    assert cells.cell_mm == 0.25


def test_a_huge_board_gets_coarser_cells_and_still_runs(machine):
    path = rows(10.0, 10.0, 9_900.0, 20.0)
    cells = cells_for(
        *job(machine, "9950 x 9950 x 18 mm MDF", path, "1: flat 30 mm, 2 flutes"), None
    )
    assert cells.cell_mm == 2.0
    assert "too many to hold" in cells.why
    with pytest.raises(TooManyCells, match="million cells\n  remedy: leave --cell out"):
        cells_for(*job(machine, "9950 x 9950 x 18 mm MDF", path), 0.1)


def test_what_is_in_the_air_or_beside_the_board_does_not_count(machine):
    stock = "1220 x 610 x 18 mm MDF"
    air = [(0, 0, 5), (1200, 600, 5), (1200, 600, -1), (1205, 600, -1)]
    reach = _Reach.of(*job(machine, stock, air))
    # A plunge and 5 mm of way, 3 mm around.
    assert reach.area_mm2 == pytest.approx(11 * 6, rel=0.6)
    beside = [(0, -50, 5), (0, -50, -3), (1200, -50, -3)]
    assert _Reach.of(*job(machine, stock, beside)).area_mm2 == 0.0


def test_a_long_diagonal_touches_a_band_and_no_rectangle(machine):
    path = [(5, 5, -2), (1215, 605, -2)]
    reach = _Reach.of(*job(machine, "1220 x 610 x 18 mm MDF", path))
    length = float(np.hypot(1210, 600))
    assert length * 6 < reach.area_mm2 < 2.0 * length * 6
    assert reach.cells(0.1) < 0.1 * 12_200 * 6_100
    assert reach.cells(0.05) < MOST_FINE_CELLS * 2


def test_tiles_counted_are_those_that_the_sweep_keeps(machine, swept):
    body = "G0 Z5\nG0 X20 Y30\nG1 Z-4 F300\nG1 X80 Y40 F1500\nG2 X60 Y20 I-20\nG0 Z5"
    trajectory, tools, setup, out = swept(body, stock="300 x 200 x 18 mm MDF")
    reach = _Reach.of(trajectory, tools, setup)
    kept = out.field.height_mm.size
    assert kept <= reach.cells(0.25) <= 1.5 * kept


SIDE_CUT = "G0 Z5\nG0 X-10 Y30\nG1 Z-4 F300\nG1 X110 F1500\nG1 Y31.2\nG1 X-10\nG0 Z5"


@pytest.mark.parametrize("cell", [0.7, 1.0, 2.0])
def test_cells_too_coarse_for_loads_are_told_with_the_verdict(proved, cell):
    assumed = proved(SIDE_CUT, cell=cell).verdict.assumed
    assert [words for words in assumed if words.startswith("cells of")] == [
        f"cells of {cell:g} mm: the wood gone is roughly right, but force and power of a cut beside"
        " an edge, and how far they push the cutter, may be told at half or less; do not go by"
        " them, but prove it in parts or with --cell 0.5"
    ]


def test_cells_fine_enough_for_loads_are_not_told(proved):
    assert LOADS_MM == 0.5  # held to closed forms in tests/kernels/test_engagement.py
    assert not any("cells of" in words for words in proved(SIDE_CUT, cell=0.5).verdict.assumed)


@pytest.mark.parametrize(
    ("said", "cell"),
    [("look", 0.25), ("Verdict", 0.1), ("fine", 0.05), ("0.3", 0.3), ("0.3 mm", 0.3), (None, None)],
)
def test_words_for_cells(said, cell):
    assert _cell_mm(said) == cell


def test_no_word_and_no_number_is_told():
    with pytest.raises(
        InputError, match=r'"tiny" is no side of a cell\n  remedy: write one of look'
    ):
        _cell_mm("tiny")


def test_every_square_that_the_cutter_comes_to_is_touched_and_few_others(machine):
    rng = np.random.default_rng(11)
    short = np.cumsum(rng.uniform(-0.8, 0.8, (300, 2)), axis=0) + 40.0
    jumps = rng.uniform(5.0, 195.0, (12, 2))  # long ways across, clear of one another and the edge
    path = np.concatenate([short, jumps])
    places = [(float(x), float(y), -2.0) for x, y in path]
    reach = _Reach.of(*job(machine, "200 x 200 x 18 mm MDF", places))
    assert reach.side_mm == 1.0
    share = np.linspace(0.0, 1.0, 2000)[:, None]
    along = np.concatenate([a + share * (b - a) for a, b in pairwise(path)])
    for dx, dy in ((0, 0), (2.99, 0), (0, 2.99), (-2.99, 0), (0, -2.99)):  # 6 mm wide
        x, y = (along + (dx, dy)).T
        on = (x >= 0) & (y >= 0) & (x < 200) & (y < 200)
        assert reach.touched[y[on].astype(int), x[on].astype(int)].all()
    # None is farther off than the cutter, a piece of way and a square are wide.
    touched = np.argwhere(reach.touched)[:, ::-1] + 0.5
    some = touched[:: max(len(touched) // 400, 1)]
    far = np.abs(some[:, None] - along[None, ::20]).max(axis=2).min(axis=1)
    assert far.max() <= 3.0 + 4.0 + 1.0
