"""A cutter in a line of words."""

from math import pi, radians, tan

import pytest

from kerfwright.basics import InputError
from kerfwright.cutter import read_cutter, read_slot


def test_a_ball_with_its_flutes():
    cutter = read_cutter("ball 3 mm, 2 flutes")
    assert (cutter.name, cutter.shape, cutter.diameter_mm, cutter.flutes) == (
        "ball 3 mm",
        "ball",
        3.0,
        2,
    )
    assert cutter.included_angle_rad == pi
    assert cutter.flute_length_mm == 12.0
    assert cutter.shank_diameter_mm == 3.175
    assert cutter.material == "carbide"


def test_what_is_left_out_is_listed_with_its_range():
    cutter = read_cutter("ball 3 mm, 2 flutes")
    assert cutter.assumed == (
        "ball 3 mm: flute length 12 mm (6 to 15), four diameters: common practice, no source",
        "ball 3 mm: shank 3.175 mm (3.175 to 6), 1/8 in or 6 mm: common practice, no source",
        "ball 3 mm: stick-out 16.76 mm (15.18 to 21.52), flutes and 1.5 shanks: "
        "common practice, no source",
        "ball 3 mm: helix 30 deg (20 to 35), spiral flutes: common practice, no source",
        "ball 3 mm: rake 10 deg (0 to 20), common practice, no source",
        "ball 3 mm: runout 0.02 mm (0.01 to 0.05), dial at the cutting part: "
        "common practice, no source",
        "ball 3 mm: carbide (common practice, no source)",
    )
    defaults = {field for field, known in cutter.known.items() if known.kind == "default"}
    assert defaults == {
        "flute_length_mm",
        "shank_diameter_mm",
        "stick_out_mm",
        "helix_rad",
        "rake_rad",
        "runout_mm",
        "tip_diameter_mm",
    }


def test_what_is_said_is_kept():
    cutter = read_cutter(
        "6 mm flat 2 flutes, flute length 22 ± 0.5 mm, stick-out 28 mm, shank 1/4 in, helix 25 deg,"
        " rake 12 deg, runout 0.02 to 0.04 mm, HSS"
    )
    assert cutter.assumed == ()
    assert cutter.shank_diameter_mm == pytest.approx(6.35)
    assert cutter.helix_rad == pytest.approx(radians(25))
    assert cutter.runout_mm == pytest.approx(0.03)
    assert cutter.material == "hss"
    assert cutter.known["flute_length_mm"].u == pytest.approx(0.5 / 1.96, rel=1e-3)
    assert (cutter.known["runout_mm"].low, cutter.known["runout_mm"].high) == (0.02, 0.04)


def test_a_diameter_without_a_spread_gets_one():
    assert read_cutter("ball 3 mm").known["diameter_mm"].u == 0.02
    assert read_cutter("ball 2.98 ± 0.01 mm").known["diameter_mm"].u < 0.02


@pytest.mark.parametrize("text", ["v 60 deg 12 mm", "60° v-groove 12 mm", "V 12 mm, angle 60 deg"])
def test_a_v_has_the_height_of_its_cone(text):
    cutter = read_cutter(f"{text}, tip 0.2 mm")
    assert cutter.included_angle_rad == pytest.approx(radians(60))
    height = (12.0 - 0.2) / 2 / tan(radians(30))
    assert cutter.flute_length_mm == pytest.approx(height)
    assert cutter.helix_rad == 0.0
    assert cutter.shank_diameter_mm == 6.0


def test_inches():
    """International yard and pound agreement of 1959: one inch is 25.4 mm."""
    assert read_cutter("flat 1/4 in").diameter_mm == pytest.approx(6.35)
    assert read_cutter('flat 1 1/2"').diameter_mm == pytest.approx(38.1)


def test_flutes_end_at_the_collet():
    cutter = read_cutter("flat 10 mm, stick-out 25 mm")
    assert cutter.flute_length_mm == 25.0
    assert cutter.stick_out_mm == 25.0


def test_dont_know_is_an_answer_but_not_for_the_diameter():
    cutter = read_cutter("flat 6 mm, rake don't know")
    assert cutter.known["rake_rad"].kind == "default"
    with pytest.raises(InputError, match="the diameter must be known"):
        read_cutter("flat don't know")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "v 12 mm",
            '--cutter: a V needs its angle\n  remedy: write it like "v 60 deg 12 mm"',
        ),
        (
            "ball 3 mm, flute lenght 3 mm",
            '--cutter: "flute lenght 3 mm" is not understood\n'
            '  remedy: did you mean "flute length"?',
        ),
        (
            "round 3 mm",
            '--cutter: "round 3 mm" has no shape: flat, ball, v, bull, taper, drill, profile,'
            ' dovetail, t-slot, round-over\n  remedy: write it like "flat 6 mm, 2 flutes,'
            ' flute length 22 mm" or "v 60 deg 12 mm"',
        ),
        (
            "flat 6 mm, flute length 20 mm, stick-out 10 mm",
            "--cutter: cutter flat 6 mm: its flutes are longer than its stick-out\n  remedy: write "
            'it like "flat 6 mm, 2 flutes, flute length 22 mm" or "v 60 deg 12 mm"',
        ),
        (
            "flat 6 mm, 0 flutes",
            "--cutter: no cutter is like that\n  remedy: write a number between 1 and 12",
        ),
        (
            "flat 6 mm, 2 flutes, 3 flutes",
            '--cutter: "3" says the same thing twice\n  remedy: say it once',
        ),
        (
            "v 180 deg 6 mm",
            "--cutter: no cutter is like that\n  remedy: write an angle between 1 deg and 179 deg",
        ),
        (
            "ball -3 mm",
            "--cutter: no cutter is like that\n  remedy: write a length between 0.05 mm and 200 mm",
        ),
    ],
)
def test_errors(text, message):
    with pytest.raises(InputError) as caught:
        read_cutter(text)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    "text", ["", ",", "ball", "flat 60 deg 6 mm", "x" * 100_000, "flat " + "9" * 250 + " mm", "v v"]
)
def test_hostile_text_is_refused(text):
    with pytest.raises(InputError) as caught:
        read_cutter(text)
    assert len(str(caught.value)) < 500


@pytest.mark.parametrize(
    ("text", "shape", "field", "value"),
    [
        ("bull 6 mm, corner 1 mm, not centre cutting", "bull", "corner_radius_mm", 1.0),
        ("bull nose 1/4 in", "bull", "corner_radius_mm", 6.35 / 6),
        ("tapered ball 6 mm, tip radius 0.5 mm, angle 11 deg", "taper", "tip_radius_mm", 0.5),
        ("drill 5 mm", "drill", "included_angle_rad", radians(118)),
        ("drill 90 deg 5 mm", "drill", "included_angle_rad", radians(90)),
        ("dovetail 14 deg 12.7 mm, flute length 12 mm", "dovetail", "flute_length_mm", 12.0),
        ("t-slot 12 mm, flute length 4 mm, neck 5 mm", "t-slot", "flute_length_mm", 4.0),
        ("round-over, corner 6 mm, guide 10 mm", "round-over", "diameter_mm", 22.0),
        ("profile, outline 2 x 0; 3 x 0.2; 6 x 3 mm", "profile", "diameter_mm", 12.0),
        ("profile 12 mm, outline 2 x 0 mm; 6 x 3 mm", "profile", "flute_length_mm", 3.0),
    ],
)
def test_every_shape_in_words(text, shape, field, value):
    cutter = read_cutter(text)
    assert cutter.shape == shape
    assert getattr(cutter, field) == pytest.approx(value)
    assert cutter.name == text.split(",")[0]
    assert cutter.centre_cutting is (False if "not centre" in text else None)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("flat 6 mm, corner 1 mm", "a flat cutter has no corner"),
        ("drill 6 mm, tip 1 mm", "a drill cutter has no tip"),
        ("profile 6 mm", "a profile needs the corners of its outline"),
        ("flat 6 mm, outline 0 x 0; 3 x 3 mm", "a flat cutter has no outline"),
        ("profile, outline 0 x 0; 3 mm", "is no corner of an outline"),
        (
            "round-over 6 mm",
            "a round-over is told by its corner and its guide, not by its diameter",
        ),
        ("ball 6 mm, centre cutting", "whether a ball cuts to its centre goes without saying"),
        ("profile, outline " + "1 x 1;" * 60, "the outline has more than 40 corners"),
    ],
)
def test_errors_of_shapes(text, problem):
    with pytest.raises(InputError) as caught:
        read_cutter(text)
    assert caught.value.problem == problem


def test_slot():
    slot, cutter = read_slot("12: ball 3 mm, 2 flutes")
    assert slot == 12
    assert cutter.shape == "ball"


@pytest.mark.parametrize("text", ["ball 3 mm", "0: ball 3 mm", "1000: ball 3 mm", ": ball", ""])
def test_slot_needs_its_number(text):
    with pytest.raises(InputError) as caught:
        read_slot(text)
    assert str(caught.value) == (
        f'--cutter: "{text}" does not begin with the number of a slot\n  remedy: write it like '
        '"1: ball 3 mm, 2 flutes"; the number is the T word of the program'
    )
