"""The time of a program: waits in closed form, and the spread by what is not known."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.basics import Stopped
from kerfwright.formats.toml_file import parse_toml
from kerfwright.machine import parse
from kerfwright.program import WORKSHOP, parse_program
from kerfwright.trajectory import StandsStill, plan, program_time
from kerfwright.trajectory.sections import MOST_SECTIONS, by_cutter, by_section, moving_s
from kerfwright.trajectory.time import LINES, PLANNER, PLANNER_U, RULE, beliefs_of
from kerfwright.trajectory.waits import cutter_there, waits

START = "G21 G90 G17\n"
SAID = """
[spindle]
kind = "variable frequency"
[controller]
corners = "exact stop"
cutter_change = "stops and Z is set again"
cutter_change_time = "100 s"
set_z_time = "40 s"
stop_time = "30 s"
spindle_start_time = "4 s"
router_switch_time = "9 s"
"""
AXIS = """
[controller.{0}]
rapid = "3000 mm/min"
acceleration = "200 mm/s2"
speed_step = "4 mm/s"
"""
EXACT = SAID + "".join(AXIS.format(axis) for axis in "xyz")


def machine_of(text=EXACT):
    return parse(parse_toml('kerfwright = "machine 1"\n' + text, "machine.toml"))


def program_of(body):
    return parse_program((START + body + "\nM2\n").encode(), "job.nc")


def timed(body, text=EXACT, **options):
    return program_time(program_of(body), machine_of(text), **options)


MOVE = "G1 X100 F600\n"  # 100 mm at 10 mm/s, up and down at 200 mm/s²: 10.05 s
MOVE_S = 100.0 / 10.0 + 10.0 / 200.0


@pytest.mark.parametrize(
    ("body", "wait_s"),
    [
        (MOVE, 0.0),
        ("G4 P2.5\n" + MOVE + "G4 P1", 3.5),
        ("S9000 M3\n" + MOVE, 4.0),
        ("S9000 M3\n" + MOVE + "M5\nG1 X0\nM3\nG1 X100", 8.0),
        ("T1 M6\n" + MOVE, 140.0),
        ("T1 M6\nT1 M6\n" + MOVE, 140.0),
        (MOVE + "M0\nG1 X0", 30.0),
        (MOVE + "M1\nG1 X0", 0.0),
        ("T1 M6\nM0\n" + MOVE, 140.0),
        (MOVE + "M0\nT2 M6\nG1 X0", 140.0),
        (MOVE + "T2 M6\nG1 X0\nM0\nG1 X50", 170.0),
    ],
)
def test_waits_are_their_sum(body, wait_s):
    result = timed(body)
    assert result.wait_s == pytest.approx(wait_s, abs=1e-9)
    assert result.time.value == pytest.approx(result.moving_s + wait_s)


def test_a_move_and_its_waits_in_closed_form():
    result = timed("T1 M6\nS9000 M3\n" + MOVE + "G4 P5")
    assert result.moving_s == pytest.approx(MOVE_S, rel=1e-12)
    assert result.time.value == pytest.approx(MOVE_S + 140.0 + 4.0 + 5.0, rel=1e-12)


@pytest.mark.parametrize(
    ("change", "kind", "body", "wait_s"),
    [
        ("stops, length table", "variable frequency", "T1 M6\n" + MOVE, 100.0),
        ("stops and Z is set again", "hand router", "T1 M6\nS9000 M3\n" + MOVE, 149.0),
        ("stops, length table", "hand router", "T1 M6\n" + MOVE, 109.0),
        ("ignores it", "variable frequency", "T1 M6\n" + MOVE, 0.0),
        ("ignores it", "variable frequency", "T1 M6\nM0\nM0\n" + MOVE, 140.0),
        ("ignores it", "hand router", MOVE + "T2 M6\nM0\nG1 X0", 149.0),
        ("ignores it", "variable frequency", MOVE + "M0\nG1 X0", 30.0),
    ],
)
def test_a_cutter_change_as_this_controller_does_it(change, kind, body, wait_s):
    text = EXACT.replace("stops and Z is set again", change).replace("variable frequency", kind)
    assert timed(body, text).wait_s == pytest.approx(wait_s)


def test_a_cutter_that_is_there_needs_no_change():
    program = program_of("T1 M6\n" + MOVE + "T2 M6\nG1 X0")
    assert cutter_there(program) == 1
    assert program_time(program, machine_of(), in_spindle=1).wait_s == pytest.approx(140.0)
    assert cutter_there(program_of(MOVE + "T2 M6\nG1 X0")) is None


def test_only_what_the_machine_does():
    body = "T1 M6\nS9000 M3\n" + MOVE + "M0\nG4 P5\nG1 X0"
    assert timed(body, by_hand=False).wait_s == pytest.approx(9.0)


def test_with_nothing_open_the_planning_alone_is_left_and_said():
    result = timed(MOVE * 1 + "G1 X0\n" + MOVE)
    half = 0.5 * (result.time.high - result.time.low)
    assert half == pytest.approx(1.96 * PLANNER_U * result.moving_s, rel=0.05)
    assert result.time.mostly_from == PLANNER
    assert [one.name for one in result.contributions] == [PLANNER]


def test_one_range_of_waiting_gives_its_own_ends():
    # All values alike from 60 to 180 s: nineteen in twenty lie from 63 to 177.
    text = EXACT.replace('cutter_change_time = "100 s"', 'cutter_change_time = "60 to 180 s"')
    result = timed("T1 M6\n" + MOVE, text)
    fixed = MOVE_S + 40.0
    assert result.time.value == pytest.approx(fixed + 120.0)
    assert result.time.low == pytest.approx(fixed + 63.0, abs=1.5)
    assert result.time.high == pytest.approx(fixed + 177.0, abs=1.5)
    assert result.time.mostly_from == "cutter changes"


def test_what_one_change_takes_all_take():
    text = EXACT.replace('cutter_change_time = "100 s"', 'cutter_change_time = "60 to 180 s"')
    result = timed("T1 M6\n" + MOVE + "T2 M6\nG1 X0", text)
    change = next(one for one in result.contributions if one.name == "cutter changes")
    assert change.high_s - change.low_s == pytest.approx(2 * 114.0, abs=3.0)


def test_two_normal_waits_add_in_quadrature():
    text = EXACT.replace('"100 s"', '"100 ± 30 s"').replace('"40 s"', '"40 ± 20 s"')
    result = timed("T1 M6\n" + MOVE, text)
    half = 0.5 * (result.time.high - result.time.low)
    assert half == pytest.approx(np.hypot(30.0, 20.0), rel=0.03)


ZIGZAG = "\n".join(f"G1 X{10 * (i % 2)} Y{i} F1800" for i in range(60))


def test_an_acceleration_known_within_a_range_is_planned_for_at_both_ends():
    text = EXACT.replace('"200 mm/s2"', '"100 to 400 mm/s2"')
    result = timed(ZIGZAG, text)
    program = program_of(ZIGZAG)
    ends = [
        plan(program, machine_of(EXACT.replace('"200 mm/s2"', f'"{a} mm/s2"'))).time_s
        for a in (107.5, 392.5)
    ]
    alone = next(one for one in result.contributions if one.name == "the accelerations")
    assert alone.high_s == pytest.approx(ends[0], rel=0.02)
    assert alone.low_s == pytest.approx(ends[1], rel=0.02)
    assert result.time.mostly_from == "the accelerations"


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ('lines_per_second = "20 to 40"', LINES),
        ('path_tolerance = "0.01 to 0.5 mm"', "the tolerance at corners"),
    ],
)
def test_other_settings_known_within_a_range_move_the_time(line, name):
    text = EXACT.replace('corners = "exact stop"', f'corners = "path tolerance"\n{line}')
    short = "\n".join(f"G1 X{0.5 * i} Y{i // 20 % 2} F1800" for i in range(200))
    result = timed(short, text)
    alone = next(one for one in result.contributions if one.name == name)
    assert alone.low_s <= result.time.value <= alone.high_s


def test_a_rule_that_nobody_said_is_a_range_over_all_three():
    result = timed(ZIGZAG, EXACT.replace('corners = "exact stop"\n', ""))
    assert set(result.rule_times_s) == {"exact stop", "path tolerance", "axis speed step"}
    assert result.time.low <= min(result.rule_times_s.values())
    assert result.time.high >= max(result.rule_times_s.values()) * 0.99
    assert result.time.mostly_from == RULE


@pytest.mark.parametrize("rule", ["exact stop", "path tolerance", "axis speed step"])
def test_a_rule_that_was_said_is_taken(rule):
    beliefs = beliefs_of(machine_of(EXACT.replace('"exact stop"', f'"{rule}"')))
    assert [belief.rule for belief in beliefs] == [rule]


def test_the_same_seed_gives_the_same_ends():
    text = EXACT.replace('"200 mm/s2"', '"100 to 400 mm/s2"')
    assert timed(ZIGZAG, text).time == timed(ZIGZAG, text).time
    other = timed(ZIGZAG, text, seed=7).time
    assert other.low == pytest.approx(timed(ZIGZAG, text).time.low, rel=0.01)


def test_what_was_not_given_is_told_where_it_counts():
    text = EXACT.replace('stop_time = "30 s"\n', "")
    assert not timed(MOVE, text).assumed
    told = timed(MOVE + "M0\nG1 X0", text).assumed
    assert len(told) == 1
    assert "common practice, no source" in told[0]


def test_it_can_be_stopped_and_says_where_it_is():
    seen = []

    def progress(stage, done):
        seen.append((stage, done))
        if stage == "trying what is not known" and done > 0.5:
            raise Stopped

    with pytest.raises(Stopped):
        timed(ZIGZAG, "", progress=progress)
    shares = [done for stage, done in seen if stage == "trying what is not known"]
    assert shares == sorted(shares)


def test_nothing_to_run():
    with pytest.raises(StandsStill):
        timed("G4 P1")


LONG = """(Alder Lane Workshop, invented)
(the outline)
T1 M6
S9000 M3
G0 Z5
G0 X10
G1 Z-2 F300
G1 X80 F900
G4 P1.5
; the pocket
G0 Z5
G0 X20 Y20
G1 Z-2 F300
G2 X20 Y20 I10 J0 F900
T2 M6
G1 X5 F900
N10 (the end)
(really)
G0 Z20
M5"""


@pytest.mark.parametrize("jerk", ["", 'jerk = "2 m/s3"\n'])
@pytest.mark.parametrize("rule", ["exact stop", "path tolerance", "axis speed step"])
def test_sections_and_cutters_add_up_to_the_whole(rule, jerk):
    machine = machine_of(EXACT.replace('"exact stop"', f'"{rule}"') + jerk)  # of Z
    program = parse_program((START + LONG + "\nM2\n").encode(), "job.nc", WORKSHOP)
    result = program_time(program, machine)
    sections = by_section(program, result.trajectory, result.waiting)
    assert [one.label for one in sections] == ["the outline", "the pocket", "cutter 2", "really"]
    assert [(one.first_line, one.last_line) for one in sections] == [
        (1, 10), (11, 15), (16, 17), (18, 22),
    ]  # fmt: skip
    assert sum(one.total_s for one in sections) == pytest.approx(result.time.value, rel=1e-9)
    assert sections[0].wait_s == pytest.approx(140.0 + 4.0)
    assert sections[1].wait_s == pytest.approx(1.5)
    cutters = by_cutter(program, result.trajectory, result.waiting)
    assert [one.slot for one in cutters] == [1, 2]
    assert sum(one.total_s for one in cutters) == pytest.approx(result.time.value, rel=1e-9)
    way = sum(one.feed_mm + one.rapid_mm for one in cutters)
    assert way == pytest.approx(result.trajectory.length_mm.sum())
    assert moving_s(result.trajectory).sum() == pytest.approx(result.moving_s, rel=1e-9)


def test_no_number_of_comments_makes_more_than_so_many_sections():
    body = "\n".join(f"(cut {i})\nG1 X{i % 7} Y{i} F900" for i in range(3 * MOST_SECTIONS))
    program = program_of(body)
    result = program_time(program, machine_of())
    sections = by_section(program, result.trajectory, result.waiting)
    assert len(sections) == MOST_SECTIONS
    assert sections[-1].label.endswith("and all that follows")
    assert sum(one.total_s for one in sections) == pytest.approx(result.time.value, rel=1e-9)


def test_waits_stand_before_their_moves():
    program = program_of(MOVE + "G4 P2\nG1 X0\nG4 P3\nG1 X100")
    dwells = waits(program, machine_of())[0]
    assert dwells.before_move.tolist() == [1, 2]
    assert dwells.seconds.tolist() == [2.0, 3.0]
    assert dwells.total_s == pytest.approx(5.0)


def test_the_chain_tells_the_same_time(machine):
    program = program_of(ZIGZAG)
    trajectory = plan(program, machine)
    given = program_time(program, machine, trajectory=trajectory)
    assert given.time == program_time(program, replace(machine)).time
