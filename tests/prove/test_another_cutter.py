"""Other cutters of the rack: offered where the path stays right, and true when put in."""

from dataclasses import replace

import pytest

from kerfwright.cutter import read_slot

from .every_finding import DEEP, SLENDER


def told(proof, code):
    return next((one for one in proof.verdict.findings if one.code == code), None)


def cutter(name, **sizes):
    words = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in sizes.items())
    return replace(read_slot(f"1: {name}, 2 flutes, {words}")[1], name=name + " other")


def with_rack(*cutters):
    return lambda setup: replace(setup, rack={one.name: one for one in cutters})


def put_in(one):
    return lambda setup: replace(setup, slots={1: one})


SHORT = "1: flat 6 mm, 2 flutes, flute length 7 mm, stick-out 30 mm"
BODY = DEEP.format(z=8, f=600)


def test_longer_flutes(proved):
    long = cutter("flat 6 mm", flute_length="22 mm", stick_out="30 mm")
    found = told(proved(BODY, cutters=(SHORT,), change=with_rack(long)), "flutes too short")
    first, second = found.remedies
    assert [change.new for change in first.changes] == ["flat 6 mm other", "30 mm"]
    assert first.tried.limit == 22.0 > first.tried.value.value
    assert "Or first clear" in second.words
    assert told(proved(BODY, change=put_in(long)), "flutes too short") is None


@pytest.mark.parametrize(
    ("other", "why"),
    [
        (("flat 6 mm", "7.5 mm", "30 mm"), "flutes are shorter than the 8.0 mm"),
        (("flat 3 mm", "22 mm", "30 mm"), "no other cutter of this shape and width"),
        (("ball 6 mm", "22 mm", "30 mm"), "no other cutter of this shape and width"),
    ],
)
def test_what_does_not_serve(proved, other, why):
    name, flutes, out = other
    rack = with_rack(cutter(name, flute_length=flutes, stick_out=out))
    found = told(proved(BODY, cutters=(SHORT,), change=rack), "flutes too short")
    assert found.remedies[0].tried is None
    assert why in found.remedies[0].not_tried


def test_nothing_that_runs_into_the_wood(proved):
    # A pocket as deep as the flutes are long: the nut of the stubby one would stand in it.
    stubby = cutter("flat 6 mm", flute_length="20 mm", stick_out="20.5 mm", shank="6 mm")
    deep = "G0 Z5\nG0 X50 Y30\nG1 Z-24 F300\nG1 X54 F600\nG0 Z5"
    found = told(
        proved(deep, stock="100 x 60 x 40 mm pine", cutters=(SHORT,), change=with_rack(stubby)),
        "flutes too short",
    )
    assert found.remedies[0].tried is None
    assert "flat 6 mm other of the rack" in found.remedies[0].not_tried


@pytest.mark.slow
def test_a_stouter_one_of_the_same_width(proved):
    thin = "1: flat 3 mm, 2 flutes, flute length 14 mm, stick-out 40 mm, shank 3 mm"
    stout = cutter("flat 3 mm", flute_length="14 mm", stick_out="20 mm", shank="6 mm")
    three = replace(stout, flutes=3, name="three flutes", stick_out_mm=30.0)
    wide = cutter("flat 6 mm", flute_length="20 mm", stick_out="25 mm")
    body = DEEP.format(z=10, f=1500)
    found = told(
        proved(body, cutters=(thin,), change=with_rack(stout, three, wide)), "cutter pushed aside"
    )
    taken = next(one for one in found.remedies if one.changes and one.changes[0].path == "slots.1")
    assert taken.changes[0].new == "flat 3 mm other"
    again = proved(body, change=put_in(stout))
    assert told(again, "cutter pushed aside") is None
    margin = next(one for one in again.verdict.margins if one.name == "deflection")
    assert margin.value.value == pytest.approx(taken.tried.value.value, rel=0.15)
    anew = next(one for one in found.remedies if "make the program anew" in one.words)
    assert "flat 6 mm other" in anew.words
    assert anew.not_tried


def test_one_that_does_not_break(proved):
    stout = cutter("flat 2 mm", flute_length="20 mm", stick_out="22 mm", shank="6 mm")
    body = DEEP.format(z=17, f=3000)
    first = told(proved(body, cutters=(SLENDER,)), "cutter may break")
    found = told(proved(body, cutters=(SLENDER,), change=with_rack(stout)), "cutter may break")
    ways = {one.changes[0].path.partition(" ")[0] for one in found.remedies if one.changes}
    again = told(proved(body, change=put_in(stout)), "cutter may break")
    # Where it ends in the flutes a thicker shank does nothing.
    assert ("slots.1" in ways) == (again is None)
    assert first.value.value == found.value.value
