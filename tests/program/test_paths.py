"""Lengths, extents and places of whole programs, by geometry and by sums made another way."""

from math import cos, fsum, hypot, pi, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.basics.units import INCH_MM
from kerfwright.program import MoveKind, StartState, move_lengths, parse_program, totals
from kerfwright.program.pieces import Straight, Turn, length_mm


def points_of(program, row, count=4001):
    """Points along one move, by turning the start about the centre."""
    start, end = program.from_mm[row], program.end_mm[row]
    share = np.linspace(0.0, 1.0, count)[:, None]
    points = start + share * (end - start)
    found = np.flatnonzero(program.arcs.move == row)
    if found.size:
        arc = int(found[0])
        normal = int(program.arcs.normal[arc])
        a, b = (normal + 1) % 3, (normal + 2) % 3
        centre, sweep = program.arcs.centre_mm[arc], program.arcs.sweep_rad[arc] * share[:, 0]
        out_a, out_b = start[a] - centre[a], start[b] - centre[b]
        points[:, a] = centre[a] + out_a * np.cos(sweep) - out_b * np.sin(sweep)
        points[:, b] = centre[b] + out_a * np.sin(sweep) + out_b * np.cos(sweep)
    return points


_ARCS = """G21 G90 F600
G0 X10 Y5 Z3
G2 X20 Y5 I5 J0
G3 X20 Y5 I-3 J4 Z-2
G18 G2 X26 Z-2 I3 K0 Y9
G19 G3 Y9 Z4 J1 K3
G17 G1 X0 Y0
G2 X3.5 Y-7 R-40
G3 X-9 Y2 R30 Z1
M2
"""


def test_extents_hold_every_point_and_no_more():
    program = parse_program(_ARCS.encode(), "arcs")
    every = np.concatenate([points_of(program, row) for row in range(program.moves)])
    found = totals(program)
    assert found.lowest_mm == pytest.approx(every.min(axis=0).tolist(), abs=1e-4)
    assert found.highest_mm == pytest.approx(every.max(axis=0).tolist(), abs=1e-4)
    assert np.all(every.min(axis=0) >= np.array(found.lowest_mm) - 1e-9)
    assert np.all(every.max(axis=0) <= np.array(found.highest_mm) + 1e-9)


def test_lengths_against_chords():
    program = parse_program(_ARCS.encode(), "arcs")
    for row, length in enumerate(move_lengths(program)):
        steps = np.diff(points_of(program, row), axis=0)
        # A chord is short of its arc by one part in 24 times the square of its angle.
        assert np.sqrt((steps**2).sum(axis=1)).sum() == pytest.approx(length, rel=1e-6)


def test_arcs_end_where_they_say():
    program = parse_program(_ARCS.encode(), "arcs")
    for row in program.arcs.move.tolist():
        assert points_of(program, row)[-1] == pytest.approx(program.end_mm[row], abs=1e-9)


def test_sums_agree_with_independent_ones():
    rng = np.random.default_rng(7)
    ends = np.round(rng.uniform(-500, 500, (20_000, 3)), 4)
    lines = [f"G{rng.integers(2)} X{x:.4f} Y{y:.4f} Z{z:.4f}" for x, y, z in ends]
    program = parse_program(("F99\n" + "\n".join(lines) + "\nM2\n").encode(), "sum")
    place, sums = (0.0, 0.0, 0.0), {0: [], 1: []}
    for line, end in zip(lines, ends.tolist(), strict=True):
        sums[int(line[1])].append(hypot(*(e - p for e, p in zip(end, place, strict=True))))
        place = end
    found = totals(program)
    assert found.rapid_mm == pytest.approx(fsum(sums[0]), abs=1e-9)
    assert found.cut_mm == pytest.approx(fsum(sums[1]), abs=1e-9)


@given(st.floats(0.5, 80), st.floats(0, 2 * pi), st.floats(0.02, 2 * pi), st.floats(-9, 9))
def test_a_helix_has_its_length(radius, first, sweep, rise):
    start = radius * cos(first), radius * sin(first), 0.0
    end = radius * cos(first + sweep), radius * sin(first + sweep), rise
    turn = Turn(to=end, centre=(0.0, 0.0, 0.0), normal=2, sweep_rad=sweep)
    assert length_mm(start, turn) == pytest.approx(sqrt((radius * sweep) ** 2 + rise**2))
    assert length_mm(start, Straight(to=end)) <= length_mm(start, turn) * (1 + 1e-12)


def test_inches_are_mm_times_25_4():
    metric = "G21 G90 F600\nG1 X25.4 Y-12.7\nG2 X50.8 I12.7\nG91 X2.54 I1.27\nM2\n"
    inch = "G20 G90 F23.622047244094488\nG1 X1 Y-.5\nG2 X2 I.5\nG91 X.1 I.05\nM2\n"
    one, other = (parse_program(text.encode(), "u") for text in (metric, inch))
    assert other.end_mm == pytest.approx(one.end_mm, abs=1e-12)
    assert other.feed_mm_per_s == pytest.approx(one.feed_mm_per_s)
    assert INCH_MM == 25.4


def test_places_in_the_machine():
    """G53, G28 and origins count from the machine's zero, all else from the set-up's."""
    start = StartState(zero_at_mm=(100.0, 50.0, -30.0), parameters={5163: -2.0})
    text = b"G0 X1 Y2 Z3\nG53 Z0\nG28 X4\nG10 L2 P2 X110 Y50 Z-30\nG55 G0 X0 Y0 Z0\nM2\n"
    program = parse_program(text, "m", start=start)
    assert program.end_mm.tolist() == [
        [1, 2, 3],
        [1, 2, 30],
        [4, 2, 30],
        [-100, -50, 28],
        [10, 0, 0],
    ]
    assert not any("own zero" in note for note in program.notes)


def test_a_length_offset_jumps_and_does_not_move():
    """NISTIR 6556, 3.5.11; docs/decisions/0004-length-offset-moves-numbers.md."""
    start = StartState(start_mm=(0.0, 0.0, 100.0), length_mm={2: 40.0})
    program = parse_program(b"G43 H2\nG0 X10\nG49\nM2\n", "l", start=start)
    assert program.end_mm.tolist() == [[10, 0, 60]]
    assert program.from_mm.tolist() == [[0, 0, 60]]
    assert program.place_at_end_mm == (10, 0, 100)
    assert totals(program).rapid_mm == 10.0
    assert program.after.gauge_z_mm == 100.0


def test_the_box_knows_where_moves_begin_that_begin_where_none_ended():
    start = StartState(start_mm=(0.0, 0.0, 100.0), length_mm={2: 40.0, 3: 90.0})
    text = b"F600 G43 H2\nG1 X10 Z90\nG43 H3\nG1 Y5 Z70\nG49\nG2 X20 Y5 I5 J0\nG0 Z9\nM2\n"
    program = parse_program(text, "l", start=start)
    every = np.arange(program.moves)
    assert np.array_equal(program.starts_mm(every), program.from_mm)
    sums, points = totals(program), np.concatenate([points_of(program, row) for row in every])
    points = np.concatenate([points, [[0.0, 0.0, 100.0]]])
    assert np.allclose(sums.lowest_mm, points.min(axis=0), atol=1e-5)
    assert np.allclose(sums.highest_mm, points.max(axis=0), atol=1e-5)


def test_columns_know_their_line_and_byte():
    text = b"G21 G90\r\n(a)\rG0 X1\n\nN5 G1 F120 Y2 (b)\nG81 X5 Z-1 R1 L2\nG80\nM2\n"
    program = parse_program(text, "c")
    for line, byte in zip(program.line.tolist(), program.byte.tolist(), strict=True):
        assert text[byte:].startswith(program.text_of(line).encode())
    assert program.line.tolist()[:2] == [3, 5]
    assert set(program.line.tolist()[2:]) == {6}


def test_slot_spindle_and_path_mode_go_with_each_move():
    text = b"F60\nT3 M6 M3 S600\nG61 G1 X1\nM4 S1200 G61.1 X2\nT1 M6\nG64 G1 X3\nM2\n"
    program = parse_program(text, "c")
    assert program.slot.tolist() == [3, 3, 1]
    assert program.spindle_rev_per_s.tolist() == [10.0, -20.0, 0.0]
    assert program.path_mode.tolist() == [1, 2, 0]
    assert program.feed_mm_per_s.tolist() == [1.0, 1.0, 1.0]
    assert [(e.kind, e.before_move, e.line, e.value) for e in program.events] == [
        ("cutter", 0, 2, 3.0),
        ("spindle", 0, 2, 10.0),
        ("spindle", 1, 4, -20.0),
        ("spindle", 2, 5, 0.0),
        ("cutter", 2, 5, 1.0),
        ("end", 3, 7, 0.0),
    ]


def test_feed_by_time():
    """NISTIR 6556, 3.5.19: with G93, F is one over the minutes of the whole move."""
    program = parse_program(b"G93 G1 X30 Y40 F2\nG2 X40 I5 F6\nG0 X0\nM2\n", "t")
    lengths = move_lengths(program)
    times = lengths[:2] / program.feed_mm_per_s[:2]
    assert times.tolist() == pytest.approx([30.0, 10.0])
    assert program.timed_moves.tolist() == [0, 1]
    assert program.kind.tolist() == [MoveKind.LINE, MoveKind.ARC, MoveKind.RAPID]


class TestBesideAnOutline:
    """Compensation by geometry: the cutter stays its radius away from the outline (App. B)."""

    OUTLINE = (
        "G1 X10 Y0\nX40\nG3 X50 Y10 J10\nG1 Y30\nG3 X44 Y36 I-6\nG1 X6\nG3 X0 Y30 J-6\nG1 Y10\n"
    )

    @staticmethod
    def read(code, outline, diameter=6.0, start=(-20.0, -3.0, 0.0)):
        setup = StartState(start_mm=start, diameter_mm={1: diameter}, slot_in_spindle=1)
        text = f"G21 G90 F600\n{code} D1\n{outline}G40\nM2\n"
        return parse_program(text.encode(), "crc", start=setup)

    @pytest.mark.parametrize(("code", "start"), [("G42", -3.0), ("G41", 3.0)])
    def test_distance(self, code, start):
        program = self.read(code, self.OUTLINE, start=(-20.0, start, 0.0))
        plain = parse_program(("G21 G90 F600\n" + self.OUTLINE + "M2\n").encode(), "plain")
        outline = np.concatenate([points_of(plain, row, 801) for row in range(plain.moves)])
        for row in range(1, program.moves):
            for point in points_of(program, row, 41):
                nearest = np.sqrt(((outline - point) ** 2).sum(axis=1)).min()
                assert nearest == pytest.approx(3.0, abs=2e-3)

    def test_feed_is_along_the_cutters_path(self):
        program = self.read("G42", self.OUTLINE)
        assert set(program.feed_mm_per_s.tolist()) == {10.0}

    def test_a_negative_diameter_is_the_other_side(self):
        one = self.read("G42", self.OUTLINE, -6.0, (-20.0, 3.0, 0.0))
        other = self.read("G41", self.OUTLINE, 6.0, (-20.0, 3.0, 0.0))
        assert one.end_mm.tolist() == other.end_mm.tolist()

    def test_up_and_down_beside_a_point(self):
        program = self.read("G42", "G1 X0 Y0\nG1 Z-2\nX40\nM0\n")
        assert program.end_mm.tolist() == pytest.approx(
            np.array([[0, -3, 0], [0, -3, -2], [40, -3, -2]])
        )

    def test_round_a_tongue(self):
        """Straight back on itself: the cutter goes half round the end."""
        program = self.read("G42", "G1 X0 Y0\nX40\nX0\n")
        assert np.abs(program.arcs.sweep_rad).tolist() == pytest.approx([pi])
        assert program.end_mm[-1].tolist() == pytest.approx([0, 3, 0])
