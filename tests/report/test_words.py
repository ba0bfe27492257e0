"""The verdict in words."""

from dataclasses import replace

import pytest

from kerfwright.basics import Estimate, Finding, Spot
from kerfwright.report import describe
from kerfwright.report.figures import (
    amount,
    both_ways,
    chance_words,
    duration,
    estimate_words,
    leaning,
    leaning_estimate,
    moment,
    spot_words,
    time_span,
)


def test_answer_comes_first_then_findings(verdict):
    lines = describe(verdict).splitlines()
    assert lines[0] == (
        "STOP: Do not cut this yet: on line 212 a rapid goes 3.2 mm deep through wood that is still"
    )
    start = lines.index("FOUND")
    assert lines[start + 2 : start + 7] == [
        "  1  STOP: rapid through wood, line 212, 5 min 10 s into the job",
        "     a rapid goes 3.2 mm (0.126 in) deep through wood that is still there",
        "     at 120.4 mm from the left, 33.0 from the front, 3.2 below the top"
        " (4.74, 1.30, 0.13 in)",
        "     found 3.20 mm, 3.00 to 3.40 (0.126 in, 0.118 to 0.134); limit 0 mm (0 in)",
        "     do: lift to Z 5 before line 212.",
    ]


def test_everything_that_must_be_told_is_told(verdict):
    text = " ".join(describe(verdict).split())
    for words in (
        "time 1 h 52 min (1 h 35 to 2 h 05, nineteen times in twenty)",
        "The true value lies in the spread given behind it nineteen times in twenty.",
        "found 8 %, −3 to 19, mostly from friction of the Z slide; limit 10 % likely about 60 "
        "times in 100 do: go down at 240 mm/min (9.45 in/min) there [feed on lines 1804 to 1806: "
        "600 -> 240]. "
        "Tried in the model: the Z motor has pull to spare: 31 %, limit 10 %.",
        "pull left in the Z motor 8 %, −3 to 19; limit 10 %; line 1804, at 40 min 15 s",
        "most proud 0.52 mm proud, 0.40 to 0.64 (0.020 in proud, 0.016 to 0.025), mostly from "
        "zero of Z, set by paper; 88.0 mm from the left",
        "wall left of lines 100-103 0.06 mm shy, 0.04 to 0.07",
        "WHAT IS CUT OUT part 1, across X 119.94 mm, 119.86 to 120.02 (4.722 in, 4.719 to 4.725), "
        "mostly from play in the machine; programmed 120.00 mm (set-up −0.02 ± 0.04, "
        "machine −0.04 ± 0.05 mm); beyond 0.20 mm (0.008 in) about 10 times in 100",
        "part 2 (in part 1), across X 27.95 mm, 27.87 to 28.03",
        "kerf of cutter 1 6.04 mm, 5.99 to 6.09",
        "scallops of cutter 2 at worst 0.030 mm, 0.028 to 0.032",
        "ASSUMED, BECAUSE NOT GIVEN - zero in Z within 0.1 mm: by a method not said",
        "NOT CHECKED - whether the dust hose reaches",
        "Wear eye and ear protection",
        "local codes",
        "Z of the program from −18.20 mm (−0.717 in) to 12.00 mm (0.472 in)",
        "From gear-train.nc (0123456789ab), machine Alder Lane router",
    ):
        assert words in text


@pytest.mark.parametrize("outcome", ["clear", "care", "stop"])
def test_never_says_that_it_is_without_danger(make, outcome):
    assert "safe" not in describe(make.verdict(outcome=outcome)).lower()


def test_what_the_machine_leaves_open_is_counted_not_listed(make):
    text = " ".join(describe(make.verdict()).split())
    assert "of the machine one thing is not known" in text
    assert "friction of the Z slide" not in text.partition("ASSUMED")[2]


def test_nothing_found_and_nothing_cut(make):
    text = describe(
        make.verdict(
            outcome="clear", findings=(), margins=(), ascut=None, assumed=(), machine_assumed=()
        )
    )
    assert text.startswith("CLEAR: ")
    for title in ("FOUND", "TIGHTEST", "AS CUT", "ASSUMED"):
        assert title not in text


@pytest.mark.parametrize("width", [60, 92, 120])
def test_no_line_is_wider_than_asked(verdict, width):
    assert max(map(len, describe(verdict, width).splitlines())) <= width


def test_text_from_a_program_cannot_drive_the_terminal(make):
    verdict = make.verdict()
    evil = replace(verdict.findings[0], words="look \x1b[2J\x07here\u202e")
    text = describe(replace(verdict, findings=(evil,), sentence="a\nb"))
    assert all(c.isprintable() or c == "\n" for c in text)
    assert text.startswith("STOP: a b\n")


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        # 1 in is 25.4 mm, 1 lbf is 4.4482216152605 N, both exact (NIST SP 811, appendix B; the
        # factors from memory).
        (25.4, "mm", "25.40 mm (1.000 in)"),
        (0.0254, "mm", "0.025 mm (0.0010 in)"),
        (2440.0, "mm", "2440.0 mm (96.06 in)"),
        (-0.00001, "mm", "0.000 mm (0.0000 in)"),
        (0.0, "mm", "0 mm (0 in)"),
        (4.4482216152605, "N", "4.45 N (1.00 lbf)"),
        (1270.0, "mm/min", "1270 mm/min (50.0 in/min)"),
        (0.237, "share", "24 %"),
        (3.0, "", "3.00"),
        (410.3, "W", "410 W"),
    ],
)
def test_amount(value, unit, words):
    assert amount(value, unit) == words


def test_spread_without_width_is_left_out():
    exact = Estimate(value=3.0, low=3.0, high=3.0)
    assert estimate_words(exact, "mm") == "3.00 mm (0.118 in)"


def test_another_coverage_is_said():
    wide = Estimate(value=3.0, low=2.0, high=4.0, coverage=0.68)
    assert estimate_words(wide, "W") == "3.00 W, 2.00 to 4.00, 68 times in 100"


@pytest.mark.parametrize(
    ("low", "value", "high", "words"),
    [
        (-0.3, -0.2, -0.1, "0.20 mm shy, 0.10 to 0.30 (0.008 in shy, 0.004 to 0.012)"),
        (0.1, 0.2, 0.3, "0.20 mm proud, 0.10 to 0.30 (0.008 in proud, 0.004 to 0.012)"),
        (-0.1, 0.2, 0.3, "0.20 mm proud, 0.10 shy to 0.30 proud (0.008 in proud, 0.004 shy to "
         "0.012 proud)"),
        (0.0, 0.0, 0.0, "0 mm (0 in)"),
    ],
)  # fmt: skip
def test_leaning_estimate(low, value, high, words):
    assert leaning_estimate(Estimate(value=value, low=low, high=high)) == words


def test_leaning():
    assert leaning(-0.12) == "0.12 mm (0.005 in) shy"
    assert leaning(0.0) == "0 mm (0 in)"


@pytest.mark.parametrize(
    ("time_s", "words"),
    [
        (45.4, "45 s"),
        (200.0, "3 min 20 s"),
        (599.0, "9 min 59 s"),
        (3100.0, "52 min"),
        (3599.0, "1 h 00 min"),
        (6720.0, "1 h 52 min"),
        (0.0, "0 s"),
    ],
)
def test_duration(time_s, words):
    assert duration(time_s) == words


def test_time_span_and_moment():
    assert time_span(5700.0, 7512.0) == "1 h 35 to 2 h 05"
    assert time_span(3000.0, 4000.0) == "0 h 50 to 1 h 07"
    assert time_span(2880.0, 3420.0) == "48 to 57 min"
    assert time_span(185.0, 220.0) == "3 min 05 s to 3 min 40 s"
    assert moment(3727.0) == "1 h 02 min 07 s"


def test_chance_and_spot():
    assert chance_words(0.2) == "about 20 times in 100"
    assert chance_words(0.01) == "about once in 100 times"
    assert chance_words(0.001) == "less than once in 200 times"
    assert chance_words(0.999) == "nearly every time"
    assert spot_words(Spot(x_mm=-2.0, y_mm=25.4, z_mm=3.0, part="leg")) == (
        "−2.0 mm from the left, 25.4 from the front, 3.0 above the top (−0.08, 1.00, 0.12 in), leg"
    )


def test_pull_left_is_told_in_per_cent_whether_or_not_its_unit_says_so(make):
    verdict = make.verdict()
    findings = tuple(
        replace(finding, unit="") if finding.unit == "share" else finding
        for finding in verdict.findings
    )
    margins = tuple(
        replace(margin, unit="") if margin.unit == "share" else margin for margin in verdict.margins
    )
    assert "8 %, −3 to 19" in describe(replace(verdict, findings=findings, margins=margins))


def test_a_value_known_exactly_says_no_coverage():
    exact = Estimate(value=3.0, low=3.0, high=3.0, coverage=1.0)
    assert estimate_words(exact, "W") == "3.00 W"


def test_the_number_of_a_slot_is_no_measure(make):
    finding = Finding(
        id="missing-1",
        code="missing cutter",
        severity="stop",
        words="the set-up has no cutter in slot 2",
        value=Estimate(value=2.0, low=2.0, high=2.0),
        limit=0.0,
        unit="slot",
    )
    text = describe(make.verdict(findings=(finding,)))
    assert "the set-up has no cutter in slot 2" in text
    assert "2.00 slot" not in text
    assert "0 slot" not in text


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Let it stick out 14 mm only", "Let it stick out 14 mm (0.551 in) only"),
        (
            "off by 0.54 mm (0.32 to 1.03 mm, nineteen times in twenty)",
            "off by 0.54 mm (0.021 in) (0.32 to 1.03 mm, 0.013 to 0.041 in, nineteen times in"
            " twenty)",
        ),
        (
            "at 41, 10 mm; 34 x 24 mm",
            "at 41, 10 mm (1.614, 0.394 in); 34 x 24 mm (1.339 x 0.945 in)",
        ),
        ("Feed at 3000 mm/min", "Feed at 3000 mm/min (118 in/min)"),
        ("with 10 N, −0.5 mm", "with 10 N (2.25 lbf), −0.5 mm (−0.020 in)"),
        # Names, other units, and what has its inches already.
        ('Cutter 1 (flat 6 mm), "ball 3 mm"', 'Cutter 1 (flat 6 mm), "ball 3 mm"'),
        ("300 mm/s², 816 mm², 5 mm³", "300 mm/s², 816 mm², 5 mm³"),
        ("3.20 mm (0.126 in)", "3.20 mm (0.126 in)"),
    ],
)
def test_sentences_have_inches_too(text, told):
    assert both_ways(text) == told
