"""A board in a line of words."""

from math import pi, radians

import pytest

from kerfwright.basics import InputError
from kerfwright.stock import read_stock


def test_a_plain_board():
    stock = read_stock("310 x 310 x 30 mm hard maple")
    board = stock.board
    assert (board.length_mm, board.width_mm, board.thickness_mm) == (310.0, 310.0, 30.0)
    assert board.wood.name == "hard maple"
    assert board.grain_rad == 0.0
    assert board.moisture_percent == 8.0
    assert any("grain along X" in words for words in stock.assumed)
    assert any("moisture 8 % (6 to 12)" in words for words in stock.assumed)
    assert any("density of hard maple" in words for words in stock.assumed)


def test_inches_are_exact():
    """International yard and pound agreement of 1959: one inch is 25.4 mm."""
    board = read_stock("12 x 8 1/2 x 3/4 in birch ply").board
    assert board.length_mm == pytest.approx(304.8, abs=1e-9)
    assert board.width_mm == pytest.approx(215.9, abs=1e-9)
    assert board.thickness_mm == pytest.approx(19.05, abs=1e-9)


def test_what_is_said_is_not_assumed():
    stock = read_stock("200 x 100 x 18 mm oak, grain along Y, 11 % moisture")
    assert stock.board.grain_rad == pytest.approx(pi / 2)
    assert stock.board.moisture_percent == pytest.approx(11.0)
    assert not any("grain" in words or "moisture 8" in words for words in stock.assumed)
    assert "moisture_percent" not in stock.board.known


def test_grain_at_an_angle():
    assert read_stock("9 x 9 x 1 cm ash, grain 30 deg").board.grain_rad == pytest.approx(
        radians(30)
    )


def test_no_wood_named():
    stock = read_stock("200 x 100 x 18 mm")
    assert stock.board.wood.name == "wood not named"
    assert any("don't know" not in w and "density of wood not named" in w for w in stock.assumed)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "310 x 310 mm hard maple",
            "--stock: the board has no thickness\n  remedy: write it like "
            '"310 x 310 x 30 mm hard maple, grain along Y, 8 % moisture"',
        ),
        (
            "a nice board",
            '--stock: "a nice board" is not a size\n'
            '  remedy: write it like "310 x 310 x 30 mm hard maple"',
        ),
        (
            "310 x 310 x 0 mm oak",
            "--stock: the board's thickness is 0 mm, not between 0 and 10 m\n  remedy: write it "
            'like "310 x 310 x 30 mm hard maple, grain along Y, 8 % moisture"',
        ),
        (
            "310 x 310 x 30 mm oak, grain sideways",
            '--stock: "grain sideways" is no direction\n  remedy: write "grain along Y"',
        ),
        (
            "310 x 310 x 30 mm oak, painted",
            '--stock: "painted" is not understood\n  remedy: write it like '
            '"310 x 310 x 30 mm hard maple, grain along Y, 8 % moisture"',
        ),
    ],
)
def test_errors(text, message):
    with pytest.raises(InputError) as caught:
        read_stock(text)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    "text", ["", "x" * 10_000, "1" * 400 + " x 1 x 1 mm oak", "1 x 1 x 1e9 m oak"]
)
def test_hostile_text_is_refused(text):
    with pytest.raises(InputError):
        read_stock(text)
