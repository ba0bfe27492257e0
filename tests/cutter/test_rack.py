"""The rack file."""

from math import cos, radians, sin, tan

import numpy as np
import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.cutter import load_cutters
from kerfwright.cutter.defaults import OWN

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
        (
            4,
            9,
            "there is no such shape",
            "write one of flat, ball, v, bull, taper, drill, profile, dovetail, t-slot, round-over",
        ),
        (5, 12, '"3" has no unit', 'write its unit behind it: "3 mm" or "3 in"'),
        (6, 16, '"flute_lenght" means nothing here', 'did you mean "flute_length"?'),
        (7, 1, "the cutter has no name", 'write it like name = "ball 3 mm"'),
        (7, 1, "a cutter must have its angle", "measure it and write it"),
        (9, 12, 'a value has no "was"', 'write { is = "...", from = "...", ref = "..." }'),
        (10, 10, "a cutter has a whole number of flutes", "write it like 2"),
    ]
    assert {error.place.file for error in caught.value.errors} == {str(tmp_path / "cutters.toml")}


SHAPES = """kerfwright = "cutters 1"
[[cutter]]
name = "bull"
shape = "bull"
diameter = "6 mm"
corner = "1 mm"
centre_cutting = false
[[cutter]]
name = "taper"
shape = "taper"
diameter = "6 mm"
tip_radius = "0.5 mm"
angle = "11 deg"
[[cutter]]
name = "drill"
shape = "drill"
diameter = "5 mm"
[[cutter]]
name = "cove"
shape = "profile"
outline = ["2 x 0 mm", "3 x 0.2 mm", "6 x 3 mm", "1/4 x 1/8 in"]
[[cutter]]
name = "dovetail"
shape = "dovetail"
diameter = "12.7 mm"
lean = "14 deg"
flute_length = "12 mm"
[[cutter]]
name = "t"
shape = "t-slot"
diameter = "12 mm"
flute_length = "4 mm"
neck = "5 mm"
[[cutter]]
name = "round"
shape = "round-over"
corner = "6 mm"
guide = "10 mm"
guide_length = "3 mm"
"""


def test_every_shape(load):
    rack = load(SHAPES)
    assert [c.shape for c in rack.values()] == [
        "bull", "taper", "drill", "profile", "dovetail", "t-slot", "round-over"
    ]  # fmt: skip
    bull, taper, drill, cove, dovetail, t, rounded = rack.values()
    assert (bull.corner_radius_mm, bull.plunges, bull.rim_mm) == (1.0, False, 1.0)
    # The taper is as wide as the cutter where its flutes end: ball and cone by the sine and
    # cosine of half the angle.
    assert taper.rim_mm == pytest.approx(0.5 * (1 - sin(radians(5.5))) + (
        3 - 0.5 * cos(radians(5.5))) / tan(radians(5.5)))  # fmt: skip
    assert taper.flute_length_mm == pytest.approx(taper.rim_mm)
    assert drill.plunges
    assert not drill.cuts_sideways
    assert drill.included_angle_rad == pytest.approx(radians(118))
    assert cove.corners_mm == ((0, 0), (2, 0), (3, 0.2), (6, 3), (6.35, 3.175))
    assert cove.diameter_mm == pytest.approx(12.7)
    assert cove.plunges is None
    assert not cove.undercuts
    assert dovetail.corners_mm[2] == pytest.approx((6.35 - 12 * tan(radians(14)), 12))
    assert dovetail.undercuts
    assert dovetail.plunges is False
    assert t.corners_mm == ((0, 0), (6, 0), (6, 4), (2.5, 4))
    assert rounded.diameter_mm == pytest.approx(22)
    assert not rounded.undercuts
    assert rounded.flute_length_mm == pytest.approx(9)
    for cutter in rack.values():
        outline = cutter.outline_mm()
        assert outline[:, 0].max() == pytest.approx(cutter.radius_mm)
        assert (np.diff(outline[:, 1]) >= 0).all()
        # Radii at heights agree with the outline.
        middle = 0.5 * (outline[1:] + outline[:-1])
        rises = np.diff(outline[:, 1]) > 1e-6
        found = cutter.radius_at_mm(middle[rises, 1])
        assert found == pytest.approx(middle[rises, 0], abs=0.02)


def test_own_sizes_may_be_left_out(load):
    body = "".join(
        f'[[cutter]]\nname = "{shape}"\nshape = "{shape}"\ndiameter = "8 mm"\n'
        for shape in ("bull", "taper", "drill", "dovetail", "t-slot")
    )
    body += '[[cutter]]\nname = "r"\nshape = "round-over"\ncorner = "don\'t know"\n'
    for name, cutter in load('kerfwright = "cutters 1"\n' + body).items():
        for field in OWN[cutter.shape]:
            known = cutter.known[field]
            assert known.kind == "default", name
            assert "no source" in known.ref
            assert known.low <= known.value <= known.high
            assert any(cutter.name in words for words in cutter.assumed)


@pytest.mark.parametrize(
    ("lines", "problem"),
    [
        ('shape = "bull"\ndiameter = "6 mm"\ncorner = "4 mm"', "cutter a: its corner's radius is"
         " not between 0 and half its diameter"),
        ('shape = "bull"\ndiameter = "6 mm"\nneck = "4 mm"', "a bull cutter has no neck"),
        ('shape = "taper"\ndiameter = "2 mm"\ntip_radius = "3 mm"',
         "cutter a: the ball at its end is wider than the cutter"),
        ('shape = "profile"', "a profile needs the corners of its outline"),
        ('shape = "profile"\noutline = ["0 x 0 mm", "3 mm"]', "is no corner of an outline"),
        ('shape = "profile"\noutline = ["0 x 0 mm", "3 x 3"]', "the corner has no unit"),
        ('shape = "profile"\noutline = ["3 x 3 mm"]',
         "cutter a: its outline has 1 corners, not 2 to 40"),
        ('shape = "profile"\noutline = ["1 x 1 mm", "3 x 3 mm"]',
         "cutter a: its outline does not begin at the axis, at 0 x 0"),
        ('shape = "profile"\noutline = ["0 x 0 mm", "3 x 3 mm", "4 x 2 mm"]',
         "cutter a: its outline goes down again: corners are told from the tip upwards"),
        ('shape = "profile"\ndiameter = "9 mm"\noutline = ["0 x 0 mm", "3 x 3 mm"]',
         "cutter a: its outline is 6 mm wide, and its diameter is 9 mm"),
        ('shape = "profile"\noutline = [' + '"0 x 0 mm",' * 41 + "]",
         "the outline has more than 40 corners"),
        ('shape = "flat"\ndiameter = "6 mm"\noutline = ["0 x 0 mm"]',
         "a flat cutter has no outline"),
        ('shape = "flat"\ndiameter = "6 mm"\ncentre_cutting = "no"', "is neither true nor false"),
        ('shape = "drill"\ndiameter = "6 mm"\ncentre_cutting = true',
         "goes without saying for a drill"),
        ('shape = "round-over"\ndiameter = "6 mm"', "a round-over cutter has no diameter"),
        ('shape = "dovetail"\ndiameter = "6 mm"\nflute_length = "20 mm"\nstick_out = "30 mm"',
         "cutter a: its flanks meet 12.0 mm up"),
        ('shape = "t-slot"\ndiameter = "6 mm"\nneck = "7 mm"',
         "cutter a: its neck is no thinner than its disc"),
    ],
)  # fmt: skip
def test_errors_of_shapes(load, lines, problem):
    with pytest.raises(InputErrors) as caught:
        load(f'kerfwright = "cutters 1"\n[[cutter]]\nname = "a"\n{lines}\n')
    assert problem in [error.problem for error in caught.value.errors]


def test_a_wrong_corner_is_told_where_it_stands(load):
    text = SHAPES.replace('"3 x 0.2 mm"', '"3 x ? mm"')
    with pytest.raises(InputErrors) as caught:
        load(text)
    (error,) = caught.value.errors
    line = text.splitlines()[error.place.line - 1]
    assert line[error.place.column - 1 :].startswith('"3 x ? mm"')


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
