"""Clauses of NISTIR 6556 that the vectors leave thin: expressions, cycles, probing."""

from math import atan2, degrees, isfinite

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.program import StartState, examine_program, parse_program
from kerfwright.program.expressions import Values
from kerfwright.program.listing import entries
from kerfwright.program.problem import Fault


def value(text, parameters=None):
    return Values(text, parameters or {}).value("value", 1)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("[2**3**2]", 64.0),  # 3.3.2.3: powers from left to right
        ("[1 OR 1 AND 0]", 0.0),  # the logic and the sums are one group
        ("[10-4-3]", 3.0),
        ("[2+3*4**2/8]", 8.0),
        ("[7 MOD 4]", 3.0),
        ("[0-7 MOD 4]", -3.0),  # MOD binds tighter than the minus
        ("[[0-7] MOD 4]", 1.0),  # not negative for a divisor above 0 (from memory)
        ("ROUND[2.5]", 3.0),  # ties away from zero: ours, the clause gives none
        ("ROUND[-2.5]", -3.0),
        ("FIX[-2.8]", -3.0),  # 3.3.2.4: the next lower
        ("FUP[-2.8]", -2.0),
        ("s i n [ 3 0 ]", 0.5),  # 3.3: blanks mean nothing
        ("ATAN[1]/[-1]", 135.0),
        ("#1", 5.0),
        ("##2", 5.0),
        ("[#1+1]", 6.0),  # 3.3.2.2: the number sign binds first
        ("#[1+1]", 1.0),
        ("1 2. 5", 12.5),
        ("EXP[LN[3]]", 3.0),
        ("[5 xor 0]", 1.0),
    ],
)
def test_values(text, wanted):
    assert value(text, {1: 5.0, 2: 1.0}) == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["LN[0]", "SQRT[-1]", "ACOS[2]", "[1 MOD 0]", "[[0-8]**[1/3]]", "EXP[9999]", "[0**[0-1]]"],
)
def test_no_value(text):
    with pytest.raises(Fault) as caught:
        value(text)
    assert caught.value.kind == "math"


_LEAF = st.floats(-50, 50).map(lambda x: f"{x:.3f}")


def _join(parts):
    return st.tuples(parts, st.sampled_from("+-*"), parts).map(lambda t: f"[{t[0]} {t[1]} {t[2]}]")


@given(st.recursive(_LEAF, _join, max_leaves=12))
def test_sums_and_products_as_in_arithmetic(text):
    wanted = eval(text.replace("[", "(").replace("]", ")"))
    found = value(text)
    assert isfinite(found)
    assert found == wanted


@given(st.floats(-9, 9), st.floats(-9, 9))
def test_atan_knows_its_quadrant(y, x):
    y, x = round(y, 3), round(x, 3)
    assert value(f"ATAN[{y:.3f}]/[{x:.3f}]") == pytest.approx(degrees(atan2(y, x)))


def moves(text, **start):
    program = parse_program(text.encode(), "f", start=StartState(**start))
    return [
        (entry["type"], *entry["to"]) if "to" in entry else tuple(entry.values())[:2]
        for entry in entries(program)
    ]


def test_a_cycle_in_incremental_mode_counts_from_where_it_is():
    """3.5.16: with G91, R counts from the present Z, Z from R, both for every repeat."""
    found = moves("G91 F60 G82 G99 X5 Z-2 R-1 P.5 L2\nM2\n", start_mm=(0.0, 0.0, 10.0))
    hole = [("feed", 5, 0, 7), ("dwell", 0.5), ("rapid", 5, 0, 9)]
    assert found == [
        *[("rapid", 5, 0, 10), ("rapid", 5, 0, 9), *hole],
        *[("rapid", 10, 0, 9), ("feed", 10, 0, 7), ("dwell", 0.5), ("rapid", 10, 0, 9)],
    ]


def test_words_stay_only_while_the_same_cycle_does():
    found = examine_program(b"F9 G82 X1 Z-1 R1 P1\nG81 X2\nM2\n", "f").errors
    assert [(f.kind, f.place.line) for f in found] == [("word_missing", 2)]
    found = examine_program(b"F9 G82 X1 Z-1 R1 P1\nG0 X9\nG82 X2\nM2\n", "f").errors
    assert [(f.kind, f.place.line) for f in found] == [("word_missing", 3)]


def test_pecks_stay_below_clear_and_reach_the_bottom():
    found = moves("F9 G83 G98 X1 Z-5 R.1 Q2\nM2\n", start_mm=(0.0, 0.0, 4.0))
    down = [move[3] for move in found if move[0] == "feed"]
    assert down == pytest.approx([-1.9, -3.9, -5.0])
    again = [move[3] for move in found if move[0] == "rapid"]
    assert again == pytest.approx([4.0, 0.1, 4.0, -1.9 + 0.254, 4.0, -3.9 + 0.254, 4.0])


def test_cycle_with_inches_and_an_origin():
    text = "G20 F10\nG10 L2 P1 X1 Z1\nG81 X1 Z-.5 R.1\nM2\n"
    found = moves(text, start_mm=(0.0, 0.0, 50.0))
    assert found == [
        ("rapid", 50.8, 0, 50),
        ("rapid", 50.8, 0, pytest.approx(27.94)),
        ("feed", 50.8, 0, pytest.approx(12.7)),
        ("rapid", 50.8, 0, 50),
    ]


def test_back_boring_needs_its_words():
    for letter in "IJK":
        words = {"I": "I1", "J": "J1", "K": "K-1"} | {letter: ""}
        text = f"F9 M3 S9 G87 X1 Z-3 R1 {' '.join(words.values())}\nM2\n"
        assert examine_program(text.encode(), "f").errors[0].kind == "word_missing"


@pytest.mark.parametrize("contact", [(3.0, 0.0, 0.0), (5.2, 0.0, 0.0)])
def test_the_probe_stops_at_contact(contact):
    text = b"G92 X-10\nG38.2 X-5 F60\nM2\n"
    program = parse_program(text, "f", start=StartState(probe_contact_mm=contact))
    assert program.end_mm.tolist() == [list(contact)]
    assert program.after.parameters[5061] == pytest.approx(contact[0] - 10.0)
    found = examine_program(text, "f", start=StartState(probe_contact_mm=(6.0, 0.0, 0.0))).errors
    assert found[0].kind == "probe_no_contact"


def test_a_probe_already_in_contact_is_listed_and_does_not_move():
    program = parse_program(
        b"G38.2 X5 F60\nG1 X9\nM2\n", "f", start=StartState(probe_contact_mm=(0.0, 0.0, 0.0))
    )
    found = entries(program)
    assert [(e["type"], e["line"]) for e in found] == [("probe", 1), ("feed", 2)]


def test_settings_of_a_faulty_line_are_undone():
    program = examine_program(b"#7=1\n#7=2 G55 #8=3 G0 P5\n#9=#7\nM2\n", "f").program
    assert program.after.parameters == {5220: 1.0, 7: 1.0, 9: 1.0}


def test_messages_are_kept_in_order():
    program = parse_program(b"(MSG, fit the 6 mm)\n(msg,)\nG0 X1 (MSG,up)\nM2\n", "f")
    assert program.after.messages == ("fit the 6 mm", "", "up")
    assert [(e.kind, e.before_move, e.words) for e in program.events][:3] == [
        ("message", 0, "fit the 6 mm"),
        ("message", 0, ""),
        ("message", 0, "up"),
    ]


def test_skipped_lines_are_read_all_the_same():
    """2.2.2: block delete skips the line; a fault of reading in it still shows."""
    start = StartState(block_delete=True)
    assert parse_program(b"/G0 X1\nM2\n", "f", start=start).moves == 0
    assert examine_program(b"/G0 XX\nM2\n", "f", start=start).errors


def test_the_start_parameters_are_used():
    start = StartState(parameters={5220: 3.0, 5261: 7.0, 5211: 1.0, 100: 2.5})
    program = parse_program(b"G0 X#100\nM2\n", "f", start=start)
    assert program.end_mm.tolist() == [[10.5, 0, 0]]
