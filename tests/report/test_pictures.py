"""The pictures: right colours in the right places, the same bytes each time, never a crash."""

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from PIL import Image

from kerfwright.basics import Estimate, Known, Spot
from kerfwright.fixture import Clamp
from kerfwright.kernels import cutting
from kerfwright.prove import Series
from kerfwright.prove.proof import Groups
from kerfwright.report import draw_board, draw_loads, draw_solid, draw_strip, paper
from kerfwright.report.board_picture import _facts, bands
from kerfwright.report.loads_picture import OVER, chip_limits, side_by_side, slot_words
from kerfwright.report.strip_picture import DOES, NEAR
from kerfwright.stock import by_block
from kerfwright.stock.by_block import worst_by_block

DRAWERS = pytest.mark.parametrize(
    "draw",
    [draw_board, draw_strip, draw_solid, draw_loads],
    ids=["board", "strip", "solid", "loads"],
)


def rgb(colour):
    return tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))


def pixels(path):
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


@DRAWERS
def test_same_bytes_each_time_whatever_the_persons_settings(proof, tmp_path, draw):
    import matplotlib as mpl

    png, svg, again = (tmp_path / name for name in ("a.png", "a.svg", "again.png"))
    draw(proof, png, svg)
    first = svg.read_bytes()
    with mpl.rc_context({"font.size": 30.0, "axes.facecolor": "black", "svg.hashsalt": "x"}):
        draw(proof, svg, again)  # the other one first
        assert mpl.rcParams["font.size"] == 30.0
    assert png.read_bytes() == again.read_bytes()
    assert svg.read_bytes() == first
    assert sorted(tmp_path.iterdir()) == [png, svg, again]
    assert pixels(png).shape[1] == 1200
    root = ElementTree.parse(svg).getroot()
    assert root.tag.endswith("svg")
    assert not [e for e in root.iter() if e.tag.endswith("script")]


@DRAWERS
def test_another_kind_of_file_is_refused(proof, tmp_path, draw):
    with pytest.raises(ValueError, match=r"\.png or \.svg"):
        draw(proof, tmp_path / "a.gif")
    assert not list(tmp_path.iterdir())


def flat_proof(make, **errors):
    """A board cut in four quarters, each with one error, in tolerances of 0.2 mm."""
    setup = make.setup(100.0, 100.0)
    height = np.full((100, 100), -3.0, dtype=np.float32)
    error = np.full((100, 100), np.nan, dtype=np.float32)
    error[:50, :50] = errors.get("front_left", np.nan)
    error[:50, 50:] = errors.get("front_right", np.nan)
    error[50:, :50] = errors.get("back_left", np.nan)
    height[50:, 50:] = errors.get("back_right_height", -3.0)
    spot = Spot(x_mm=1.0, y_mm=1.0, z_mm=0.0)
    verdict = make.verdict(findings=())
    verdict = replace(verdict, ascut=replace(verdict.ascut, proud_spot=spot, shy_spot=spot))
    return make.proof(verdict, setup, 1.0, height_mm=height, error_mm=error)


def test_colours_stand_where_the_error_is(make, tmp_path):
    # 0.5 mm proud is 2.5 tolerances, 0.25 shy 1.25, 0.05 within half of one.
    proof = flat_proof(make, front_left=0.5, front_right=-0.25, back_left=0.05)
    draw_board(proof, tmp_path / "a.png")
    image = pixels(tmp_path / "a.png")
    edges, colours = bands()
    left, top, side = 78, find_board_top(image), 640

    def at(x_share, y_share):
        return tuple(image[top + round((1.0 - y_share) * side), left + round(x_share * side)])

    def band(tolerances):
        return rgb(colours[int(np.searchsorted(edges, tolerances)) - 1])

    assert at(0.3, 0.3) == band(2.5) == rgb(paper.PROUD[2])
    assert at(0.7, 0.3) == band(-1.25) == rgb(paper.SHY[1])
    assert at(0.3, 0.7) == band(0.25) == rgb(paper.FRESH)
    wood = image[top + 10 : top + 300, left + 340 : left + 630].reshape(-1, 3)
    assert (wood == rgb(paper.WOOD)).all(axis=1).mean() > 0.8


def find_board_top(image):
    """Row of the board's upper edge: the first long dark line from the left edge on."""
    dark = (image[:, 90:700].max(axis=2) < 120).mean(axis=1)
    return int(np.flatnonzero(dark > 0.9)[0]) + 1


def test_a_hole_is_a_hole_and_a_skin_left_in_it_is_proud(make, tmp_path):
    proof = flat_proof(make, front_left=0.05, back_right_height=-18.5)
    error = proof.error_mm.copy()
    error[50:75, 50:] = 0.9  # programmed 0.5 mm into the spoil board, cut 0.4 mm short of it
    error[75:, 50:] = 0.1
    draw_board(replace(proof, error_mm=error), tmp_path / "a.png")
    image = pixels(tmp_path / "a.png")
    top = find_board_top(image)
    assert tuple(image[top + 80, 78 + 480]) == rgb(paper.HOLE)
    assert tuple(image[top + 240, 78 + 480]) == rgb(paper.PROUD[3])


def test_one_bad_cell_in_a_big_map_is_seen(make, tmp_path):
    setup = make.setup(310.0, 310.0)
    height = np.full((1240, 1240), -3.0, dtype=np.float32)
    error = np.zeros((1240, 1240), dtype=np.float32)
    error[620, 930] = -1.0
    verdict = make.verdict(findings=())
    proof = make.proof(verdict, setup, 0.25, height_mm=height, error_mm=error)
    draw_board(proof, tmp_path / "a.png")
    image = pixels(tmp_path / "a.png")
    board = image[find_board_top(image) :, 90:700]
    assert (board == rgb(paper.SHY[3])).all(axis=2).any()


@settings(max_examples=60, deadline=None)
@given(
    arrays(
        np.float32,
        st.tuples(st.integers(1, 12), st.integers(1, 12)),
        elements=st.floats(-8.0, 8.0, width=32) | st.just(np.nan),
    ),
    st.integers(1, 5),
)
def test_worst_by_block_is_the_worst(values, block):
    blocks = worst_by_block(values, block)
    for row in range(-(-values.shape[0] // block)):
        for column in range(-(-values.shape[1] // block)):
            part = values[row * block : (row + 1) * block, column * block : (column + 1) * block]
            real = part[~np.isnan(part)]
            if real.size == 0:
                assert np.isnan(blocks[row, column])
            else:
                assert abs(blocks[row, column]) == np.abs(real).max()
                assert blocks[row, column] in real
    assert blocks.shape == (-(-values.shape[0] // block), -(-values.shape[1] // block))


def test_blocks_are_the_same_in_whichever_bands_they_are_looked_at(monkeypatch):
    values = np.random.default_rng(3).normal(size=(53, 31)).astype(np.float32)
    values[values > 1.2] = np.nan
    values[8:17, 4:13] = np.nan  # a block of nothing
    seen = []
    for cells in (1, 31 * 4, 31 * 16, 31 * 53):
        monkeypatch.setattr(by_block, "_BAND_CELLS", cells)
        seen.append([side.tobytes() for side in by_block.extremes_by_block(values, 4)])
    padded = np.pad(values, ((0, 3), (0, 1)), constant_values=np.nan).reshape(14, 4, 8, 4)
    plain = [np.fmax.reduce(padded, axis=(1, 3)), np.fmin.reduce(padded, axis=(1, 3))]
    assert all(one == [side.tobytes() for side in plain] for one in seen)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 600), st.floats(0, 600)), min_size=1, max_size=10))
def test_pins_do_not_cover_one_another(points):
    places = paper.apart(points, 25.0, 0.0, (600.0, 600.0))
    for index, (x, y) in enumerate(places):
        assert 0.0 <= x <= 600.0
        assert 0.0 <= y <= 600.0
        for other in places[:index]:
            assert np.hypot(x - other[0], y - other[1]) >= 25.0 - 1e-9


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 860), max_size=24))
def test_pins_on_the_lane_standside_by_side_in_order(wanted):
    places = side_by_side(wanted, 860.0)
    in_order = [places[i] for i in np.argsort(wanted, kind="stable")]
    assert all(b - a >= 26.0 - 1e-9 for a, b in pairwise(in_order))
    assert all(-1e-9 <= place <= 860.0 + 1e-9 for place in places)
    if len(wanted) == 1:
        assert places == wanted


@DRAWERS
def test_strange_and_hostile_text_is_drawn(make, tmp_path, draw):
    odd = replace(
        make.verdict().findings[0], words="x^{2}$ \\frac <b>&amp; \u6728\u5de5 \x1b[2J " * 60
    )
    verdict = make.verdict(findings=(odd,) * 300, sentence="$\\alpha$ <&> " * 100)
    draw(make.proof(verdict), tmp_path / "a.svg")
    root = ElementTree.parse(tmp_path / "a.svg").getroot()
    assert float(root.get("height").removesuffix("pt")) < 2000


@pytest.mark.parametrize(("length", "width"), [(2440.0, 610.0), (40.0, 900.0), (3.0, 3.0)])
def test_boards_of_any_shape(make, tmp_path, length, width):
    setup = make.setup(length, width)
    proof = make.proof(make.verdict(), setup, cell_mm=min(length, width) / 30)
    draw_board(proof, tmp_path / "a.png")
    assert 300 < pixels(tmp_path / "a.png").shape[0] < 2000


def test_board_with_nothing_cut_and_with_one_cell(make, tmp_path):
    untouched = np.full((3, 3), np.nan, dtype=np.float32)
    height = np.zeros((3, 3), dtype=np.float32)
    nothing = make.verdict(outcome="clear", findings=(), ascut=None)
    draw_board(
        make.proof(nothing, cell_mm=120.0, height_mm=height, error_mm=untouched),
        tmp_path / "a.png",
    )
    one = np.full((1, 1), 0.3, dtype=np.float32)
    draw_board(make.proof(cell_mm=310.0, height_mm=one * -10, error_mm=one), tmp_path / "b.png")
    everywhere = make.proof(cell_mm=310.0, height_mm=one * -10, error_mm=untouched[:1, :1])
    draw_board(everywhere, tmp_path / "c.png")


def test_what_is_noise_is_not_marked_as_most_proud_or_most_shy(make, tmp_path):
    def picture(name, proud_mm, shy_mm):
        told = replace(
            make.verdict().ascut,
            proud=Estimate(value=proud_mm, low=proud_mm, high=proud_mm),
            shy=Estimate(value=shy_mm, low=shy_mm, high=shy_mm),
        )
        proof = make.proof(make.verdict(findings=(), ascut=told))
        draw_board(proof, tmp_path / f"{name}.png", tmp_path / f"{name}.svg")
        return pixels(tmp_path / f"{name}.png")[:, :700], _facts(proof)

    marked, told = picture("marked", 0.006, -0.006)
    bare, told_bare = picture("bare", 0.004, -0.004)
    assert marked.shape == bare.shape
    assert (marked != bare).any()
    assert [fact[0] for fact in told if "most " in fact] == ["▲", "▼"]
    assert [fact[0] for fact in told_bare if "most " in fact] == ["m", "m"]


@pytest.mark.parametrize(
    ("slot", "room_px", "words"),
    [
        (1, 300.0, "cutter 1: 6 mm two-flute"),
        (1, 100.0, "cutter 1"),
        (1, 20.0, "1"),
        (1, 5.0, ""),
        (0, 100.0, "cutter 1"),  # in the spindle from the start
        (7, 300.0, "cutter 7"),  # not in the set-up
    ],
)
def test_a_label_is_shortened_until_it_fits(make, slot, room_px, words):
    assert slot_words(make.setup(), slot, room_px) == words


def test_no_cutter_is_named_where_none_is_in_the_spindle(make):
    assert slot_words(replace(make.setup(), first_slot=None), 0, 300.0) == "no cutter yet"


def series_of(values, slot=None):
    k = len(values)
    values = np.asarray(values, dtype=float)
    return Series(
        time_s=np.arange(1.0, k + 1.0),
        pull_left_x=1.0 - values,
        pull_left_y=1.0 - values,
        pull_left_z=1.0 - values,
        power_w=values * 100,
        deflection_mm=values * 0.1,
        chip_mm=values * 0.1,
        slot=np.zeros(k, dtype=np.int16) if slot is None else np.asarray(slot, dtype=np.int16),
    )


@pytest.mark.parametrize("values", [[], [0.4], [0.0, np.nan, 3.0], np.zeros(50_000)])
def test_loads_of_any_length(make, tmp_path, values):
    slot = np.arange(len(values)) % 300
    draw_loads(make.proof(series=series_of(values, slot)), tmp_path / "a.png")


def test_each_cutter_s_chip_has_limits_of_its_own(make, tmp_path):
    """Of the slots 1 and 2 the limits differ; a chip is over where it is over its own."""
    proof = make.proof()
    thick, thin = chip_limits(proof)
    slot = proof.series.slot
    assert set(thick[slot == 1]) == {0.15}
    assert set(thick[slot == 2]) == {0.05}
    assert set(thin[slot == 2]) == {0.01}
    # A job whose second cutter never cuts has no limit there.
    only = replace(proof, usual_chips={1: proof.usual_chips[1]})
    assert np.isnan(chip_limits(only)[0][slot == 2]).all()
    for name, drawn in (("both", proof), ("one", only), ("none", replace(proof, usual_chips={}))):
        draw_loads(drawn, tmp_path / f"{name}.png")
    over = np.array(rgb(OVER))
    seen = {
        name: (np.abs(pixels(tmp_path / f"{name}.png").astype(int) - over).max(axis=2) < 12).sum()
        for name in ("both", "one", "none")
    }
    # 0.09 mm at most: below the first cutter's 0.15, far above the second's 0.05.
    assert seen["both"] > seen["one"] + 500
    assert seen["one"] == seen["none"]


def test_a_short_peak_among_many_bins_is_seen(make, tmp_path):
    calm, peak = np.full(50_000, 0.1), np.full(50_000, 0.1)
    peak[25_000] = 1.3  # past stall
    for name, values in (("calm", calm), ("peak", peak)):
        draw_loads(make.proof(series=series_of(values)), tmp_path / f"{name}.png")
    over = np.array([0xCF, 0x6A, 0x35])
    near = [
        (np.abs(pixels(tmp_path / f"{name}.png").astype(int) - over).max(axis=2) < 12).sum()
        for name in ("calm", "peak")
    ]
    assert near[1] > near[0] + 20


def test_the_library_is_loaded_only_when_a_picture_is_drawn():
    code = "import sys, kerfwright.report; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_clamps_stand_where_they_are(make, tmp_path):
    def picture(*clamps):
        proof = make.proof()
        placed = tuple(
            Clamp(
                name=name,
                at_mm=at,
                size_mm=(24.0, 16.0),
                height_mm=Known(value=12.0, kind="measured", ref="rule"),
            )
            for name, at in clamps
        )
        draw_board(
            replace(proof, setup=replace(proof.setup, clamps=placed)), tmp_path / "board.png"
        )
        return pixels(tmp_path / "board.png")

    bare = picture()
    assert np.array_equal(picture(("far", (-500.0, 10.0))), bare)
    changed = (picture(("a $x \u202e", (20.0, 10.0))) != bare).any(axis=2)
    rows, columns = np.nonzero(changed)
    # 24 by 16 mm to scale, but for the width of the pencil and the name.
    assert np.ptp(columns) / np.ptp(rows) == pytest.approx(1.5, rel=0.15)
    over = (picture(("over the edge", (-30.0, 10.0))) != bare).any(axis=2)
    assert not over.any()
    assert (picture(("edge", (-12.0, 10.0))) != bare).any()


def test_the_strip_shows_what_the_machine_does_when(make, tmp_path):
    """A quarter rapid, a quarter feed through air, a quarter in the wood, a quarter still."""
    column = np.zeros((3, cutting.COLUMNS), np.float32)
    column[:, cutting.TIME] = (0.0, 15.0, 30.0)
    column[:, cutting.DURATION] = 15.0
    column[2, cutting.TAKEN] = 5.0
    nothing = np.zeros((3, 3), np.float32)
    groups = Groups(
        column=column, motion_mm=nothing, give_mm=nothing, line=np.arange(3), byte=np.arange(3),
        slot=np.ones(3, np.int16), rapid=np.array([True, False, False]),
    )  # fmt: skip
    time_s = np.arange(1.0, 61.0)
    # Half of the power that it has for a while, and all of it: the lane below gets darker.
    power = np.where(time_s > 45.0, 2.0, np.where(time_s > 30.0, 0.55, 0.0)) * 100.0
    full = np.ones(60)
    series = Series(
        time_s=time_s, pull_left_x=full, pull_left_y=full, pull_left_z=full, power_w=power,
        deflection_mm=0.0 * full, chip_mm=0.0 * full, slot=np.ones(60, np.int16),
    )  # fmt: skip
    verdict = make.verdict(findings=())
    verdict = replace(
        verdict,
        totals=replace(verdict.totals, time_s=60.0),
        margins=(replace(verdict.margins[0], name="power", unit="W", limit=100.0),),
    )
    proof = make.proof(verdict, make.setup(100.0, 100.0), 1.0, series=series, groups=groups)
    draw_strip(proof, tmp_path / "a.png")
    image = pixels(tmp_path / "a.png")
    colours = {name: rgb(colour) for name, colour in DOES}
    left, width = 118, 1200 - 118 - 40

    def rows_of(colour, at):
        return np.flatnonzero((image[:, left + round(at * width)] == colour).all(axis=1))

    order = ("rapid", "feeds through air", "takes wood")
    for number, name in enumerate(order):
        at = 0.25 * number + 0.125
        assert len(rows_of(colours[name], at)) > 60, name
        for other in order:
            if other != name:
                # The key has it too, so only the strip's own rows count.
                rows = rows_of(colours[name], at)
                assert not set(rows_of(colours[other], at)) & set(range(rows[0], rows[-1]))
    assert len(rows_of(colours["takes wood"], 0.875)) < 20
    assert len(rows_of(rgb(NEAR[1][1]), 0.6)) > 20
    assert len(rows_of(rgb(NEAR[-1][1]), 0.9)) > 20
