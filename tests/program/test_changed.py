"""Moves in another order, put in, raised: the rest stays what it was."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.program import Jumps, MoveKind, parse_program
from kerfwright.program.changed import CannotChange, Put, Run, of_steps, with_feeds

TEXT = b"""G21 G90 G17
T1 M6
S18000 M3
G0 Z5
G0 X10 Y10
G1 Z-2 F300
G2 X20 Y10 I5 J0 F900
G4 P1
G1 X30
G0 Z5
G0 X50 Y10
G1 Z-1 F300
G3 X50 Y10 I5 F600
G0 Z5
M2
"""


@pytest.fixture
def program():
    return parse_program(TEXT, "job.nc")


def test_the_same_steps_are_the_same_program(program):
    same = of_steps(program, [Run(first=0, end=program.moves)])
    for name in ("kind", "end_mm", "feed_mm_per_s", "line", "slot", "timed_moves"):
        np.testing.assert_array_equal(getattr(same, name), getattr(program, name))
    for name in ("move", "centre_mm", "normal", "sweep_rad"):
        np.testing.assert_array_equal(getattr(same.arcs, name), getattr(program.arcs, name))
    assert same.events == program.events


def test_the_second_stretch_first(program):
    # Two moves up and over, the second stretch of four, then the first of four.
    changed = of_steps(program, [Run(first=0, end=1), Run(first=6, end=10), Run(first=1, end=6)])
    assert changed.line.tolist() == [4, 11, 12, 13, 14, 5, 6, 7, 9, 10]
    assert [program.line[k] for k in program.arcs.move] == [7, 13]
    assert [changed.line[k] for k in changed.arcs.move] == [13, 7]
    np.testing.assert_array_equal(changed.arcs.centre_mm, program.arcs.centre_mm[::-1])
    (dwell,) = [event for event in changed.events if event.kind == "dwell"]
    assert changed.line[dwell.before_move] == 9
    assert changed.events[-1].kind == "end"
    assert changed.events[-1].before_move == changed.moves


def test_twice_and_raised_with_a_way_back(program):
    up = of_steps(
        program,
        [
            Run(first=0, end=4, up_mm=1.0),
            Put(to_mm=(10.0, 10.0, 5.0)),
            Put(to_mm=(10.0, 10.0, -2.0), feed_mm_per_s=5.0),
            Run(first=3, end=program.moves),
        ],
    )
    assert up.kind[4:6].tolist() == [MoveKind.RAPID, MoveKind.LINE]
    assert up.slot[4] == 1
    assert [up.line[k] for k in up.arcs.move] == [7, 7, 13]
    assert up.arcs.centre_mm[0, 2] - up.arcs.centre_mm[1, 2] == pytest.approx(1.0)
    assert up.end_mm[3, 2] - up.end_mm[6, 2] == pytest.approx(1.0)
    half = with_feeds(program, program.kind == MoveKind.ARC, 0.5)
    assert half.feed_mm_per_s[program.arcs.move].tolist() == pytest.approx([7.5, 5.0])


def test_lengths_called_up_within_hang_together(program):
    jumps = Jumps(move=np.array([6]), by_mm=np.array([[0.0, 0.0, 3.0]]))
    with pytest.raises(CannotChange, match="G43"):
        of_steps(replace(program, jumps=jumps), [Run(first=0, end=program.moves)])
