"""The rack file."""

from math import radians

import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.cutter import load_cutters

GOOD = """kerfwright = "cutters 1"

[[cutter]]
name = "ball 3 mm"
shape = "ball"
diameter = { is = "2.98 ± 0.01 mm", from = "measured", ref = "caliper, three readings" }
flutes = 2
flute_length = "12 mm"
stick_out = "18 mm"
runout = "don't know"

[[cutter]]
name = "V 60"
shape = "v"
diameter = "1/2 in"
angle = "60 deg"
material = "hss"
"""


@pytest.fixture
def load(tmp_path):
    def load_text(text):
        path = tmp_path / "cutters.toml"
        path.write_text(text, encoding="utf-8")
        return load_cutters(path)

    return load_text


def test_a_good_rack(load):
    rack = load(GOOD)
    assert list(rack) == ["ball 3 mm", "V 60"]
    ball = rack["ball 3 mm"]
    assert ball.diameter_mm == 2.98
    assert ball.known["diameter_mm"].kind == "measured"
    assert ball.known["diameter_mm"].ref == "caliper, three readings"
    assert ball.known["flute_length_mm"].kind == "estimated"
    assert ball.known["flute_length_mm"].ref == "cutters.toml"
    assert ball.known["runout_mm"].kind == "default"
    assert rack["V 60"].included_angle_rad == pytest.approx(radians(60))
    assert rack["V 60"].material == "hss"


def test_every_error_is_gathered_with_its_place(load, tmp_path):
    text = """kerfwright = "cutters 1"
[[cutter]]
name = "one"
shape = "round"
diameter = "3"
flute_lenght = "12 mm"
[[cutter]]
shape = "v"
diameter = { was = "3 mm" }
flutes = 2.5
"""
    with pytest.raises(InputErrors) as caught:
        load(text)
    told = [
        (error.place.line, error.place.column, error.problem, error.remedy)
        for error in caught.value.errors
    ]
    assert told == [
        (4, 9, "there is no such shape", "write one of flat, ball, v"),
        (5, 12, '"3" has no unit', 'write it like "25 mm", or "don\'t know"'),
        (6, 16, '"flute_lenght" means nothing here', 'did you mean "flute_length"?'),
        (7, 1, "the cutter has no name", 'write it like name = "ball 3 mm"'),
        (7, 1, "a cutter must have its angle", "measure it and write it"),
        (9, 12, 'a value has no "was"', 'write { is = "...", from = "...", ref = "..." }'),
        (10, 10, "a cutter has a whole number of flutes", "write it like 2"),
    ]
    assert {error.place.file for error in caught.value.errors} == {str(tmp_path / "cutters.toml")}


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "does not say first what kind of file it is"),
        ('kerfwright = "machine 1"\n', 'is "machine 1", but a cutters file is wanted here'),
        (
            'kerfwright = "cutters 2"\n',
            "is of version 2; this Kerfwright reads up to version 1",
        ),
        ('kerfwright = "cutters"\n', '"cutters" has no version'),
        ("kerfwright = 1\n", "does not say first what kind of file it is"),
        ('[[cutter]]\nname = "a"\n', "does not say first what kind of file it is"),
    ],
)
def test_the_first_key_says_what_it_is(load, text, problem):
    with pytest.raises(InputError) as caught:
        load(text)
    assert caught.value.problem == problem


@pytest.mark.parametrize(
    ("body", "problem"),
    [
        ("", "there is no cutter in the rack"),
        ('cutter = "ball"\n', "cutter is no list of sections"),
        (
            '[[cutter]]\nname = "a"\nshape = "flat"\ndiameter = "6 mm"\n' * 2,
            'there are two "a"',
        ),
        (
            '[[cutter]]\nname = "a"\nshape = "flat"\ndiameter = "6 mm"\nangle = "60 deg"\n',
            "a flat cutter has no angle",
        ),
        (
            '[[cutter]]\nname = "a"\nshape = "flat"\ndiameter = "don\'t know"\n',
            "a cutter must have its diameter",
        ),
        (
            '[[cutter]]\nname = "a"\nshape = "v"\nangle = "60 deg"\ndiameter = "6 mm"\n'
            'tip = "7 mm"\n',
            "cutter a: its tip is wider than the cutter",
        ),
        (
            '[[cutter]]\nname = "a"\nshape = "flat"\ndiameter = 6\n',
            "6 has no unit",
        ),
        (
            '[[cutter]]\nname = "a"\nshape = "flat"\ndiameter = ["6 mm"]\n',
            "is neither a text nor a number",
        ),
    ],
)
def test_one_error(load, body, problem):
    with pytest.raises(InputErrors) as caught:
        load('kerfwright = "cutters 1"\n' + body)
    assert problem in [error.problem for error in caught.value.errors]


def test_many_errors_are_counted_not_all_told(load):
    body = "".join(f'[[cutter]]\nname = "c{i}"\nshape = "round"\n' for i in range(100))
    with pytest.raises(InputErrors) as caught:
        load('kerfwright = "cutters 1"\n' + body)
    assert len(caught.value.errors) == 20
    assert caught.value.more == 180
