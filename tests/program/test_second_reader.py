"""The package's reader against a second one that shares no code with it.

The second reader first meets the vectors, each with its clause of NISTIR 6556; then both read whole
programs that are made to be valid, and must list the same motions and end in the same state.
"""

import cmath
import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from kerfwright.program import STRICT, WORKSHOP

from .agreement import (
    assert_same_answer,
    assert_same_listing,
    assert_same_reading,
    assert_twins,
    start_of,
)
from .odd_texts import ODD
from .second_reader import read
from .valid_programs import TABLE, programs

_CASES = json.loads(Path(__file__).with_name("vectors.json").read_text("utf-8"))["cases"]
_MOTIONS = ("rapid", "feed", "arc", "dwell", "probe")


@pytest.mark.parametrize("case", _CASES, ids=[case["name"] for case in _CASES])
def test_the_second_reader_knows_the_vectors(case):
    setup, wanted = case.get("setup", {}), case["expect"]
    found = read(case["text"], setup)
    kinds, place = case.get("compare", _MOTIONS), setup.get("start", (0, 0, 0))
    if isinstance(wanted, dict):
        assert found.fault is not None
        assert found.fault.kind in (wanted["error"], *wanted.get("also_ok", ()))
        assert found.fault.line == wanted["line"]
        wanted = wanted.get("motions_before")
    else:
        assert found.fault is None
    if wanted is not None:
        assert_same_listing(found.motions, wanted, place, apart=1e-5, kinds=kinds)
    after = case.get("after", {})
    for index, value in after.get("params", {}).items():
        assert found.after["params"].get(int(index), 0.0) == pytest.approx(value, abs=1e-9)
    assert found.after.get("messages", []) == after.get("messages", found.after.get("messages", []))
    for mode, value in after.get("modes", {}).items():
        assert found.after["modes"][mode] == value


def assert_both_read_the_same(text, setup):
    """Both readers take the program, list the same, and end in the same state."""
    second = read(text, setup)
    assert second.fault is None, second.fault
    reading = assert_twins(text.encode("ascii"), STRICT, start_of(setup))
    assert not reading.errors, [str(error) for error in reading.errors]
    assert_same_reading(reading.program, second, setup)


def assert_agree(text):
    """Both take the text or both refuse it; gives the program."""
    setup = {"tools": TABLE}
    reading = assert_twins(text, STRICT, start_of(setup))
    assert_same_answer(text, reading, setup)
    return reading.program


@pytest.mark.parametrize("text", ODD)
def test_two_readers_agree_at_the_borders(text):
    assert_agree(text.encode("ascii"))


@pytest.mark.parametrize("end", ["M2", "M30"])
def test_a_program_may_end_beside_an_outline(end):
    # 3.6.1: the end puts G40 and G54 in force; found by the second reader.
    found = assert_agree(f"F9 G41 D3\nG1 X20\n{end}\n".encode())
    assert found.after.modes["crc"] == "G40"


def test_the_mode_is_the_one_written_with_a_negative_diameter():
    # 3.5.10: the cutter goes on the other side, but the code in force is G41.
    found = assert_agree(b"%\nF9 G41 D4\nG1 X20\n%\n")
    assert found.after.modes["crc"] == "G41"
    assert found.end_mm[0, 1] < 0.0


@pytest.mark.parametrize("line", ["M3 S0\nG84 X1 Z-1 R1", "M3\nG86 X1 Z-1 R1 P1"])
def test_a_spindle_without_speed_does_not_turn(line):
    # 3.5.16.5 and .7 want it turning, and by 3.6.2 it does not before S is above 0.
    reading = assert_twins(f"F9 {line}\nM2\n".encode(), STRICT)
    assert reading.errors[0].kind == "cycle_spindle"


def test_pecks_are_counted_over_all_holes_of_a_line():
    reading = assert_twins(b"F1\nG83 X1 Z-9 R1 Q.01 L11\nM2\n", STRICT)
    assert reading.errors[0].kind == "range"
    assert "11 holes take more than 10000 pecks" in reading.errors[0].problem


@pytest.mark.parametrize("lean", ["-.04", ".04"])
@pytest.mark.parametrize("side", ["G41", "G42"])
def test_an_arc_behind_a_bend_too_small_for_a_corner_ends_where_it_says(side, lean):
    # App. B.6: the cutter goes about the arc's centre from where it stands, which is up to
    # 0.01 rad beside the start; turned by the whole sweep it missed the end by 0.01 mm.
    program = assert_agree(f"%\nF9 {side} D5\nG1 X20\nX40\nG3 X40 Y0 I{lean} J6\n%\n".encode())
    arcs = program.arcs
    assert len(arcs.move) == 2  # a small one round the end of the entry move
    from_x, from_y = program.from_mm[arcs.move[1], :2] - arcs.centre_mm[1, :2]
    turned = complex(from_x, from_y) * cmath.exp(1j * arcs.sweep_rad[1])
    missed = turned - complex(*(program.end_mm[arcs.move[1], :2] - arcs.centre_mm[1, :2]))
    assert abs(missed) < 1e-4


@pytest.mark.parametrize("before", [b"", b"G21 G1 F9 X2\n", b"M8\n"])
@pytest.mark.parametrize("rules", [STRICT, WORKSHOP], ids=["strict", "workshop"])
def test_a_line_that_begins_with_more_blanks_than_a_line_may_have_is_not_lost(before, rules):
    blanks = b" \t" * (rules.longest_line // 2 + 1)
    reading = assert_twins(before + blanks + b"G0 X1\nM2\n", rules)
    assert reading.errors[0].kind == "line_too_long"
    reading = assert_twins(before + blanks + b"\nG0 X1\nM2\n", rules)
    assert not reading.errors
    assert reading.program.end_mm[-1, 0] == 1.0


_AS_DRAWN = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.slow
@settings(_AS_DRAWN, max_examples=150)
@given(programs())
def test_two_readers_agree(drawn):
    text, setup, _ = drawn
    assert_both_read_the_same(text, setup)


@pytest.mark.long
@settings(_AS_DRAWN, max_examples=3000)
@given(programs(most_lines=20))
def test_two_readers_agree_on_many_programs(drawn):
    text, setup, _ = drawn
    assert_both_read_the_same(text, setup)
