"""Faults of a program: their words, their places, and that all of a file are gathered."""

import pickle

import pytest

from kerfwright.basics import InputErrors, Stopped
from kerfwright.program import STRICT, WORKSHOP, ProgramError, examine_program, parse_program
from kerfwright.program import read_program as read
from kerfwright.program import reader as reader_module


def faults(text, rules=STRICT):
    return examine_program(text.encode(), "shelf.nc", rules).errors


def test_the_whole_message():
    with pytest.raises(InputErrors) as caught:
        parse_program(b"G21 G90\nG1 X120.5 Z-8.O F900\nM2\n", "shelf.nc")
    assert str(caught.value) == (
        "shelf.nc:2:11: the Z word holds the letter O\n"
        "    G1 X120.5 Z-8.O F900\n"
        "              ^\n"
        "  remedy: write Z-8.0 with a zero"
    )


@pytest.mark.parametrize(
    ("line", "kind", "column", "problem", "remedy"),
    [
        # The kinds and the clauses of NISTIR 6556 that make them faults.
        ("G0 XO.5", "number", 4, "the X word holds the letter O", "write X0.5 with a zero"),
        ("GO X10", "number", 1, "the G word holds the letter O", "write G0 with a zero"),
        ("GOX10", "number", 1, "the G word holds the letter O", "write G0 with a zero"),
        ("G0 X\u22125", "syntax", 5, "this is a typographic minus", "write - in its place"),
        ("G0 X\u20135", "syntax", 5, "this is a typographic minus", "write - in its place"),
        ("G0 X5 \u2212", "syntax", 7, "this is a typographic minus", "write - in its place"),
        ("G0 X[5\u22123]", "syntax", 7, "this is a typographic minus", "write - in its place"),
        ("G0 X1,5", "syntax", 6, '"," stands where', "write a point, not a comma"),  # 3.3
        ("G0 X", "number", 4, "the X word has no number", "write digits"),  # 3.3.2
        ("G0 X-[3]", "syntax", 5, "the sign of the X word", "put it inside"),  # E.2
        ("G0 X1 (top", "comment_not_closed", 7, "not closed", "put ) at its end"),  # 3.3.4
        ("G0 X1 ; top", "syntax", 7, '";" stands where', "put the remark in parentheses"),  # 3.3
        ("G0 X[1+2", "syntax", 8, "bracket at column 5 is not closed", "close each [ with a ]"),
        ("G0 X[1 2+3 & 4]", "syntax", 12, '"&" stands where', "with + - * /"),  # 3.3.2.3
        ("G0 X[1/0]", "math", 7, "1 / 0 has no value", "check the numbers"),  # App. A
        ("G5 X1", "g_code_unknown", 1, "G5 is no code", "find out what"),  # 3.5
        ("G0 G1 X1", "modal_group_repeated", 4, "G1 and G0 exclude", "two lines"),  # 3.3.5
        ("G0 X1 A5", "rotary_axis", 7, "no rotary axis A", "three axes"),  # 5.2
        ("G0 X1 P5", "word_unused", 7, "no code on the line uses the P word", "leave it out"),
        ("X1", "g80_axis_words", 1, "no motion code has come yet", "write G0, G1"),
        ("G4", "word_missing", 1, "G4 has no P word", "add P"),  # 3.5.4
        ("G4 P-1", "range", 4, "P-1 is not from 0", "check the number"),
        ("G1 X5", "feed_zero", 1, "no feed is in force", "add F"),
        ("N123456 G0 X1", "line_number", 1, "1 to 5 digits", "N120"),  # 3.3.1
        ("G0 X1 (caf\xe9)", "syntax", 11, "a character that", "plain letters"),
        ("G0 X1e9", "letter_unknown", 6, "letter E", "leave the word out"),  # 3.3.2.1
        ("G0 X99999999", "range", 4, "leads 1e+08 mm away", "check the number"),
    ],
)
def test_words(line, kind, column, problem, remedy):
    text = (line + "\nM2\n").encode()
    found = examine_program(text, "f").errors
    assert len(found) == 1
    assert (found[0].kind, found[0].place.line, found[0].place.column) == (kind, 1, column)
    assert problem in found[0].problem
    assert remedy in found[0].remedy
    assert found[0].place.text == line


def test_every_fault_of_a_file_is_told_once():
    found = faults(
        "G21 G90\n"
        "G1 X1 F100\n"
        "G1 Y5O\n"  # where Y is, is not known from here
        "G2 X9 Y0 I4\n"  # so this arc is not blamed
        "G1 X0 Y0\n"
        "G2 X9 I1\n"  # but this one is
        "G99.5\n"
        "M2\n"
    )
    assert [(f.kind, f.place.line) for f in found] == [
        ("number", 3),
        ("arc_radius_mismatch", 6),
        ("g_code_unknown", 7),
    ]


def test_a_missing_feed_is_told_once():
    found = faults("G1 X1\nX2\nX3\nG2 X5 I1\nM2\n")
    assert [(f.kind, f.place.line) for f in found] == [("feed_zero", 1)]


def test_a_faulty_line_does_nothing():
    """NISTIR 6556, D.8.4: a line with an error leaves no trace."""
    reading = examine_program(b"G0 X1\n#5=3 (MSG,no) M3 S100 G0 X2 P7\nM2\n", "f")
    assert reading.program.moves == 1
    assert [event.kind for event in reading.program.events] == ["end"]
    assert reading.program.after.parameters == {5220: 1.0}
    assert (reading.good_moves, reading.good_events) == (1, 0)


def test_an_arc_with_absolute_centre_says_so():
    found = faults("G0 X10 Y10\nG2 X20 Y10 I15 J10 F100\nM2\n")
    assert found[0].kind == "arc_radius_mismatch"
    assert found[0].remedy == (
        "the arc is round if I J K are places, not offsets: read the file with absolute centres"
    )


def test_errors_are_bounded_and_the_rest_counted():
    reading = examine_program(b"Q\n" * 3000, "f")
    assert len(reading.errors) == reader_module.ERRORS_KEPT
    assert len(reading.errors) + reading.more == 3001  # and that it does not end
    with pytest.raises(InputErrors, match="and 2801 more like these"):
        parse_program(b"Q\n" * 3000, "f")


def test_errors_go_through_a_pickle():
    error = pickle.loads(pickle.dumps(faults("G5\nM2\n")[0]))
    assert isinstance(error, ProgramError)
    assert (error.kind, error.place.line) == ("g_code_unknown", 1)


def test_a_stop_is_passed_on():
    def stop(stage, done):
        raise Stopped

    with pytest.raises(Stopped):
        parse_program(b"G0 X1\n" * 1000, "f", progress=stop)


@pytest.mark.parametrize(
    ("name", "problem"),
    [("none.nc", "there is no such file"), ("", "this is a folder, not a file")],
)
def test_no_file(tmp_path, name, problem):
    with pytest.raises(InputErrors, match=problem):
        read(tmp_path / name)


def test_read_from_disk(tmp_path):
    path = tmp_path / "Kitschränkchen 1.nc"
    path.write_bytes(b"G21\r\nG0 X1\r\nM2\r\n")
    program = read(path)
    assert (program.moves, program.lines, program.file) == (1, 3, str(path))
    assert program.text_of(2) == "G0 X1"
    assert program.text_of(4) == program.text_of(0) == ""


class TestWorkshopRules:
    """Looser rules, each told in the notes. Common practice, no source."""

    @pytest.mark.parametrize(
        ("text", "note"),
        [
            ("\xef\xbb\xbfG0 X1\nM2\n", "byte-order mark"),
            ("%\nO1234 (lid)\nG0 X1\nM2\n%\n", "1 line with a program number, first on line 2"),
            (":55\nG0 X1\nM2\n", "1 line with a program number, first on line 1"),
            ("% lid\nG0 X1\n%\n", "1 line with a % that the standard does not have there"),
            ("G0 X1\n%\n", "the % on line 2 was read as the end"),
            ("%\nG0 X1\nX2\n", "the % on line 1 opens the program and none closes it"),
            ("G0 X1\n", "ends without M2 or M30"),
            ("G0 X1 ; left edge\nG0 X2;\nM2\n", "2 lines with a remark behind a semicolon, fi"),
            ("G0 X1 (caf\xe9)\nM2\n", "1 line with letters in a remark"),
            ("N123456 G0 X1\nN123457 G0 X2\nM2\n", "2 lines with an N number of more than 5"),
            ("G91 G90 G1 X1 F100\nM2\n", "1 line with two codes that exclude each other"),
            ("M6 M3 M7 M48 M0\nM2\n", "1 line with more than 4 M words"),
            ("F100\nG2 I5\nM2\n", "1 line with a full circle and no end point, first on line 2"),
            ("F100\nG2 X10.03 I5\nM2\n", "the largest difference is 0.0300 mm"),
            ("F100\nG2 X10.003 R5\nM2\n", "by up to 0.0030 mm: read as half circles"),
        ],
    )
    def test_tolerated_and_told(self, text, note):
        data = text.encode("latin-1")
        assert examine_program(data, "f", STRICT).errors
        for kernel_on in (True, False):
            program = parse_program(data, "f", WORKSHOP, kernel_on=kernel_on)
            assert any(note in told for told in program.notes), program.notes

    def test_letters_of_messages_and_lines(self):
        text = "G21 G90 (caf\xe9)\nG0 X1 (MSG, Gr\xf6\xdfe)\nM2\n"
        for coding in ("utf-8", "latin-1"):
            program = parse_program(text.encode(coding), "f", WORKSHOP)
            assert program.after.messages == ("Gr\xf6\xdfe",)
            assert program.text_of(1) == "G21 G90 (caf\xe9)"

    def test_the_last_of_two_codes_counts(self):
        program = parse_program(b"G91 G90 G80 G1 X1 G1 F100\nX2\nM2\n", "f", WORKSHOP)
        assert program.kind.tolist() == [1, 1]
        assert program.end_mm[:, 0].tolist() == [1.0, 2.0]
        assert any("codes that exclude each other" in note for note in program.notes)

    @pytest.mark.parametrize("text", ["G1 Z-1 F300 G0\n", "G0 G1 X1 F9\n", "G1 G2 X1 I1 F9\n"])
    def test_two_kinds_of_motion_stay_a_fault(self, text):
        """Else the last one would turn a plunge into a rapid."""
        found = faults("G0 X0\n" + text + "M2\n", WORKSHOP)
        assert [error.kind for error in found] == ["modal_group_repeated"]

    @pytest.mark.parametrize("text", ["G5 X1\n", "M98 P1\n", "G0 X1O\n", "G72\n", "T1 M106\n"])
    def test_unknown_stays_unknown(self, text):
        assert examine_program(text.encode(), "f", WORKSHOP).errors


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("G0 X1\nM2\n", "neither G20 nor G21 comes before the first move: read as mm"),
        ("G21\nG0 X1\nM2\n", "neither G90 nor G91 comes before the first move"),
        ("G21 G90 G0 X1\nG2 X3 I1 F9\nM2\n", "no plane is chosen before the first arc"),
        ("G21 G90 G1 X1 F9\nG20 X2\nM2\n", "1 line at a feed that was given before the units"),
        ("G21 G90 G1 X1 F9\nG20 X2 F9\nM2\n", "F and a change of units stand on one line"),
        ("G90 G21 G0 X1\nG20\nM2\n", "the units change after the first move, on line 2"),
        ("G21 G90 G0 X1\nT1 M6\nX2\nM2\n", "1 line with coordinates and no motion code after"),
        ("G4 P100\nM2\n", "1 line with a dwell of 100 s or more"),
        ("G53 G0 Z0\nM2\n", "counted from the machine's own zero"),
        ("G43 H4\nM2\n", "G43 on line 1 names a slot whose length is not known"),
        ("G38.2 Z-9 F9\nM2\n", "contact was assumed at its programmed end"),
        ("F9\nG3 X10 R5\nM2\n", "an arc that R describes poorly"),
        ("F9\nG99 G81 X1 Z-1 R1\nG98 X2\nM2\n", "G98 after G99 within one run of holes"),
    ],
)
def test_what_is_assumed_is_told(text, note):
    assert any(note in told for told in parse_program(text.encode(), "f").notes)


def test_nothing_to_tell():
    program = parse_program(b"G21 G90 G17\nG1 X1 F100\nG2 X3 I1\nM2\n", "f")
    assert program.notes == ()
