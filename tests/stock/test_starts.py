"""Boards that are not simply level and whole: their heights, and no wood lost or made."""

import struct
import zipfile
from math import pi

import numpy as np
import pytest

from kerfwright.basics import InputError
from kerfwright.cutter import Cutter, read_cutter
from kerfwright.formats.stl import read_stl
from kerfwright.kernels.mesh import highest, highest_reference
from kerfwright.prove.removal import Remover
from kerfwright.stock import Board, Wood
from kerfwright.stock.blank import BlankError, blank_of
from kerfwright.stock.field import Field
from kerfwright.stock.left_board import read_left, write_left
from kerfwright.stock.surface import surface_through

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
SIZE = (60.0, 40.0, 12.0)
BALL = Cutter(
    name="ball", shape="ball", diameter_mm=6.0, flutes=2, flute_length_mm=25.0,
    shank_diameter_mm=6.0, stick_out_mm=30.0,
)  # fmt: skip
T_SLOT = read_cutter("t-slot 10 mm, flute length 3 mm, neck 4 mm")


def board(start=None, size=SIZE):
    length, width, thickness = size
    return Board(
        length_mm=length, width_mm=width, thickness_mm=thickness, wood=WOOD, start=start
    )  # fmt: skip


def box(low, high):
    """Twelve triangles."""
    x, y, z = ([low[axis], high[axis]] for axis in range(3))
    quads = [
        [(0, 0, 0), (0, 1, 0), (1, 1, 0), (1, 0, 0)], [(0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)],
        [(0, 0, 0), (1, 0, 0), (1, 0, 1), (0, 0, 1)], [(0, 1, 0), (0, 1, 1), (1, 1, 1), (1, 1, 0)],
        [(0, 0, 0), (0, 0, 1), (0, 1, 1), (0, 1, 0)], [(1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 0, 1)],
    ]  # fmt: skip
    out = []
    for a, b, c, d in quads:
        corners = [[x[i], y[j], z[k]] for i, j, k in (a, b, c, d)]
        out += [[corners[0], corners[1], corners[2]], [corners[0], corners[2], corners[3]]]
    return np.array(out, float)


def write_binary(path, corners):
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *c.ravel().tolist(), 0) for c in corners)
    path.write_bytes(b"\0" * 80 + struct.pack("<I", len(corners)) + body)


def write_text(path, corners):
    lines = ["solid blank"]
    for triangle in corners:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += [f"vertex {x:.6e} {y:.6e} {z:.6e}" for x, y, z in triangle]
        lines += ["endloop", "endfacet"]
    path.write_text("\n".join([*lines, "endsolid blank"]))


def a_walk(seed, many=120):
    rng = np.random.default_rng(seed)
    points = np.array([30.0, 20.0, -3.0]) + np.cumsum(
        rng.normal(0, 1, (many, 3)) * [2, 1.5, 0.6], 0
    )
    return np.hstack([points[:-1], points[1:]])


def cut(field, steps=None, tool=BALL):
    """The field after some steps, and what they took. [mm³]"""
    steps = a_walk(3) if steps is None else steps
    remover = Remover(field, 1, weighed=False)
    follows = np.append(False, (steps[1:, :3] == steps[:-1, 3:]).all(axis=1))
    taken = remover.take(steps, follows, 0, tool)
    remover.close()
    return remover.field, float(taken.volume.sum(dtype=float)) * field.cell_mm**2


def left(tmp_path, field, over="", size=SIZE):
    write_left(tmp_path / "left.board", field, size, {"job": "jobs/first"})
    return read_left(tmp_path / "left.board", over)


def cupped():
    heights = [[0.0, -0.4, 0.1], [0.2, -0.6, 0.0], [0.3, -0.2, 0.25]]
    return surface_through(heights, 60.0, 40.0, 5.0, "")[0]


def wedge_and_block():
    top = [[[0, 0, 0], [60, 0, 0], [60, 40, 12]], [[0, 0, 0], [60, 40, 12], [0, 40, 12]]]
    return blank_of(np.concatenate([np.array(top, float), box((10, 5, 0), (25, 15, 9))]), "")


@pytest.fixture(params=["level", "measured", "mesh", "left", "left again", "over x", "over y"])
def any_start(request, tmp_path):
    if request.param == "level":
        return None
    if request.param == "measured":
        return cupped()
    if request.param == "mesh":
        return wedge_and_block()
    # Deep enough that the second side breaks through into the first.
    first = a_walk(5) - [0, 0, 5, 0, 0, 5]
    field, _ = cut(Field.of_board(board(), 0.25), first)
    over = {"over x": "x", "over y": "y"}.get(request.param, "")
    start = left(tmp_path, field, over)
    if request.param == "left again":
        field, _ = cut(Field.of_board(board(start), 0.25), a_walk(6))
        start = left(tmp_path, field)
    return start


@pytest.mark.parametrize("tool", [BALL, T_SLOT], ids=["ball", "t-slot"])
@pytest.mark.parametrize("cell", [0.25, 0.4])
def test_what_is_taken_is_what_is_missing(any_start, cell, tool):
    field = Field.of_board(board(any_start), cell)
    before = field.wood_mm3()
    after, taken = cut(field, a_walk(8) - [0, 0, 4, 0, 0, 4], tool)
    assert taken > 200.0
    assert before - after.wood_mm3() == pytest.approx(taken, rel=1e-7)


def test_weighed_cells_keep_the_balance_too(any_start):
    fresh = Field.of_board(board(any_start), 0.25)
    steps = a_walk(8) - [0, 0, 4, 0, 0, 4]
    remover = Remover(fresh, 1)
    follows = np.append(False, (steps[1:, :3] == steps[:-1, 3:]).all(axis=1))
    taken = float(remover.take(steps, follows, 0, BALL).volume.sum(dtype=float))
    remover.close()
    before = fresh.with_room(np.flatnonzero(remover.field.place >= 0))
    place = before.place[np.flatnonzero(remover.field.place >= 0)]
    there = remover.field.place[remover.field.place >= 0]
    gone = before.height_mm[place].sum(dtype=float) - remover.mean_mm[there].sum(dtype=float)
    assert gone == pytest.approx(taken, rel=1e-6)


@pytest.mark.parametrize(
    "words", ["ball 6 mm", "flat 4 mm", "dovetail 14 deg 12 mm, flute length 8 mm"]
)
@pytest.mark.parametrize("weighed", [True, False])
def test_heights_and_volumes_are_the_same_where_no_step_is_kept(any_start, words, weighed):
    steps, tool = a_walk(8) - [0, 0, 4, 0, 0, 4], read_cutter(words)
    fields, volumes = [], []
    for dated in (True, False):
        fresh = Field.of_board(board(any_start), 0.25)
        remover = Remover(fresh, 2, weighed=weighed, dated=dated)
        for a in (0, 60):
            part = steps[a : a + 60]
            taken = remover.take(part, np.arange(a, a + len(part)) > 0, a, tool)
            volumes.append(taken.volume.copy())
        remover.close()
        fields.append(remover.field)
    assert np.array_equal(fields[0].heights(), fields[1].heights())
    assert np.array_equal(fields[0].spans, fields[1].spans)
    assert np.array_equal(volumes[0], volumes[2])
    assert np.array_equal(volumes[1], volumes[3])
    assert len(fields[0].made_by) == len(fields[0].height_mm)
    assert len(fields[1].made_by) == len(fields[1].through_at) == 0


def test_through_cells_are_open_from_either_side(tmp_path):
    pocket = np.array([[20.0, 20.0, -8.0, 40.0, 20.0, -8.0]])
    field, first = cut(Field.of_board(board(), 0.25), pocket)
    turned = left(tmp_path, field, "x")
    fresh = Field.of_board(board(turned), 0.25)
    assert fresh.wood_mm3() == pytest.approx(60 * 40 * 12 - first, rel=1e-8)
    after, second = cut(fresh, pocket)  # the same place from the other side: 4 mm in common
    height, made_by, through = after.maps()
    hole = height <= -12.0
    assert hole.sum() > 1000
    assert ((through >= 0) == hole).all()
    assert (made_by[hole] >= 0).all()
    # A round groove from either side, both to 8 of 12 mm: half of the overlap is already gone.
    assert second < first
    assert after.wood_mm3() == pytest.approx(60 * 40 * 12 - first - second, rel=1e-8)


def test_turning_twice_is_the_board_again(tmp_path):
    field, _ = cut(Field.of_board(board(), 0.25))
    once = Field.of_board(board(left(tmp_path, field, "y")), 0.25)
    twice = Field.of_board(board(left(tmp_path, once, "y")), 0.25)
    assert np.abs(twice.maps()[0] - field.maps()[0]).max() < 2e-6
    over_x = Field.of_board(board(left(tmp_path, field, "x")), 0.25)
    # From the other side it looks whole, and its underside is the top, front to back.
    assert (over_x.maps()[0] == 0.0).all()
    assert np.abs(over_x.undersides() + 12.0 + field.maps()[0][::-1]).max() < 2e-6


def test_going_on_from_a_left_board_is_cutting_without_a_pause(tmp_path):
    first, second = a_walk(3), a_walk(4)
    field, one = cut(Field.of_board(board(), 0.25), first)
    resumed, two = cut(Field.of_board(board(left(tmp_path, field)), 0.25), second)
    both, whole = cut(Field.of_board(board(), 0.25), np.vstack([first, second]))
    assert np.array_equal(resumed.maps()[0], both.maps()[0])
    assert one + two == pytest.approx(whole, rel=1e-6)


def test_another_cell_takes_the_nearest_height(tmp_path):
    field, _ = cut(Field.of_board(board(), 0.25))
    start = left(tmp_path, field)
    fine = Field.of_board(board(start), 0.125).maps()[0]
    assert np.array_equal(fine, np.kron(field.maps()[0], np.ones((2, 2), np.float32)))
    coarse = Field.of_board(board(start), 0.75).maps()[0]
    assert np.array_equal(coarse[:53], field.maps()[0][1::3, 1::3])  # the 54th hangs over


def test_single_cells_are_those_of_the_maps(any_start):
    field, _ = cut(Field.of_board(board(any_start), 0.25))
    height, made_by, _ = field.maps()
    rng = np.random.default_rng(1)
    row, column = rng.integers(0, field.rows, 3000), rng.integers(0, field.columns, 3000)
    if not field.hollow:
        assert np.array_equal(field.at(row, column), height[row, column])
    assert np.array_equal(field.made_at(row, column), made_by[row, column])


def test_measured_points_lie_on_the_surface():
    heights = [[0.0, 0.3, 0.1], [0.2, 0.6, 0.0], [0.3, 0.2, 0.5]]
    surface, highest_mm = surface_through(heights, 60.0, 40.0, 5.0, "")
    x, y = np.array([5.0, 30.0, 55.0]), np.array([5.0, 20.0, 35.0])
    assert surface.heights(x, y)[0] == pytest.approx(np.array(heights) - highest_mm, abs=1e-12)
    grid = surface.heights(np.linspace(0, 60, 777), np.linspace(0, 40, 555))[0]
    assert grid.max() == pytest.approx(0.0, abs=1e-5)
    # A board that is cupped across Y: a parabola, its volume by Simpson's rule, exact for those.
    cup = [[0.0] * 3, [-0.8] * 3, [0.0] * 3]
    field = Field.of_board(board(surface_through(cup, 60.0, 40.0, 0.0, "")[0]), 0.25)
    assert field.wood_mm3() == pytest.approx(60 * 40 * (12 - 0.8 * 2 / 3), rel=1e-6)
    corners = [[1.0, 0.0], [0.5, 0.25]]
    twist = surface_through(corners, 60.0, 40.0, 0.0, "")[0]
    assert twist.heights(np.array([30.0]), np.array([20.0]))[0][0, 0] == pytest.approx(1.75 / 4 - 1)


@pytest.mark.parametrize("seed", range(6))
def test_triangles_from_above_against_the_definition(seed):
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-3, 13, (40, 3, 3))
    corners[:5, 1] = corners[:5, 0]  # no area
    # Corners and edges that run through cells' centres.
    corners[5:20, :, :2] = np.round(corners[5:20, :, :2] * 2) / 2
    fast, slow = (np.full((20, 24), -np.inf) for _ in range(2))
    highest(corners, 0.25, 0.25, 0.5, fast)
    highest_reference(corners, 0.25, 0.25, 0.5, slow)
    both = np.isfinite(fast) & np.isfinite(slow)
    assert fast[both] == pytest.approx(slow[both], abs=1e-6)
    assert (np.isfinite(fast) != np.isfinite(slow)).sum() == 0


def test_blanks_of_known_volume():
    # A wedge has half of its box. A cone's volume is a third of its cylinder's; this one has 200
    # sides, whose plan is that of the regular polygon.
    wedge = blank_of(
        np.array(
            [[[0, 0, 0], [60, 0, 0], [60, 40, 12]], [[0, 0, 0], [60, 40, 12], [0, 40, 12]]], float
        ),
        "",
    )
    assert wedge.size_mm == SIZE
    assert Field.of_board(board(wedge), 0.1).wood_mm3() == pytest.approx(60 * 40 * 6, rel=1e-6)
    turn = np.linspace(0, 2 * pi, 201)
    rim = np.stack([20 + 20 * np.cos(turn), 20 + 20 * np.sin(turn), 0 * turn], axis=1)
    tip = np.tile([20.0, 20.0, 12.0], (200, 1))
    cone = blank_of(np.stack([rim[:-1], rim[1:], tip], axis=1), "")
    found = Field.of_board(board(cone, (40.0, 40.0, 12.0)), 0.1).wood_mm3()
    polygon = 0.5 * 200 * 20**2 * np.sin(2 * pi / 200)
    assert found == pytest.approx(polygon * 12 / 3, rel=1e-4)


def test_no_wood_beside_a_blank_is_cut():
    field = Field.of_board(board(wedge_and_block()), 0.25)
    assert field.maps()[0].max() <= 0.0
    away = blank_of(
        np.concatenate([box((0, 0, 0), (20, 40, 12)), box((50, 0, 0), (60, 40, 12))]), ""
    )
    between = np.array([[24.0, 5.0, -6.0, 46.0, 35.0, -6.0]])
    assert cut(Field.of_board(board(away), 0.25), between)[1] == 0.0


@pytest.mark.parametrize("write", [write_binary, write_text])
def test_stl_both_ways(tmp_path, write):
    corners = box((1, 2, 3), (61, 42, 15))
    write(tmp_path / "a.stl", corners)
    assert read_stl(tmp_path / "a.stl") == pytest.approx(corners, abs=1e-5)
    assert blank_of(read_stl(tmp_path / "a.stl"), "").size_mm == pytest.approx(SIZE, abs=1e-5)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "is no STL file"),
        (b"solid a\nvertex 1 2\nendsolid", "a corner cannot be read"),
        (b"solid a\nvertex 1 2 3\nvertex 1 2 3\n", "three of them"),
        (b"solid a\nendsolid", "holds no triangle"),
        (b"solid a\n" + b"vertex 1 2 3e99\n" * 3, "nowhere on a table"),
        (b"\0" * 80 + struct.pack("<I", 4_000_000_000) + b"\0" * 50, "is no STL file"),
        (b"\0" * 80 + struct.pack("<I", 1) + b"\xff" * 50, "nowhere on a table"),
        (b"PK\3\4" * 60, "is no STL file"),
    ],
)
def test_broken_stl_is_told(tmp_path, data, told):
    (tmp_path / "a.stl").write_bytes(data)
    with pytest.raises(InputError, match=told):
        read_stl(tmp_path / "a.stl")


def test_meshes_that_are_no_blank():
    flat = box((0, 0, 0), (60, 40, 0))
    for corners in (
        flat,
        box((0, 0, 0), (6e4, 40, 1)),
        np.repeat(box((0, 0, 0), (1, 1, 1)), 600, 0),
    ):
        with pytest.raises(BlankError):
            blank_of(corners, "")


def broken(tmp_path, change):
    field, _ = cut(Field.of_board(board(), 0.5))
    path = tmp_path / "left.board"
    write_left(path, field, SIZE, {})
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts = change(parts)
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return path


@pytest.mark.parametrize(
    "change",
    [
        lambda parts: {**parts, "height": parts["height"][:-1]},
        lambda parts: {**parts, "height": parts["height"] + b"\0" * 1000},
        lambda parts: {**parts, "height": b"\x7f" * len(parts["height"])},
        lambda parts: {**parts, "tiles": b"\xff" * len(parts["tiles"])},
        lambda parts: {k: v for k, v in parts.items() if k != "tiles"},
        lambda parts: {**parts, "board.json": b"{}"},
        lambda parts: {**parts, "board.json": b"[" * 90_000},
        lambda parts: {**parts, "board.json": parts["board.json"].replace(b"60.0", b"1e9")},
        lambda parts: {**parts, "board.json": b" " * 200_000},
    ],
)
def test_a_broken_left_board_is_told(tmp_path, change):
    with pytest.raises(InputError, match="is broken"):
        read_left(broken(tmp_path, change))


def test_a_cut_short_or_newer_left_board_is_told(tmp_path):
    path = broken(tmp_path, lambda parts: {
        **parts, "board.json": parts["board.json"].replace(b"board 2", b"board 3")
    })  # fmt: skip
    with pytest.raises(InputError, match='is "board 3", and "board 2" is read here'):
        read_left(path)
    path.write_bytes(path.read_bytes()[:500])
    with pytest.raises(InputError, match="is broken"):
        read_left(path)
    with pytest.raises(InputError, match=r"kept no board\n  remedy: prove that job again with"):
        read_left(tmp_path / "none.board")


@pytest.mark.parametrize("seed", range(3))
def test_any_part_of_the_maps_is_what_stands_at_its_cells(any_start, seed):
    field, _ = cut(Field.of_board(board(any_start), 0.15), a_walk(seed))
    rng = np.random.default_rng(seed)
    for _ in range(8):
        first, end = np.sort(rng.choice(field.rows + 1, 2, replace=False)).tolist()
        left, right = np.sort(rng.choice(field.columns + 1, 2, replace=False)).tolist()
        row, column = (part.ravel() for part in np.mgrid[first:end, left:right])
        span, shape = (first, end, left, right), (end - first, right - left)
        assert np.array_equal(field.makers(*span), field.made_at(row, column).reshape(shape))
        if not field.hollow:
            assert np.array_equal(field.heights(*span), field.at(row, column).reshape(shape))
