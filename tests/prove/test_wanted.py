"""Wanted sizes: the right one is taken, and it moves with the wood as the tables say."""

from dataclasses import replace
from math import cos, radians, sin

import pytest

from kerfwright.basics import Known
from kerfwright.report import describe
from kerfwright.setup.wanted import Climate, Wanted
from kerfwright.stock import find_wood, movement_of

from .test_parts import CUTTER, PLATE


def wanted(name, meant, within=0.2, **where):
    return Wanted(name=name, meant_mm=meant, low_mm=meant - within, high_mm=meant + within, **where)


def exactly(percent):
    return Known(value=percent, kind="measured", ref="meter", u=0.0)


@pytest.fixture
def plate(proved):
    """The plate of 60 x 36 mm with a hole of 16 mm, proved with what a job asks for."""

    def run(asks, grain="along X", climate=None):
        def change(setup):
            return replace(setup, below_board_mm=1.0, wanted=asks, climate=climate)

        stock = f"90 x 70 x 6 mm hard maple, grain {grain}"
        return proved(PLATE, stock=stock, cutters=(CUTTER,), cell=1.0, change=change).verdict

    return run


def test_the_size_that_is_meant_is_taken(plate):
    asks = (
        wanted("long", 60.0),
        wanted("hole", 16.0),
        wanted("by its place", 14.0, near_mm=(42.0, 35.0), measure="across Y"),
        wanted("by its line", 14.0, line=7, within=3.0),
        wanted("too far off", 90.0),
        wanted("wide", 36.5, within=0.1),
    )
    verdict = plate(asks)
    told = {one.name: (one.part, one.dimension) for one in verdict.ascut.wanted}
    assert told["long"] == (1, "across X")
    assert told["wide"] == (1, "across Y")
    assert told["hole"][1] in ("hole 1 across X", "hole 1 across Y")
    assert told["by its place"] == (1, "hole 1 across Y")
    assert told["by its line"][1].startswith("hole 1")
    assert "too far off" not in told
    found = {f.id: f for f in verdict.findings}
    assert "wanted-size-not-found-too-far-off" in found
    off = found["wanted-size-off-wide"]
    assert "shy" in off.words
    # Drawn larger by what is missing, it comes out in the middle of what is wanted.
    tried = off.remedies[0].tried
    assert off.remedies[0].changes or "measure first" in off.remedies[0].words
    assert tried is None or tried.value.value == pytest.approx(36.5)
    assert "SIZES WANTED" in describe(verdict)


@pytest.mark.parametrize(("grain", "across"), [("along X", 36.0), ("along Y", 60.0)])
def test_wood_moves_across_its_grain_as_the_table_says(plate, grain, across):
    climate = Climate(now_percent=exactly(6.0), later_percent=exactly(11.0), sawn="flat")
    asks = (wanted("size", across, within=5.0),)
    verdict = plate(asks, grain=grain, climate=climate)
    one = verdict.ascut.wanted[0]
    # Wood Handbook, equation 13-2 and table 13-5 (from memory; the row read): sugar maple, flat
    # sawn, 0.00353 for each per cent.
    assert one.later.value - one.size.value == pytest.approx(across * 5.0 * 0.00353, rel=0.03)
    assert one.later_likelihood == 0.0


def test_a_slanting_grain_shears_no_size_out_of_the_plate(plate):
    verdict = plate((wanted("long", 60.0),), grain="30 deg")
    part = next(part for part in verdict.ascut.parts if part.number == 1)
    sizes = {size.name: size for size in part.dimensions}
    along, over = sizes["across X"].grows_mm
    turn = radians(30.0)
    assert along == pytest.approx(60.0 * cos(turn) ** 2, abs=0.05)
    assert over == pytest.approx(60.0 * sin(turn) ** 2, abs=0.05)
    assert sum(sizes["hole 1 across Y"].grows_mm) == pytest.approx(16.0, abs=0.02)
    assert sum(sizes["diagonals differ"].grows_mm) == pytest.approx(0.0, abs=1e-6)


def test_names_that_may_mean_several_woods_move_as_any_of_them():
    maple, hard = movement_of(find_wood("maple")), movement_of(find_wood("hard maple"))
    assert maple.across.low < hard.across.low
    assert maple.across.high >= hard.across.high
    flat, quarter = (movement_of(find_wood("hard maple"), sawn) for sawn in ("flat", "quarter"))
    assert quarter.across.value == pytest.approx(0.00165)
    assert flat.across.value == pytest.approx(0.00353)
    ply = movement_of(find_wood("birch ply"))
    assert ply.along == ply.across
    assert ply.across.high < quarter.across.low
    for name in ("don't know", "red oak", "scots pine", "MDF"):
        known = movement_of(find_wood(name)).across
        assert 0.0 < known.low < known.high < 0.006


POCKET = "G0 Z5\nG0 X30 Y30\nG1 Z-{z} F300\nG1 X50 F900\nY36\nX30\nY30\nX50 Y33\nG0 Z5"


def test_depths(proved):
    asks = (
        wanted("floor", 4.0, near_mm=(40.0, 33.0), measure="depth"),
        wanted("deeper", 4.6, near_mm=(40.0, 33.0), measure="depth"),
        wanted("nothing there", 4.0, near_mm=(80.0, 10.0), measure="depth"),
    )

    def run(z, u_mm=0.03):
        def change(setup):
            return replace(setup, wanted=asks, zero_u_mm=(0.0, 0.0, u_mm))

        return proved(POCKET.format(z=z), change=change, cell=0.5).verdict

    verdict = run(4.0)
    told = {one.name: one for one in verdict.ascut.wanted}
    assert told["floor"].programmed_mm == pytest.approx(4.0, abs=1e-3)
    size = told["floor"].size
    assert size.value == pytest.approx(4.0, abs=0.05)
    # Zero in Z rules: 1.96 times its spread to each side, and a little from the rest.
    assert 0.12 < size.high - size.low < 0.30
    wide = next(one for one in run(4.0, 0.1).ascut.wanted if one.name == "floor").size
    assert wide.high - wide.low > 0.39
    found = {one.id: one for one in verdict.findings}
    assert "wanted-size-off-floor" not in found
    off = found["wanted-size-off-deeper"]
    assert "at 40, 33 mm on the board" in off.words
    assert "Cut it 4." in off.remedies[0].words
    assert "no floor at 80, 10 mm" in found["wanted-size-not-found-nothing-there"].words
    again = run(float(off.remedies[0].changes[0].new.removesuffix(" mm")))
    assert "wanted-size-off-deeper" not in {one.id for one in again.findings}
