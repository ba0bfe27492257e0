"""Files that are no programs, or are made to hurt: refused or read in bounded time and memory."""

import os
import random
import tracemalloc

import pytest

from kerfwright.basics import InputErrors
from kerfwright.program import STRICT, WORKSHOP, columns, examine_program, read_program
from kerfwright.program import reader as reader_module

MB = 1_000_000


def examine(text, rules=STRICT):
    """Read; the reader must come up for air at least once for each MiB of text."""
    breaths = []
    reading = examine_program(text, "f", rules, progress=lambda stage, done: breaths.append(done))
    assert all(0.0 <= done <= 1.0 for done in breaths)
    return reading, breaths


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        (random.Random(1).randbytes(2 * MB), "not_text", "a byte of value 0"),
        (b"G0 X1\n\0", "not_text", "line 2 holds a byte of value 0"),
        (("G0 X1\n" * 9).encode("utf-16"), "not_text", "16 or 32 bits"),
        (("G0 X1\n" * 9).encode("utf-16-le"), "not_text", "a byte of value 0"),
        (("G0 X1\n" * 9).encode("utf-32-be"), "not_text", "a byte of value 0"),
        (b"\xef\xbb\xbfG0 X1\nM2\n", "syntax", "a byte-order mark stands here"),
        (b"G0 X" + b"1" * (20 * MB), "line_too_long", "more than 256 characters"),
        (b"(" + b"G0 X1" * (4 * MB), "line_too_long", "more than 256 characters"),
        (b"G0 X" + b"[" * 200 + b"\nM2", "syntax", "more than 40 deep"),
        (b"G0 X" + b"#" * 200 + b"1\nM2", "syntax", "more than 40 deep"),
        (b"\n" * (20 * MB), "no_program_end", "no line of a program"),
        (b"\r" * (5 * MB), "no_program_end", "no line of a program"),
        (b" " * (5 * MB), "no_program_end", "no line of a program"),
        (b"", "no_program_end", "no line of a program"),
        (b"F1\nG81 X1 Z-1 R1 L1" + b"0" * 9 + b"\nM2", "range", "whole number from 1 to 10000"),
        (b"F1\nG83 X1 Z-99 R1 Q.0001\nM2", "range", "more than 10000 pecks"),
        (b"#1=99\nG0 X[#1**#1**#1]\nM2", "math", "has no value"),
    ],
)
def test_refused_in_words(text, kind, words):
    reading, _ = examine(text)
    assert reading.errors[0].kind == kind
    assert words in reading.errors[0].problem


def test_deep_brackets_on_long_lines():
    reading, _ = examine(b"G0 X" + b"[" * 1900 + b"\nM2", WORKSHOP)
    assert reading.errors[0].kind == "syntax"


def test_millions_of_errors():
    reading, _ = examine(b"Q\n" * (10 * MB))
    assert len(reading.errors) + reading.more == reader_module.ERRORS_COUNTED


def test_it_can_be_stopped_everywhere():
    for line in (b"G0 X1\nX2\n", b"\n"):
        _, breaths = examine(line * (3 * MB // len(line)))
        assert len(breaths) > 3
    for line in (b"#1=1\n", b"Q\n", b"F9 G81 X1 Z-1 R1 L9\n", b"G1 F0\n"):
        _, breaths = examine(line * 2000)
        assert len(breaths) > 10


def assert_flat(text, kind, rules=STRICT):
    """Refused for ``kind`` with next to no memory beside the text."""
    tracemalloc.start()
    reading = examine_program(text, "f", rules)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert reading.errors[0].kind == kind
    assert peak < 0.02 * len(text) + 20 * MB
    return reading


def test_a_program_cut_short_anywhere_is_refused():
    text = b"%\nG21 G90 G17\nF100 S9000 M3\nG1 X1.5 Y[2+1]\nG2 X3 I0.75\n(done)\nM2\n%\n"
    for end in range(len(text) - len(b"2\n%\n") + 1):
        for kernel_on in (True, False):
            reading = examine_program(text[:end], "f", kernel_on=kernel_on)
            assert reading.errors, end
    for rules in (STRICT, WORKSHOP):
        assert not examine_program(text, "f", rules).errors


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (b"\xff\xfe" + b"G\x000\x00 \x00X\x001\x00\n\x00" * (2 * MB), "not_text"),
        (b"G\x000\x00 \x00X\x001\x00\n\x00" * (2 * MB), "not_text"),
        (b"G0 X1\n" * (2 * MB) + b"\0", "not_text"),
        ((b"G0 X" + b"[" * 200 + b"\n") * 400, "syntax"),
        ((b"G0 X" + b"[" * 40 + b"1" + b"]" * 39 + b"\n") * 400, "syntax"),
        ((b"G0 X" + b"SIN[" * 50 + b"\n") * 400, "syntax"),
    ],
)
def test_refused_with_flat_memory(text, kind):
    assert_flat(text, kind)


@pytest.mark.parametrize("rules", [STRICT, WORKSHOP])
def test_bytes_of_any_kind_but_zero(rules):
    # Nor a %, which ends the program where it stands alone.
    text = (
        random.Random(4).randbytes(8 * MB).translate(bytes([1, *range(1, 37), 1, *range(38, 256)]))
    )
    reading = assert_flat(text, "syntax", rules)
    assert len(reading.errors) + reading.more == reader_module.ERRORS_COUNTED


@pytest.mark.long
@pytest.mark.parametrize(
    ("head", "rest", "kind"),
    [
        (b"G0 X", b"1", "line_too_long"),
        (b"M2\n", b"X", ""),  # behind the end of the program: not read
        (b"(", b"x", "line_too_long"),
        (b"", b"\n", "no_program_end"),
        (b"", b"\0", "not_text"),
        (b"", b"\x8a", "line_too_long"),
    ],
)
def test_the_largest_files_of_one_line(head, rest, kind):
    text = head + rest * (reader_module.MOST_BYTES - len(head))
    if kind:
        assert_flat(text, kind)
    else:
        assert examine_program(text, "f").program.lines == 2
    assert_flat(text + b"XX", "too_large")


@pytest.mark.long
def test_a_gigabyte_in_one_line(tmp_path):
    path = tmp_path / "long.nc"
    path.touch()
    os.truncate(path, 2**30)  # a hole: takes no room on disk
    tracemalloc.start()
    with pytest.raises(InputErrors, match="at most 512 MiB are read"):
        read_program(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < MB


def test_memory_is_columns_and_file():
    text = b"G21 G90\n" + b"G1 X1.5 Y2.25 F99\nX2\n" * (MB // 20) + b"M2\n"
    tracemalloc.start()
    reading = examine_program(text, "f")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    program = reading.program
    names = ("kind", "end_mm", "feed_mm_per_s", "line", "byte", "slot", "spindle_rev_per_s")
    columns_bytes = sum(getattr(program, name).nbytes for name in (*names, "path_mode"))
    assert peak < 1.5 * columns_bytes + MB


def test_too_large_a_file_is_not_even_opened(tmp_path):
    path = tmp_path / "huge.nc"
    path.touch()
    os.truncate(path, reader_module.MOST_BYTES + 1)  # a hole: takes no room on disk
    with pytest.raises(InputErrors, match="at most 512 MiB are read"):
        read_program(path)


def test_a_few_lines_cannot_fill_the_memory(monkeypatch):
    monkeypatch.setattr(columns, "MOST_EVENTS", 50)
    reading, _ = examine(b"M3 S1\nM5\n" * 100)
    assert reading.errors[0].kind == "too_large"
    monkeypatch.setattr("kerfwright.program.run.MOST_MOVES", 5000)
    reading, _ = examine(b"G91 F9 G81 X1 Z-1 R1 L2000\nM2\n")
    assert reading.errors[0].kind == "too_large"
    assert reading.program.moves == 0


@pytest.mark.parametrize("seed", range(30))
def test_any_bytes(seed):
    rng = random.Random(seed)
    signs = b"GMXYZIJKRF0123456789.-+ \n\n()[]#=/%;NSTPDHLQ*\r\t\xe9Oo"
    text = bytes(rng.choice(signs) for _ in range(3000))
    for rules in (STRICT, WORKSHOP):
        for text_ in (text, rng.randbytes(2000).replace(b"\0", b" ")):
            reading, _ = examine(text_, rules)
            assert reading.errors or reading.program.lines
            for error in reading.errors:
                assert error.problem
                assert error.remedy
                str(error)
