"""job.toml."""

from math import hypot, pi

import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.cutter import read_cutter
from kerfwright.setup import load_job

RACK = {
    "ball 3 mm": read_cutter("ball 3 mm, 2 flutes"),
    "flat 6 mm": read_cutter("flat 6 mm, 2 flutes, flute length 22 mm"),
}
GOOD = """kerfwright = "job 1"

[board]
size = "310 x 200 x 30 mm"
thickness = { is = "29.8 ± 0.1 mm", from = "measured", ref = "caliper, four corners" }
wood = "hard maple"
grain = "along Y"
moisture = "7 to 9 %"
at = ["100 mm", "80 mm"]

[zero]
x = "middle"
y = "back"
z = "table"
x_by = "edge"
y_by = "± 0.1 mm"
z_by = "paper"

[slots]
1 = "flat 6 mm"
2 = { cutter = "ball 3 mm", stick_out = "22 mm" }
first = 2

[limits]
below_board = "0.5 mm"
tolerance = "0.3 mm"
"""


@pytest.fixture
def load(tmp_path, machine):
    def load_text(text):
        path = tmp_path / "job.toml"
        path.write_text(text, encoding="utf-8")
        return load_job(path, RACK, machine)

    return load_text


def test_a_whole_job(load):
    setup = load(GOOD)
    board = setup.board
    assert (board.length_mm, board.width_mm, board.thickness_mm) == (310.0, 200.0, 29.8)
    assert board.known["thickness_mm"].kind == "measured"
    assert board.grain_rad == pytest.approx(pi / 2)
    assert board.moisture_percent == pytest.approx(8.0)
    assert board.known["moisture_percent"].low == pytest.approx(7.0)
    # the table's corner is at (-50, -100), the spoil board 12 mm thick
    assert setup.board_at_mm == pytest.approx((50.0, -20.0, 41.8))
    assert setup.zero_on_board_mm == pytest.approx((155.0, 200.0, -29.8))
    assert list(setup.slots) == [1, 2]
    assert setup.slots[2].stick_out_mm == 22.0
    assert setup.slots[2].known["stick_out_mm"].kind == "estimated"
    assert not any("ball 3 mm: stick-out" in words for words in setup.assumed)
    assert setup.first_slot == 2
    assert setup.below_board_mm == 0.5
    assert setup.tolerance_mm == 0.3


def test_zero_spread_is_that_of_the_method(load):
    setup = load(GOOD)
    assert setup.zero_u_mm[0] == 0.05
    assert setup.zero_u_mm[1] == pytest.approx(0.1 / 1.96, rel=1e-3)
    # zero on the table: how deep a cut is depends on the thickness too
    assert setup.zero_u_mm[2] == pytest.approx(hypot(0.03, 0.1 / 1.96), rel=1e-3)
    assert setup.known["zero.y"].kind == "measured"


def test_the_least_job(load):
    setup = load(
        'kerfwright = "job 1"\n[board]\nsize = "12 x 8 x 3/4 in"\n[slots]\n1 = "ball 3 mm"\n'
    )
    assert setup.board.thickness_mm == pytest.approx(19.05)
    assert setup.board.wood.name == "wood not named"
    assert setup.zero_on_board_mm == (0.0, 0.0, 0.0)
    assert setup.first_slot == 1
    assert setup.tolerance_mm == 0.2
    said = "\n".join(setup.assumed)
    for words in (
        "zero in X at the left of the board",
        "the board lies in the middle of the table",
        "right means within 0.2 mm",
        "grain along X",
        "density of wood not named",
    ):
        assert words in said


def test_a_weighed_board(load):
    setup = load(GOOD.replace('wood = "hard maple"', 'wood = "oak"\ndensity = "700 ± 20 kg/m3"'))
    assert setup.board.wood.density_kg_per_m3 == 700.0
    assert setup.board.wood.known["density_kg_per_m3"].u == pytest.approx(20 / 1.96, rel=1e-3)


def test_a_short_stick_out_shortens_only_assumed_flutes(load):
    setup = load(GOOD.replace('stick_out = "22 mm"', 'stick_out = "9 mm"'))
    assert setup.slots[2].flute_length_mm == 9.0
    with pytest.raises(InputErrors) as caught:
        load(GOOD.replace('1 = "flat 6 mm"', '1 = { cutter = "flat 6 mm", stick_out = "9 mm" }'))
    (error,) = caught.value.errors
    assert error.problem == "cutter flat 6 mm: its flutes are longer than its stick-out"
    assert error.place.line == 20


def test_every_error_is_gathered_with_its_place(load):
    text = """kerfwright = "job 1"
[board]
size = "310 x 200 mm"
wood = "hrad maple"
grain = "sideways"
moisture = "8 mm"
at = "over there"
[zero]
x = "front"
y_by = "magic"
z_bi = "paper"
[slots]
one = "ball 3 mm"
2 = "bal 3 mm"
3 = { stick_out = "20 mm" }
first = 7
[limits]
below_board = "40 mm"
tolerance = "0 mm"
"""
    with pytest.raises(InputErrors) as caught:
        load(text)
    told = [(error.place.line, error.problem) for error in caught.value.errors]
    assert told == [
        (3, "the size has no thickness"),
        (4, 'no wood here is called "hrad maple"'),
        (5, "is no direction of the grain"),
        (6, '"mm" is no unit of share'),
        (7, "is no place on the table"),
        (9, '"front" is not a number with a unit'),
        (10, 'zero in Y is not set by "magic"'),
        (11, '"z_bi" means nothing here'),
        (13, '"one" is no slot'),
        (14, 'there is no "bal 3 mm" in the rack'),
        (15, "names no cutter"),
        (16, "the first cutter is in none of the slots"),
        (18, "is more than the spoil board is thick, 12 mm"),
        (19, "tolerance is beyond all that can be"),
    ]
    assert "near it are ball 3 mm" in caught.value.errors[9].remedy


def test_the_whole_message(load, tmp_path):
    with pytest.raises(InputErrors) as caught:
        load(GOOD.replace('x_by = "edge"', 'x_by = "edgy"'))
    assert str(caught.value) == (
        f'{tmp_path / "job.toml"}:15:8: zero in X is not set by "edgy"\n'
        '    x_by = "edgy"\n'
        "           ^\n"
        '  remedy: did you mean "edge"?'
    )


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('size = "310 x 200 x 30 mm"', "size = 310"),
        ('size = "310 x 200 x 30 mm"', 'size = "0 x 200 x 30 mm"'),
        ('size = "310 x 200 x 30 mm"', 'size = "310 x 200 x 30 mm oak"'),
        ('wood = "hard maple"', "wood = 3"),
        ('at = ["100 mm", "80 mm"]', 'at = ["100 mm", 80]'),
        ('at = ["100 mm", "80 mm"]', 'at = ["100 mm", "?"]'),
        ('x = "middle"', "x = 3"),
        ('x = "middle"', 'x = "99 m"'),
        ("first = 2", "first = true"),
        ("[limits]", "[limit]"),
        ('[limits]\nbelow_board = "0.5 mm"\ntolerance = "0.3 mm"\n', ""),
    ],
)
def test_each_slip_is_told(load, old, new):
    text = GOOD.replace(old, new)
    assert text != GOOD
    if new:
        with pytest.raises((InputErrors, InputError)):
            load(text)
    else:
        assert load(text).below_board_mm == 0.0


def test_a_file_of_another_kind(load):
    with pytest.raises(InputError, match='is "cutters 1", but a job file is wanted here'):
        load('kerfwright = "cutters 1"\n')


CLAMP = """
[[clamps]]
name = "left"
on_table = ["60 mm", "190 mm"]
size = "40 x 30 mm"
height = "18 mm"
"""


def test_clamps_stand_in_the_board_s_frame(load):
    (clamp,) = load(GOOD + CLAMP).clamps
    # The table's corner is at machine (-50, -100), the board's 100 and 80 mm from it.
    assert clamp.box_mm == pytest.approx((-40.0, 110.0, 0.0, 140.0))
    assert load(GOOD).clamps == ()


def test_a_clamp_that_cannot_be_read_is_told_with_the_rest(load):
    with pytest.raises(InputErrors) as told:
        load(GOOD.replace('"0.3 mm"', '"0.3 s"') + CLAMP.replace("18 mm", "18"))
    assert [error.problem for error in told.value.errors][1] == '"18" has no unit'
    assert told.value.errors[1].place.line == GOOD.count("\n") + 6
