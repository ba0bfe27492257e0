"""Broken texts: refused in words and in bounded work, the same with the kernel on and off.

Bytes of no meaning, and programs and vectors with a few bytes changed. The second reader must
refuse the same texts, on the same line first, and read the others to the same motions.
"""

import json
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kerfwright.program import STRICT, WORKSHOP
from kerfwright.program.problem import KINDS
from kerfwright.program.program import as_words

from .agreement import assert_same_answer, assert_twins, start_of
from .valid_programs import TABLE, programs

_SETUP = {"tools": TABLE}
_START = start_of(_SETUP)
_CASES = json.loads(Path(__file__).with_name("vectors.json").read_text("utf-8"))["cases"]
_TEXTS = [case["text"].encode() for case in _CASES]
_PIECES = (
    *(
        b"\n",
        b"\r\n",
        b"\r",
        b" ",
        b"\t",
        b"%",
        b"/",
        b";",
        b"(",
        b")",
        b"[",
        b"]",
        b"#",
        b"=",
        b".",
    ),
    *(
        b"-",
        b"+",
        b"0",
        b"1",
        b"9" * 20,
        b"1e9",
        b"\x00",
        b"\xff",
        b"\xef\xbb\xbf",
        b"\xe2\x88\x92",
    ),
    *(b"G1", b"G2", b"G3", b"G18", b"G20", b"G28", b"G41", b"G53", b"G80", b"G83", b"G91", b"G92"),
    *(b"G93", b"G94", b"M2\n", b"M6", b"R5", b"R-5", b"Q.001", b"L999", b"P-1", b"F0", b"F", b"D2"),
    *(b"X", b"#5220=7", b"#1=#2", b"atan[1]/", b"**", b"mod", b"[1/0]", b"x99999999", b"N5", b"o1"),
)
_SIGNS = b"GXYZIJKRFMPLQDHSTNA0123456789.-#"
#: Work that one line may make: 10 000 holes or pecks, each of a few moves.
_MOVES_OF_A_LINE = 41_000


@st.composite
def broken(draw):
    """A valid program or a vector's text, changed in a few places."""
    text = draw(st.sampled_from(_TEXTS))
    if draw(st.integers(0, 2)) == 0:
        text = draw(programs(most_lines=4))[0].encode()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        end = min(len(text), at + draw(st.integers(1, 6)))
        how = draw(st.integers(0, 9))
        if how == 0:
            text = text[:at] + text[end:]
        elif how == 1:
            text = text[:at] + bytes([draw(st.integers(0, 255))]) + text[end:]
        elif how == 2:
            text = text[:at] + draw(st.sampled_from(_PIECES)) + text[at:]
        elif how == 3:
            text = text[:at] + text[at:end] * 2 + text[end:]
        elif how == 4:
            other = draw(st.integers(0, len(text)))
            low, high = min(end, other), max(end, other)
            text = text[:at] + text[low:high] + text[at:]
        elif how == 5:
            text = text[:at]
        elif how == 6:
            text = text[:at] + draw(st.sampled_from(_PIECES)) + text[end:]
        else:
            text = text[:at] + bytes([draw(st.sampled_from(_SIGNS))]) + text[at + 1 :]
    return text


def lines_of(text):
    return re.split(rb"\r\n|\r|\n", text)


def assert_refused_or_read(text):
    """Nothing but faults with a place in the text; bounded work; twins; by both sets of rules."""
    lines = lines_of(text)
    for rules in (WORKSHOP, STRICT):
        reading = assert_twins(text, rules, _START)
        nothing = b"\xef\xbb\xbf" if rules is WORKSHOP and len(lines) == 1 else b""
        assert reading.program.lines == len(lines) - (lines[-1] in (b"", nothing))
        assert reading.program.moves <= _MOVES_OF_A_LINE * len(lines)
        assert len(reading.program.events) <= _MOVES_OF_A_LINE * len(lines)
        for error in reading.errors:
            place = error.place
            assert error.kind in KINDS
            assert error.problem
            assert error.remedy
            assert 0 <= place.line <= len(lines)
            # A fault may stand just behind the last letter.
            line = lines[place.line - 1] if place.line else b""
            assert (place.line == 0) == (place.column == 0)
            assert place.column <= len(as_words(line)) + 1
    refused_whole = bool(reading.errors) and reading.errors[0].kind == "not_text"
    assert refused_whole == (b"\0" in text or text.startswith((b"\xff\xfe", b"\xfe\xff")))
    if not refused_whole:
        assert_same_answer(text, reading, _SETUP)


_AS_DRAWN = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


@settings(_AS_DRAWN, max_examples=150)
@given(st.one_of(st.binary(max_size=60), st.text("GXYZMIJRFN0123. \n-#[]()%/", max_size=80)))
def test_bytes_of_no_meaning(drawn):
    assert_refused_or_read(drawn if isinstance(drawn, bytes) else drawn.encode())


@pytest.mark.slow
@settings(_AS_DRAWN, max_examples=200)
@given(broken())
def test_broken_programs(text):
    assert_refused_or_read(text)


@pytest.mark.long
@settings(_AS_DRAWN, max_examples=6000)
@given(broken())
def test_many_broken_programs(text):
    assert_refused_or_read(text)
