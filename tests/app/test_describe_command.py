"""``kerfwright describe`` from real pipes: answers in, machine.toml out."""

import os
import signal
import subprocess
import sys
import tomllib

import pytest

from kerfwright.jobs.interview import Interview, begin
from kerfwright.machine import EMPTY, QUESTIONS, AnswerError, load_machine
from kerfwright.workshop import demo_folder


def describe(folder, answers, *arguments):
    return subprocess.run(
        [sys.executable, "-m", "kerfwright", "describe", *arguments],
        cwd=folder,
        input=answers,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )


@pytest.mark.slow
def test_answers_from_a_pipe_make_a_machine_and_its_sentence(tmp_path):
    answers = [
        "the shed router",
        "",
        "y",
        "help",
        "24 3/8 in",
        "back",
        '24 1/2"',
        "16 in",
        "",
        "belt",
    ]
    done = describe(tmp_path, "\n".join(answers) + "\n")
    assert done.returncode == 0, done.stderr
    machine = load_machine(tmp_path / "machine.toml")
    assert machine.name == "the shed router"
    assert machine.x.travel_mm == pytest.approx(24.5 * 25.4)
    assert (machine.x.drive, machine.y.drive) == ("belt", "screw")
    assert machine.choices["frame.moves_along"] == "y"
    assert done.stdout.count("back goes back, help tells this again") == 2
    assert done.stdout.count("Run it slowly from end to end") == 2  # asked, helped
    assert "the shed router: pushed with 45 N along" in done.stdout
    assert done.stdout.index("WORTH MEASURING NEXT\n  - ") > done.stdout.index("Written:")
    again = describe(tmp_path, "\n\n\n600 mm\n")
    assert again.returncode == 0, again.stderr
    assert '[24 1/2"]' in again.stdout  # what stood there is shown
    assert "the old one is machine.toml.1.bak" in again.stdout
    assert "24 1/2" in (tmp_path / "machine.toml.1.bak").read_text(encoding="utf-8")
    assert load_machine(tmp_path / "machine.toml").x.travel_mm == 600.0


def test_a_wrong_answer_in_a_pipe_is_told_with_its_line_and_nothing_is_written(tmp_path):
    done = describe(tmp_path, "\n\n\nfar\n")
    assert done.returncode == 2
    assert done.stderr == (
        'answers:4:1: "far" is not a number with a unit\n'
        "    far\n"
        "    ^\n"
        '  remedy: write it like "25 mm", or "don\'t know"; nothing was written\n'
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name == "nt", reason="no such signal there")
def test_an_interrupt_keeps_what_was_answered(tmp_path):
    with subprocess.Popen(
        [sys.executable, "-m", "kerfwright", "describe", "--out", "mine.toml"],
        cwd=tmp_path,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        encoding="utf-8",
    ) as command:
        command.stdin.write("a router\n\n\n500 mm\n")
        command.stdin.flush()
        seen = ""
        while "  Y (" not in seen:
            seen += command.stdout.read(1)
        command.send_signal(signal.SIGINT)
        rest = command.stdout.read()
    assert command.returncode == 130
    assert "kept in mine.toml" in rest
    assert load_machine(tmp_path / "mine.toml").x.travel_mm == 500.0


def test_a_file_that_cannot_be_read_is_told_as_such(tmp_path):
    (tmp_path / "m.toml").write_text('kerfwright = "machine 1"\n[axes.x]\ntravel = "far"\n')
    with pytest.raises(Exception, match=r"m.toml:3:10: \"far\" is not a number"):
        begin(tmp_path / "m.toml")


def test_every_blank_takes_its_own_example():
    interview = Interview(EMPTY, "machine.toml")
    seen = set()
    while interview.at is not None:
        question, blank = interview.at
        seen.add(question.id)
        interview.answer(blank.example)
        assert interview.typed_at(blank.path) == blank.example
    assert seen == {question.id for question in QUESTIONS}
    assert 12 <= len(QUESTIONS) <= 14
    data = tomllib.loads(interview.text)
    assert data["axes"]["z"]["motor"]["rated_current"]["from"] == "datasheet"


def test_dont_know_to_everything_is_a_full_answer():
    interview = Interview(EMPTY, "machine.toml")
    while interview.at is not None:
        interview.answer("don't know")
    assert interview.text == EMPTY


def test_comments_and_what_was_not_asked_stay():
    text = (demo_folder() / "machine.toml").read_text(encoding="utf-8")
    interview = Interview(text, "machine.toml")
    while interview.at is not None and interview.at[1].path != "axes.x.travel":
        interview.answer("")
    interview.answer("24 in")
    assert "24 in" in interview.text
    assert "# Turn the screw once, measure how far it moved: that is the lead." in interview.text
    assert interview.text.count("\n") == text.count("\n")


def test_a_refused_answer_changes_nothing():
    interview = Interview(EMPTY, "machine.toml")
    for typed in ("", "", "", "300 mm"):
        interview.answer(typed)
    while "*" not in interview.at[1].path:
        interview.answer("")
    before = interview.text, interview.at
    with pytest.raises(AnswerError, match="three with a stroke"):
        interview.answer("57 mm / 42 mm")
    assert (interview.text, interview.at) == before
