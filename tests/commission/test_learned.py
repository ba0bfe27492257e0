"""What cut jobs have said: kept whole, refused where damaged; one run narrows the time."""

import pytest

from kerfwright.basics import InputError
from kerfwright.commission import Observed, fit_times
from kerfwright.commission.learned import Learned, TimedRun, learned_text, read_learned
from kerfwright.commission.sizes import LawNote
from kerfwright.machine import load_machine
from kerfwright.program import parse_program
from kerfwright.trajectory import program_time
from kerfwright.workshop import demo_folder

RUN = TimedRun(file="jobs/a/a.nc", sha256="0" * 64, slot=None, took_s=600.0, u_s=2.0)


def test_it_comes_back_as_it_was_written(tmp_path):
    told = ({"name": "time", "before": "9 to 11 min", "after": "10 min"},)
    learned = Learned().with_run(RUN).with_note("ash", LawNote(precision=9.0, log_factor=0.2))
    learned = learned.with_shrunk(4, told)
    path = tmp_path / "learned.json"
    assert read_learned(path) == Learned()
    path.write_text(learned_text(learned), encoding="utf-8")
    assert read_learned(path) == learned


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"kerfwright": "learned 2"}',
        learned_text(Learned().with_run(RUN)).replace("600.0", "-1"),
        learned_text(Learned().with_run(RUN)).replace("600.0", "1e999"),
        "[" * 100_000,
    ],
)
def test_a_damaged_file_is_told(tmp_path, text):
    path = tmp_path / "learned.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="is damaged, or of a newer Kerfwright"):
        read_learned(path)


def test_one_run_narrows_the_time_around_what_the_clock_said():
    machine = load_machine(demo_folder() / "machine.toml")
    lines = "\n".join(f"G1 X{10 + 90 * (k % 2)} Y{k}" for k in range(60))
    program = parse_program(f"G21 G90\nG0 X5 Y5\nG1 Z-1 F600\n{lines}\nM2\n".encode(), "a")
    before = program_time(program, machine).time
    took = before.value + 0.35 * (before.high - before.low)
    run = Observed(name="a", program=program, in_spindle=None, took_s=took, u_s=0.5)
    fitted = fit_times([run], machine, least=1)
    after = program_time(program, machine, beliefs=fitted.beliefs).time
    assert after.high - after.low < 0.8 * (before.high - before.low)
    assert before.value < after.value < took
    assert after.low < took < after.high
    with pytest.raises(ValueError, match="at least 3 are needed"):
        fit_times([run], machine)
