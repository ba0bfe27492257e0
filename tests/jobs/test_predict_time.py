"""The errand behind ``kerfwright time``: what it finds beside a program, and its words."""

from pathlib import Path

import pytest

from kerfwright.basics import Stopped
from kerfwright.jobs.predict_time import predict, predict_time
from kerfwright.jobs.time_errand import TimeErrand
from kerfwright.workshop import demo_folder

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
SLOTS = EXAMPLES / "slots.nc"
TIMED = EXAMPLES / "timed"


def words_of(**errand):
    return " ".join(predict_time(TimeErrand(**errand)).words.split())


def test_the_job_beside_names_the_cutters_and_says_which_is_there():
    program = demo_folder() / "jobs/relief-tray/program.nc"
    told = predict(TimeErrand(program=program))
    assert dict(told.cutter_names) == {1: "flat 6 mm", 2: "ball 3 mm"}
    assert [len(one.seconds) for one in told.timed.waiting if one.name == "cutter changes"] == [1]
    assert told.sections[1].label == "SLOT 2: BALL 3 MM"


def test_without_a_job_or_a_machine_it_says_what_it_took():
    words = words_of(program=SLOTS)
    assert "no machine was named" in words
    assert "the cutter of slot 1 is in the spindle when the program starts" in words


def test_only_what_bears_on_the_time_is_told_as_assumed(tmp_path):
    machine = tmp_path / "machine.toml"
    machine.write_text('kerfwright = "machine 1"\n')
    told = predict(TimeErrand(program=SLOTS, machine=str(machine)))
    words = " ".join(told.assumed)
    assert "acceleration set" in words
    assert "what it does at corners" in words
    assert "cutter change" not in words  # there is none
    assert "holding torque" not in words


def test_a_single_open_thing_gets_its_advice(tmp_path):
    program = tmp_path / "two.nc"
    program.write_text("G21 G90\nG1 X10 F600\nT2 M6\nG1 X0\nM2\n")
    words = words_of(program=program, machine="demo")
    assert "mostly from cutter changes" in words
    assert "Time one cutter change by the clock" in words
    assert "none said" in words  # the cutter before the first change


@pytest.mark.slow
def test_a_program_that_nothing_explains_is_named_with_both_times(tmp_path):
    text = (TIMED / "timed.toml").read_text(encoding="utf-8")
    for path in TIMED.glob("*.nc"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    (tmp_path / "slots.nc").write_bytes(SLOTS.read_bytes())
    text += '[[program]]\nfile = "slots.nc"\ntook = "2 min"\n'
    (tmp_path / "timed.toml").write_text(text, encoding="utf-8")
    words = words_of(
        program=SLOTS, machine=str(EXAMPLES / "first-router.toml"), timed=tmp_path / "timed.toml"
    )
    assert "slots.nc cannot be explained: 2 min 00 s by the clock, and 2" in words
    assert "look for a pause" in words
    assert "They hardly show the acceleration of Z" in words
    assert "Before they were asked it lay between" in words
    assert "the controller does not limit jerk: if it has such a setting" in words


def test_it_can_be_stopped():
    def progress(stage, done):
        if stage == "trying what is not known":
            raise Stopped

    with pytest.raises(Stopped):
        predict(
            TimeErrand(program=SLOTS, machine=str(EXAMPLES / "first-router.toml")),
            progress=progress,
        )
