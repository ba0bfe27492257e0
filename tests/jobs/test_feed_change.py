"""The feed of some lines made another: read again, only those lines run at another feed."""

import numpy as np
import pytest

from kerfwright.basics import InputError
from kerfwright.jobs.feed_change import with_feed
from kerfwright.program import WORKSHOP, parse_program


def feeds(program):
    """Feed of each line that moves at one. [mm/min]"""
    at_feed = program.feed_mm_per_s > 0.0
    return dict(
        zip(
            program.line[at_feed].tolist(),
            np.round(60.0 * program.feed_mm_per_s[at_feed], 3).tolist(),
            strict=True,
        )
    )


@pytest.mark.parametrize(
    "text",
    [
        b"G21 G90\nG1 X10 F900\nX20\nX30\nX40 F600\nG0 Z5\nX50\nG1 X60\nM2\n",
        b"G20 G90\r\ng1 x1 f36. (F in a comment)\r\nX2 ; F1\r\nX3\r\nX4 F24\r\nM2\r\n",
    ],
)
@pytest.mark.parametrize(("first", "last"), [(2, 2), (3, 3), (2, 4), (4, 4), (5, 5)])
def test_only_those_lines_change(text, first, last):
    before = feeds(parse_program(text, "a", WORKSHOP))
    after = feeds(
        parse_program(
            with_feed(parse_program(text, "a", WORKSHOP), first, last, 0.6), "a", WORKSHOP
        )
    )
    assert after == {
        line: pytest.approx(feed * (0.6 if first <= line <= last else 1.0), abs=0.01)
        for line, feed in before.items()
    }


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        (b"G21 G93\nG1 X10 F2\nM2\n", "the feed of this line is not stated in one unit"),
        (b"G21\n#1=900\nG1 X10 F#1\nM2\n", "the feed of this line is an expression"),
        (b"G21\nG0 X10\nM2\n", "nothing moves at a feed on this line"),
    ],
)
def test_a_feed_that_is_not_plainly_stated_is_told(text, problem):
    program = parse_program(text, "a", WORKSHOP)
    line = 3 if b"#1" in text else 2
    with pytest.raises(InputError) as told:
        with_feed(program, line, line, 0.5)
    assert (told.value.problem, told.value.place.line) == (problem, line)
