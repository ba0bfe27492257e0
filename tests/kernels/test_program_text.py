"""The byte kernel against the line interpreter, which is its reference: bit for bit."""

import random
import re
from dataclasses import replace
from math import cos, pi, sin

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kerfwright.kernels.program_arcs import (
    centre_by_radius,
    centre_by_radius_reference,
    turned_angle,
    turned_angle_reference,
)
from kerfwright.kernels.program_lines import blank_lines, count_lines, find_line, line_end
from kerfwright.kernels.program_numbers import long_number, short_number
from kerfwright.program import STRICT, WORKSHOP, Dialect, examine_program

_COLUMNS = ("kind", "end_mm", "feed_mm_per_s", "line", "byte", "slot", "path_mode")
_ARCS = ("move", "centre_mm", "normal", "sweep_rad")


def assert_twins(text, rules=STRICT):
    """Read with and without the kernel; every bit must be the same. Gives the reading."""
    fast = examine_program(text, "twin", rules)
    slow = examine_program(text, "twin", rules, kernel_on=False)
    for name in (*_COLUMNS, "spindle_rev_per_s", "timed_moves"):
        a, b = getattr(fast.program, name), getattr(slow.program, name)
        assert a.dtype == b.dtype
        assert a.shape == b.shape, name
        assert a.tobytes() == b.tobytes(), name
    for name in _ARCS:
        a, b = getattr(fast.program.arcs, name), getattr(slow.program.arcs, name)
        assert a.tobytes() == b.tobytes(), name
    assert fast.program.events == slow.program.events
    assert fast.program.notes == slow.program.notes
    assert fast.program.after == slow.program.after
    assert fast.program.lines == slow.program.lines
    assert [str(e) for e in fast.errors] == [str(e) for e in slow.errors]
    assert (fast.more, fast.good_moves, fast.good_events) == (
        slow.more,
        slow.good_moves,
        slow.good_events,
    )
    return fast


_NUMBERS = st.one_of(
    st.integers(-60, 60).map(str),
    st.decimals(-60, 60, places=3).map(str),
    st.sampled_from(
        ("+.5", "-0.", "0", "-.0", "007.2500", "1 2.5", "1.2.3", ".", "", "- 4", "9" * 17)
    ),
    st.floats(-50, 50).map(lambda v: f"{v:.14f}"),
)
_CODES = (
    *("G0", "G1", "G2", "G3", "g1", "G01", "G00", "G90", "G91", "G90", "G17", "G18"),
    *("G19", "G20", "G21", "G61", "G61.1", "G64", "G40", "G94", "G93", "G80", "G54", "G55"),
    *("G49", "G5", "G1.5", "G53", "G92", "M3", "M5", "M6", "M7", "M8", "M9", "M0"),
    *("F300", "F300", "F0", "S1000", "T2", "G70", "G71", "G90.1", "G91.1", "G64P.1", "G21.1"),
)
_WORDS = st.one_of(
    st.tuples(st.sampled_from("XYZXYZXYZIJKRF"), _NUMBERS).map("".join),
    st.tuples(st.sampled_from("xyzSTPNOE"), _NUMBERS).map("".join),
    st.sampled_from(_CODES),
    st.sampled_from(
        ("(a remark)", "(MSG, look)", "(m)", "(open", "(a (b))", "; tail", "/", "%", "#1=2", "\xe4")
    ),
)
_LINES = st.lists(_WORDS, max_size=6).flatmap(
    lambda words: st.sampled_from((" ", "", "\t", "  ")).map(lambda gap: gap.join(words))
)
_SKIPS = replace(
    WORKSHOP, skips_unknown=True, bare_motion=10, centres_absolute=True, tolerance_heeded=True
)
_STOPS = replace(
    WORKSHOP, lower_case=False, blanks_in_numbers=False, number_anywhere=False, line_ends="LF",
    longest_line=12,
)  # fmt: skip
_ENDS = st.sampled_from(("\n", "\r\n", "\r", "\n\n"))


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.tuples(_LINES, _ENDS).map("".join), max_size=25),
    st.sampled_from(("", "G21 G90 G17\nG1 F100 X1\n", "%\nG91 G2 X0 I5 F9\n")),
    st.sampled_from(("", "M2", "M30\nrest", "%")),
    st.sampled_from((STRICT, WORKSHOP, _SKIPS, _STOPS)),
)
def test_any_lines_equal_the_interpreter(lines, head, tail, rules):
    assert_twins((head + "".join(lines) + tail).encode("latin-1"), rules)


_SHORT = ("5", "-5", "0", "-0", "12.5", "-.25", "3.", "007", "123.456", "-123.456", "1234567")
_LONG = ("12345678", "123.4567", "-1234.5678", "0.0000001", "123456.789012345")
_WRONG = ("", "-", ".", "+5", "1.2.3", "1 2", "1. 5", " 7", "--1", "1-", "1,5", "0x1", "1e3", "\t3")
_STRAIGHT_WORDS = st.one_of(
    st.tuples(st.sampled_from("XYZxyzF"), st.sampled_from(_SHORT)).map("".join),
    st.tuples(st.sampled_from("XYZN"), st.sampled_from(_SHORT + _LONG + _WRONG)).map("".join),
    st.sampled_from(("G0", "G1", "G00", "G01", "g1", "G010", "G001", "G1.", "G1.0", "G2", "G10")),
    st.sampled_from(("N1", "N99999", "N000001", "N5.", "F0", "F-1", "G 1", "X20000000", "/")),
)
_STRAIGHT_LINES = st.lists(_STRAIGHT_WORDS, max_size=5).flatmap(
    lambda words: st.sampled_from((" ", "", "  ", "\t")).map(lambda gap: gap.join(words))
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.tuples(_STRAIGHT_LINES, _ENDS).map("".join), max_size=25),
    st.sampled_from(("G90\n", "G91\n", "G20\n", "G92 X0.3\n", "S100 M3\nG61\nT2\n")),
    st.sampled_from((STRICT, WORKSHOP, Dialect(name="capitals", lower_case=False))),
    st.booleans(),
)
def test_straight_lines_equal_the_interpreter(lines, modes, rules, tail):
    # Behind the last line there is text or none: eight bytes at a time must not reach beyond it.
    end = "M2\n(" + "x" * 99 + ")" if tail else ""
    assert_twins(f"G21 G90 G17\nG1 F100 X1\n{modes}{''.join(lines)}{end}".encode(), rules)


def test_short_numbers_equal_reference():
    rng = random.Random(7)
    pieces = ("", ".", "-", "+", " ", "\n", "\xff", "\x00", "\x10", "\x8a", "9", "0", "07", "48")
    for number in range(1500):
        text = "".join(rng.choice(pieces) for _ in range(rng.randrange(8)))
        if number % 2:
            digits = str(rng.randrange(10 ** rng.randrange(1, 9)))
            point = rng.randrange(len(digits) + 1)
            text = f"{digits[:point]}.{digits[point:]}{rng.choice(pieces)}{text}"
        buffer = np.frombuffer((text + " " * 9).encode("latin-1"), np.uint8)
        short, reference = short_number(buffer, 0), long_number(buffer, 0, len(buffer))
        end, _, digits, _ = reference
        assert short == (reference if digits and end <= 7 else (0, 0, 0, -1)), text
        if short[2]:  # by the language's own numbers
            assert int(short[1]) / 10 ** max(short[3], 0) == float(text.encode("latin-1")[:end])


def plain_program(seed, lines):
    """A program that nearly all is the kernel's: valid moves and arcs in every plane and mode."""
    rng = random.Random(seed)
    place = [0.0, 0.0, 0.0]
    text = ["G21 G90 G17 G94", "G1 F600 X0.001"]
    place[0] = 0.001
    normal = 2
    for number in range(lines):
        pick = rng.random()
        if pick < 0.05:
            normal = rng.randrange(3)
            text.append(("G19", "G18", "G17")[normal])
        elif pick < 0.25:
            radius = rng.uniform(0.5, 40.0)
            first, sweep = rng.uniform(0, 2 * pi), rng.uniform(0.02, 2 * pi)
            turn = rng.choice((-1, 1))
            a, b = (normal + 1) % 3, (normal + 2) % 3
            out = -radius * cos(first), -radius * sin(first)
            last = first + turn * sweep
            place[a] += out[0] + radius * cos(last)
            place[b] += out[1] + radius * sin(last)
            words = [
                f"{'XYZ'[a]}{place[a]:.12f}",
                f"{'XYZ'[b]}{place[b]:.12f}",
                f"{'IJK'[a]}{out[0]:.12f}",
                f"{'IJK'[b]}{out[1]:.12f}",
            ]
            place[a], place[b] = float(words[0][1:]), float(words[1][1:])
            rng.shuffle(words)
            text.append(f"N{number} G{2 if turn < 0 else 3} " + " ".join(words))
        else:
            k = rng.randrange(3)
            place[k] = round(rng.uniform(-300, 300), 3)
            code = rng.choice(("G0", "G1", "g01"))
            text.append(f"{code}{'xyz'[k]}{place[k]:.3f} {rng.choice(('', '(cut)', 'F480.5'))}")
    return "\n".join([*text, "M2"]).encode()


@pytest.mark.parametrize("seed", range(5))
def test_plain_program_equals_the_interpreter(seed):
    reading = assert_twins(plain_program(seed, 400))
    assert not reading.errors
    assert len(reading.program.arcs.move) > 50
    assert {0, 1, 2} == set(reading.program.arcs.normal.tolist())


@pytest.mark.parametrize(
    "text",
    [
        "G20\nG1 X1 F10\nG21 X1\nX2 F100\nM2",  # units
        "G0 X5\nG2 X15 R5 F100\nG3 X5 R-5\nG2 X6 R8\nG3 X5 R-8\nM2",  # radius form, half circles
        "G2 X0 I5 F100\nG91 G3 X0 Y0 J-3\nG18 G2 X0 K2 Y4\nM2",  # full circles, a helix
        "G10 L2 P1 X5 Y-3\nG0 X1\nG1 Y2 F50\nG55 X1\nM2",  # origins
        "G92 X10\nG1 X1 F50\nX5\nG2 X6 I0.5\nM2",
        "T3 M6\nX1\nG0 X2\nX3\nG80\nX4\nM2",  # codes wanted after a change
        "G93 G1 X10 F2\nX20 F4\nG94 G1 X0\nM2",
        "G1 X5\nX6\nF100\nX7\nM2",  # feed missing, then given
        "G1 F100 X1 Q\nG2 X9 I1\nX3\nX4 Y1 Z1\nG2 X9 I1\nM2",  # doubt ends where the place is known
        "(" + "x" * 254 + ")\nG0 X1" + " " * 251 + "\nG0 X1" + " " * 252 + "\nM2",
        "G0 X1\r\rG0 X2\r\n\r\nG0 X3\n\rM2",
        "G0 X1e5\nG0 X1.\nX20000000\nG1 F99999999 X1\nM2",
    ],
)
def test_chosen_programs_equal_reference(text):
    assert_twins(text.encode())
    assert_twins(text.encode(), WORKSHOP)


@pytest.mark.parametrize("seed", range(20))
def test_arc_geometry_equals_reference(seed):
    rng = np.random.default_rng(seed)
    for _ in range(50):
        a, b, c, d = rng.uniform(-50, 50, 4).tolist()
        turn = float(rng.choice((-1.0, 1.0)))
        assert turned_angle(a, b, c, d, turn) == turned_angle_reference(a, b, c, d, turn)
        radius = float(rng.uniform(-80, 80))
        found = centre_by_radius(a, b, radius, turn)
        assert found == centre_by_radius_reference(a, b, radius, turn)
        if found[2] == 0.0:  # by geometry: as far from both ends as the radius says
            assert np.hypot(found[0], found[1]) == pytest.approx(abs(radius), rel=1e-9)
            assert np.hypot(a - found[0], b - found[1]) == pytest.approx(abs(radius), rel=1e-9)
            sweep = turned_angle(-found[0], -found[1], a - found[0], b - found[1], turn)
            assert (abs(sweep) <= pi + 1e-9) == (radius > 0)


@pytest.mark.parametrize("seed", range(10))
def test_line_ends_equal_reference(seed):
    rng = random.Random(seed)
    text = "".join(rng.choice(("a", " ", "\t", "\r", "\n", "\r\n")) for _ in range(60)).encode()
    buffer = np.frombuffer(text, np.uint8)
    ends = list(re.finditer(rb"\r\n|\r|\n", text))
    assert count_lines(buffer, 0, len(text)) == len(ends)
    for lines, end in enumerate(ends, 1):
        assert find_line(buffer, 0, lines, len(text)) == (end.end(), 0)
    assert find_line(buffer, 0, len(ends) + 2, len(text)) == (len(text), 2)
    blank = re.match(rb"(?:[ \t]*(?:\r\n|\r|\n))*", text)[0]
    count = len(re.findall(rb"\r\n|\r|\n", blank))
    assert blank_lines(buffer, 0, len(text)) == (len(blank), count)
    first = re.search(rb"[\r\n]", text)
    assert line_end(buffer, 0, len(text)) == (first.start() if first else len(text))
