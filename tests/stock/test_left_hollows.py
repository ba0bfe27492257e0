"""A board that an earlier job undercut: the next one finds just the wood that is left."""

import json
import zipfile

import numpy as np
import pytest

from kerfwright.basics import InputError
from kerfwright.cutter import read_cutter
from kerfwright.prove.removal import Remover
from kerfwright.stock import Board, Wood, left_board
from kerfwright.stock.field import Field
from kerfwright.stock.left_board import read_left, write_left

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
SIZE = (60.0, 40.0, 12.0)
DOVETAIL = read_cutter("dovetail 14 deg 12 mm, flute length 8 mm")
T_SLOT = read_cutter("t-slot 10 mm, flute length 3 mm, neck 4 mm")
FLAT = read_cutter("flat 4 mm")
#: Through the board from left to right, the widest part under wood that stays.
ACROSS = np.array([[-12.0, 20.0, -7.0, 72.0, 20.0, -7.0]])
#: Its flank reaches into tiles whose top it leaves whole: they begin at 32 mm.
ASIDE = ACROSS + [0.0, 9.9, 0.0, 0.0, 9.9, 0.0]
#: In from the left and out again, so deep that the board's underside opens.
THROUGH = np.array(
    [[-12.0, 20.0, -12.5, 30.0, 20.0, -12.5], [30.0, 20.0, -12.5, -12.0, 20.0, -12.5]]
)
#: Criss-cross, up and down: up to four spans of wood above one another.
POINTS = np.random.default_rng(2).uniform([0.0, 0.0, -13.0], [60.0, 40.0, -2.0], (40, 3))
WALK = np.hstack([POINTS[:-1], POINTS[1:]])
WAYS = pytest.mark.parametrize(
    ("tool", "steps"),
    [(DOVETAIL, ACROSS), (T_SLOT, ACROSS), (T_SLOT, ASIDE), (T_SLOT, THROUGH), (T_SLOT, WALK)],
    ids=["dovetail", "t-slot", "t-slot aside", "t-slot through the underside", "t-slot to and fro"],
)  # fmt: skip


def board(start=None):
    return Board(length_mm=60.0, width_mm=40.0, thickness_mm=12.0, wood=WOOD, start=start)


def fresh(start=None, cell=0.25):
    return Field.of_board(board(start), cell)


def cut(field, tool, steps, weighed=False):
    """The field after some steps, and what they took. [mm³]"""
    remover = Remover(field, 1, weighed=weighed)
    taken = remover.take(steps, np.zeros(len(steps), bool), 0, tool)
    remover.close()
    return remover.field, float(taken.volume.sum(dtype=float)) * field.cell_mm**2


def left(tmp_path, field, over=""):
    write_left(tmp_path / "left.board", field, SIZE, {"job": "jobs/first"})
    return read_left(tmp_path / "left.board", over)


def turned(steps):
    """The same path on the other side of a board turned over about X, both ends of the cutter."""
    return steps * [1, -1, 1, 1, -1, 1] + [0, 40, 0, 0, 40, 0]


@WAYS
@pytest.mark.parametrize("weighed", [True, False])
def test_the_same_cut_again_takes_nothing(tmp_path, tool, steps, weighed):
    once, first = cut(fresh(), tool, steps)
    assert first > 800.0
    again, second = cut(fresh(left(tmp_path, once)), tool, steps, weighed)
    assert second == 0.0
    assert again.wood_mm3() == pytest.approx(once.wood_mm3(), rel=1e-9)


@WAYS
@pytest.mark.parametrize("over", ["", "x", "y"])
def test_no_wood_is_lost_or_made_by_keeping_it(tmp_path, tool, steps, over):
    field, _ = cut(fresh(), tool, steps)
    kept = fresh(left(tmp_path, field, over))
    assert kept.wood_mm3() == pytest.approx(field.wood_mm3(), rel=1e-7)
    # Kept again before anything is cut, and once more turned back.
    back = fresh(left(tmp_path, kept, over))
    assert back.wood_mm3() == pytest.approx(field.wood_mm3(), rel=1e-7)
    assert np.abs(back.heights() - field.heights()).max() < 2e-6


@WAYS
def test_going_on_is_cutting_without_a_pause(tmp_path, tool, steps):
    groove = np.array([[30.0, 5.0, -9.0, 30.0, 35.0, -9.0]])
    once, one = cut(fresh(), tool, steps)
    resumed, two = cut(fresh(left(tmp_path, once)), FLAT, groove)
    both, rest = cut(once, FLAT, groove)
    assert two == pytest.approx(rest, rel=1e-6)
    assert np.array_equal(resumed.heights(), both.heights())
    assert resumed.wood_mm3() == pytest.approx(60 * 40 * 12 - one - two, rel=1e-7)


@pytest.mark.parametrize("over", ["x", "y"])
def test_from_the_other_side_a_groove_finds_the_hollow(tmp_path, over):
    """A T-slot 10 mm wide, from 7 to 4 mm under the top, leaves 5 mm beneath and 4 mm above."""
    field, _ = cut(fresh(), T_SLOT, ACROSS)
    start = left(tmp_path, field, over)
    # Beside the neck, where wood stands above and beneath.
    spans = start.spans(np.array([10.0]), np.array([16.5]))[0, 0]
    assert spans[:2] == pytest.approx(np.array([[-5.0, 0.0], [-12.0, -8.0]]), abs=1e-5)
    before = fresh(start)
    after, taken = cut(before, FLAT, np.array([[15.0, 16.5, -8.0, 45.0, 16.5, -8.0]]))
    # 30 mm long and two half rounds, 5 mm of wood; beside the T-slot's flank 8 mm.
    assert before.wood_mm3() - after.wood_mm3() == pytest.approx(taken, rel=1e-6)
    assert taken < 0.75 * 8.0 * (30 * 4 + np.pi * 4)


def test_another_cell_takes_the_nearest_column(tmp_path):
    field, _ = cut(fresh(), T_SLOT, ACROSS)
    start = left(tmp_path, field)
    assert fresh(start, 0.125).wood_mm3() == pytest.approx(field.wood_mm3(), rel=1e-9)
    coarse = fresh(start, 0.75)
    _, again = cut(coarse, T_SLOT, ACROSS)
    assert again < 0.03 * 60 * 10 * 7  # half a cell at either flank


def test_a_board_without_hollows_keeps_none(tmp_path):
    field, _ = cut(fresh(), FLAT, ACROSS)
    start = left(tmp_path, field)
    assert not start.undercut
    assert start.spans(np.array([10.0]), np.array([16.5])) is None
    assert not len(cut(fresh(start), FLAT, ACROSS)[0].spans)


def test_a_board_that_an_earlier_version_kept_is_read_and_told(tmp_path):
    """It says nothing of hollows, so what they were counts as wood."""
    field, _ = cut(fresh(), T_SLOT, ACROSS)
    path = broken(tmp_path, field, lambda parts: {
        **{name: data for name, data in parts.items() if name not in ("hollows", "spans")},
        "board.json": parts["board.json"].replace(b"board 2", b"board 1"),
    })  # fmt: skip
    start = read_left(path)
    assert not start.undercut
    assert start.words == (
        "the board as jobs/first left it; an earlier version kept it: where a cutter undercut it,"
        " it counts as whole"
    )


def broken(tmp_path, field, change):
    path = tmp_path / "left.board"
    write_left(path, field, SIZE, {"job": "jobs/first"})
    with zipfile.ZipFile(path) as archive:
        parts = change({name: archive.read(name) for name in archive.namelist()})
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return path


def spans_with(parts, change):
    spans = np.frombuffer(parts["spans"], "<f4").reshape(-1, 4, 2).copy()
    change(spans)
    return {**parts, "spans": spans.tobytes()}


def hollows_with(parts, change):
    hollows = np.frombuffer(parts["hollows"], "<i8").copy()
    change(hollows)
    return {**parts, "hollows": hollows.tobytes()}


def facts_with(parts, **facts):
    said = json.loads(parts["board.json"]) | facts
    return {**parts, "board.json": json.dumps(said).encode()}


def put(where, value):
    return lambda array: array.__setitem__(where, value)


@pytest.mark.parametrize(
    "change",
    [
        lambda parts: {**parts, "spans": parts["spans"][:-4]},
        lambda parts: {name: data for name, data in parts.items() if name != "hollows"},
        lambda parts: facts_with(parts, hollow_cells=10**15),
        lambda parts: facts_with(parts, hollow_cells=-1),
        lambda parts: facts_with(parts, hollow_cells=0),
        lambda parts: hollows_with(parts, put(0, -1)),
        lambda parts: hollows_with(parts, put(-1, 10**12)),
        lambda parts: hollows_with(parts, put(1, 0)),
        lambda parts: spans_with(parts, put((0, 0, 0), np.nan)),
        lambda parts: spans_with(parts, put((0, 1, 0), -40.0)),
        lambda parts: spans_with(parts, put((0, 0, 1), 1.0)),
        lambda parts: spans_with(parts, put((0, 0), -1.0)),  # nothing on top
        lambda parts: spans_with(parts, put((0, 1, 1), 0.0)),  # one through the other
        lambda parts: spans_with(parts, put((0, 3), (-12.0, -11.0))),  # behind an empty one
        lambda parts: spans_with(parts, put((0, 0, 1), -0.5)),  # not as high as its cell
    ],
)
def test_broken_hollows_are_told(tmp_path, change):
    field, _ = cut(fresh(), T_SLOT, ACROSS)
    with pytest.raises(InputError, match="is broken"):
        read_left(broken(tmp_path, field, change))


def test_more_hollows_than_a_file_holds_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr(left_board, "_MOST_HOLLOWS", 100)
    field, _ = cut(fresh(), T_SLOT, ACROSS)
    with pytest.raises(InputError, match=r"more undercut cells .*\n  remedy: .*--cell"):
        write_left(tmp_path / "left.board", field, SIZE, {})
    assert not (tmp_path / "left.board").exists()
