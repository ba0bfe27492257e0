"""Each switch of the rules of reading: what it lets pass, what it stops, what is told.

Common practice, no source, but for G70 and G71: ISO 6983-1:1982, from memory. The kernel and the
interpreter must agree on all of it.
"""

from dataclasses import replace

import pytest

from kerfwright.program import STRICT, WORKSHOP, StartState, examine_program, parse_program


def both(text, rules, start=None):
    """The reading, with the kernel and without it: the same moves, events, notes and faults."""
    fast, slow = (
        examine_program(text.encode("latin-1"), "job.nc", rules, start, kernel_on=on)
        for on in (True, False)
    )
    assert fast.program.end_mm.tobytes() == slow.program.end_mm.tobytes()
    assert fast.program.arcs.centre_mm.tobytes() == slow.program.arcs.centre_mm.tobytes()
    assert fast.program.events == slow.program.events
    assert fast.program.notes == slow.program.notes
    assert [str(e) for e in fast.errors] == [str(e) for e in slow.errors]
    return fast


def read(text, start=None, **switches):
    """A program without faults under the workshop's rules with some switches set."""
    reading = both(text, replace(WORKSHOP, **switches), start)
    assert not reading.errors, str(reading.errors[0])
    return reading.program


def faults(text, start=None, **switches):
    return [(e.place.line, e.place.column, e.kind) for e in both(
        text, replace(WORKSHOP, **switches), start).errors]  # fmt: skip


HEAD = "G21 G90 G17\nG0 X1\n"


def told(program, words):
    return [note for note in program.notes if words in note]


def test_units_by_the_older_codes():
    program = read("G90 G17\nG70 G0 X1\nX2\nG71 X3\nM2\n")
    assert program.end_mm[:, 0].tolist() == [25.4, 50.8, 3.0]
    assert told(program, "2 lines with G70 or G71, first on line 2")
    assert not told(program, "neither G20 nor G21")
    assert both("G70\nM2\n", STRICT).errors[0].kind == "g_code_unknown"
    assert faults(HEAD + "G70\nM2\n", old_unit_codes=False) == [(3, 1, "g_code_unknown")]


def test_arc_centres_by_codes_hold_until_the_next_one():
    text = HEAD + (
        "G1 X10 Y0 F100\nG90.1 G2 X20 Y0 I15 J0\nX30 I25 J0\nG91.1\nG2 X40 I5 J0\n"
        "G90.1\nG3 X30 I35 J0\nM2\n"
    )
    program = read(text)
    assert program.arcs.centre_mm[:, 0].tolist() == [15.0, 25.0, 35.0, 35.0]
    assert told(program, "3 lines with G90.1 or G91.1, first on line 4")
    assert faults(text.replace("\nG91.1", "")) == [(6, 8, "arc_radius_mismatch")]
    assert both("G91.1\nM2\n", STRICT).errors[0].kind == "g_code_unknown"
    assert faults(HEAD + "G91.1\nM2\n", centre_codes=False) == [(3, 1, "g_code_unknown")]


def test_a_machine_of_absolute_centres_heeds_g91_1_too():
    program = read(HEAD + "G91.1 G2 X11 I5 J0 F90\nM2\n", centres_absolute=True)
    assert program.arcs.centre_mm[0, 0] == 6.0


def test_path_tolerance_is_kept_as_an_event():
    text = HEAD + "G64 P0.05\nG1 X2 F60\nG64 X3\nG20 G64 P.01\nG64P.01\nM2\n"
    program = read(text, tolerance_heeded=True)
    events = [(e.before_move, e.value) for e in program.events if e.kind == "tolerance"]
    assert events == [(1, 0.05), (2, -1.0), (3, pytest.approx(0.254))]
    assert told(program, "3 lines with a path tolerance (G64 P), first on line 3: this machine rou")
    assert told(
        read(text), "3 lines with a path tolerance (G64 P), first on line 3: this machine do"
    )
    assert both("G64 P.1\nM2\n", STRICT).errors[0].kind == "word_unused"
    assert faults(text, tolerance_words=False)[0] == (3, 5, "word_unused")
    assert faults(HEAD + "G64 P-1\nG64 P101\nM2\n") == [(3, 5, "range"), (4, 5, "range")]


def test_p_of_a_dwell_is_no_path_tolerance():
    program = read(HEAD + "G64 G4 P2\nM2\n")
    assert [(e.kind, e.value) for e in program.events if e.kind != "end"] == [("dwell", 2.0)]


@pytest.mark.parametrize("code", ["G21.1", "G20.1", "G70.1", "G71.1", "G90.2", "G64.1", "G72"])
def test_codes_beside_known_ones_stay_errors(code):
    assert faults(f"{HEAD}{code}\nM2\n") == [(3, 1, "g_code_unknown")]


def test_coordinates_before_any_motion_code():
    text = "G21 G90 G17 F60\nX5\nY5\nG0 X6\nM2\n"
    assert faults(text) == [(2, 1, "g80_axis_words")]
    feed = read(text, bare_motion=10)
    assert feed.kind.tolist() == [1, 1, 0]
    assert told(feed, "no motion code comes before the coordinates on line 2: read as G1")
    rapid = read(text, bare_motion=0)
    assert rapid.kind.tolist() == [0, 0, 0]
    assert told(rapid, "on line 2: read as G0")


def test_coordinates_behind_g80_stay_an_error():
    assert faults(HEAD + "G80\nX2\nM2\n", bare_motion=10) == [(4, 1, "g80_axis_words")]
    assert faults("G80 X2\nM2\n", bare_motion=10) == [(1, 5, "g80_axis_words")]


def test_nothing_is_told_of_bare_coordinates_where_a_code_came():
    assert not told(read(HEAD + "X2\nM2\n", bare_motion=10), "no motion code")


def test_small_letters():
    text = HEAD + "g0 x2\nG0 X3 (small here)\nG0 X4 ; and here\nM2\n"
    assert read(text).end_mm[:, 0].tolist() == [1.0, 2.0, 3.0, 4.0]
    assert faults(text, lower_case=False) == [(3, 1, "syntax")]
    assert faults(HEAD + "G0 Xsin[0]\nM2\n", lower_case=False) == [(3, 5, "syntax")]


def test_blanks_inside_numbers():
    text = HEAD + "G0 X1 2.5\nX 3 Y4\nM2\n"
    program = read(text)
    assert program.end_mm[1, 0] == 12.5
    assert told(program, "1 line with a blank inside a number, first on line 3: read as one number")
    assert faults(text, blanks_in_numbers=False) == [(3, 6, "syntax")]
    assert not told(read(HEAD + "X2 (1 2) Y3 (3) ; 4 5\nM2\n"), "blank")


@pytest.mark.parametrize(
    ("ends", "taken", "line"),
    [
        (("\n", "\r\n", "\r"), "any", 0),
        (("\n", "\n", "\n"), "LF", 0),
        (("\n", "\r\n", "\n"), "LF", 2),
        (("\r\n", "\r\n", "\r\n"), "CR LF", 0),
        (("\r\n", "\r\n", "\n"), "CR LF", 3),
        (("\r", "\r\n", "\r\n"), "CR LF", 1),
        (("\r", "\r", "\r"), "CR", 0),
        (("\r", "\n", "\r"), "CR", 2),
    ],
)
def test_line_ends(ends, taken, line):
    text = "".join(a + b for a, b in zip(("G21 G90 G0 X1", "X2", "X3"), ends, strict=True)) + "M2"
    reading = both(text, replace(WORKSHOP, line_ends=taken))
    assert [e.kind for e in reading.errors] == (["line_end"] if line else [])
    if line:
        assert f"line {line} ends with" in str(reading.errors[0])
        assert f"takes {taken} alone" in str(reading.errors[0])
    else:
        assert reading.program.end_mm[:, 0].tolist() == [1.0, 2.0, 3.0]


def test_long_lines_are_told():
    long = "G0 X2 (" + "x" * 300 + ")\n"
    assert told(read(HEAD + long + "X3\n" + long + "M2\n"), "2 lines with more than 256 characters")
    assert faults(HEAD + long + "M2\n", longest_line=300) == [(3, 301, "line_too_long")]
    assert read(HEAD + long + "M2\n", longest_line=308).moves == 2


def test_numbers_of_lines_anywhere():
    program = read(HEAD + "X2 N20 Y3\nG0 N30 X4\nN5 X6 N7\nM2\n")
    assert program.end_mm[1:, 0].tolist() == [2.0, 4.0, 6.0]
    assert told(program, "3 lines with an N number that is not first on it, first on line 3")
    assert faults(HEAD + "X2 N20\nX3 N1.5\nM2\n", number_anywhere=False) == [
        (3, 4, "line_number"),
        (4, 4, "line_number"),
    ]
    assert faults(HEAD + "X3 N1.5\nM2\n") == [(3, 4, "line_number")]


def test_lines_with_a_slash():
    text = HEAD + "/X2\n/ N7 X3\nM2\n"
    run = read(text)
    assert run.end_mm[:, 0].tolist() == [1.0, 2.0, 3.0]
    assert told(run, "2 lines with a slash in front, first on line 3: carried out")
    left_out = read(text, StartState(block_delete=True))
    assert left_out.end_mm[:, 0].tolist() == [1.0]
    assert told(left_out, "2 lines with a slash in front, first on line 3: left out")


class TestUnknownWords:
    """On a machine that skips what it does not know."""

    @pytest.mark.parametrize(
        ("line", "shown"),
        [
            ("X2 E5", "E5"),
            ("G50 M123", "G50"),
            ("M123 X2", "M123"),
            ("G21.1", "G21.1"),
            ("G1 X2 F60 P3", "P3"),
            ("X2 A90", "A90"),
            ("G50 G0 X2", "G50"),
            ("T1 M6 H1", "H1"),
            ("N9 G28.1 ; X0", "G28.1"),
            ("O12 X2 U1 V2", "U1"),  # O and a number in front is the program's number
        ],
    )
    def test_are_skipped_and_told(self, line, shown):
        program = read(f"{HEAD}{line}\nG0 X9 W1\nM2\n", skips_unknown=True)
        assert program.end_mm[-1].tolist() == [9.0, 0.0, 0.0]
        assert told(
            program,
            f"2 lines with words that this machine does not know and skips, first {shown} on"
            " line 3",
        )

    @pytest.mark.parametrize("line", ["X2 E5", "G50", "M123", "X2 P3", "X2 A90"])
    def test_stop_other_machines(self, line):
        assert len(faults(f"{HEAD}{line}\nM2\n")) == 1

    @pytest.mark.parametrize(
        ("line", "column", "kind"),
        [
            ("G5 X2 Y3", 1, "g_code_unknown"),  # does it move, and how?
            ("G5.1 I2 J3", 1, "g_code_unknown"),
            ("X5O", 1, "number"),  # the letter O for a nought is a slip, no word
            ("X2 E", 4, "number"),
            ("X2 X3", 4, "word_repeated"),
            ("X2 ! 5", 4, "syntax"),
        ],
    )
    def test_what_is_no_word_or_may_move_stays_an_error(self, line, column, kind):
        assert faults(f"{HEAD}{line}\nM2\n", skips_unknown=True) == [(3, column, kind)]

    def test_codes_that_the_machine_knows_are_not_skipped(self):
        program = read(HEAD + "G70\nX1\nM2\n", skips_unknown=True, old_unit_codes=False)
        assert program.end_mm[-1, 0] == 1.0
        assert told(program, "first G70 on line 3")


def test_a_stop_with_text_in_parentheses():
    program = read(HEAD + "M0 (turn the board)\nM1 ; look\nM2\n")
    assert [e.kind for e in program.events] == ["stop", "end"]
    assert "put a remark in parentheses" in str(
        both(HEAD + "M0 turn the board\nM2\n", WORKSHOP).errors[0]
    )


def test_a_program_that_names_its_units():
    assert parse_program(b"G20 G0 X1\nM2\n", "a", WORKSHOP).unit_mm == 25.4
    assert parse_program(b"G20 G0 X1\nM2\n", "a", WORKSHOP).unit_said
    late = parse_program(b"G0 X1\nG20 X1\nM2\n", "a", WORKSHOP)
    assert (late.unit_mm, late.unit_said) == (None, False)
    assert parse_program(b"M2\n", "a", WORKSHOP).unit_said  # nothing moves
