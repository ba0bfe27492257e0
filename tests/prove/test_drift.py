"""Where a program moves by offsets, found in its text."""

import pytest

from kerfwright.prove.drift import incremental_lines


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        (b"G90\nG91\nX1\nX1\nG90\nX0\n", [(2, 5)]),
        (b"g 91 X1\n", [(1, 3)]),
        (b"G (by offsets) 91\nX1\nG90\n", [(1, 3)]),
        (b"G90 (G91 comes later)\nX91\n; G91\nG1 X91\nG91.1\n", []),
    ],
)
def test_lines_between_g91_and_g90(text, lines):
    assert incremental_lines(text) == lines


@pytest.mark.parametrize("before", range(24))
def test_a_g91_is_found_wherever_the_search_is_cut(before, monkeypatch):
    monkeypatch.setattr("kerfwright.prove.drift._AT_ONCE", 7)
    text = b" " * before + b"G91 X1\nG90 X2\n"
    assert incremental_lines(text) == [(1, 2)]
    assert incremental_lines(text.replace(b"G91", b"X91")) == []
