"""``kerfwright time`` as the person runs it: real files, and a real process first."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

COMMAND = [sys.executable, "-m", "kerfwright", "time"]
DOCS = Path(__file__).parents[2] / "docs"
SLOTS = DOCS / "examples" / "slots.nc"
FIRST = DOCS / "examples" / "first-router.toml"
TIMED = DOCS / "examples" / "timed" / "timed.toml"


def kerfwright_time(*arguments):
    return subprocess.run(
        [*COMMAND, *map(str, arguments)], capture_output=True, text=True, timeout=300, check=False,
        encoding="utf-8",
    )  # fmt: skip


def names_told():
    """Names of the file by the page, in its order, and those inside each."""
    page = (DOCS / "time.md").read_text(encoding="utf-8").split("## The file")[1]
    rows = re.findall(r"^\| (`.*?) \| (.*) \|$", page, re.M)
    return {name: told for names, told in rows for name in re.findall(r"`(\w+)`", names)}


@pytest.mark.slow
def test_the_answer_comes_first_and_the_parts_add_up(tmp_path):
    out = tmp_path / "time.json"
    done = kerfwright_time(SLOTS, "--machine", "demo", "--json", out)
    assert done.returncode == 0, done.stderr
    told = json.loads(out.read_text(encoding="utf-8"))
    assert " ".join(done.stdout.split()).startswith(told["sentence"])
    assert re.match(r"About .*; between .* and .*, nineteen times in twenty", told["sentence"])
    assert told["time"]["low_s"] < told["time"]["value_s"] < told["time"]["high_s"]
    for parts in ("sections", "cutters"):
        whole = sum(one["feed_s"] + one["rapid_s"] + one["wait_s"] for one in told[parts])
        assert whole == pytest.approx(told["time"]["value_s"], rel=1e-9)
    # The demo's motors have pull to spare, so its controller's settings could be quicker.
    assert told["waiting_s"] < told["fastest_s"] < told["time"]["value_s"]
    assert "HOW FAST THE MOTORS COULD BE" in done.stdout
    assert sum(one["share"] for one in told["spread"]) == pytest.approx(1.0)
    assert "safe" not in done.stdout.lower()


@pytest.mark.slow
def test_the_clock_narrows_the_prediction_and_the_page_names_all_of_it(here):
    done = here("time", SLOTS, "--machine", FIRST, "--timed", TIMED, "--json", "-")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    page = names_told()
    assert list(told) == list(page)[: len(told)] or sorted(told) == sorted(page)
    for name, value in told.items():
        inner = value[0] if isinstance(value, list) and value else value
        if isinstance(inner, dict):
            assert set(inner) <= set(re.findall(r"`(\w+)`", page[name])), name
    before, now = told["timed"]["before"], told["time"]
    assert now["high_s"] - now["low_s"] < before["high_s"] - before["low_s"]
    assert sum(one["weight"] for one in told["timed"]["fits"]) == pytest.approx(1.0)
    assert all(one["explained"] for one in told["timed"]["programs"])


@pytest.mark.slow
def test_lines_of_a_fit_can_be_put_into_the_machine_file(here, tmp_path):
    text = TIMED.read_text(encoding="utf-8").replace('"59 ± 1 s"', '"2 min 52 s"')
    text = text.replace("5 min 23 s", "5 min 34 s").replace("5 min 36 s", "5 min 41 s")
    for name in ("brackets", "name-plate", "peg-board"):
        (tmp_path / f"{name}.nc").write_bytes((TIMED.parent / f"{name}.nc").read_bytes())
    (tmp_path / "timed.toml").write_text(text, encoding="utf-8")
    options = ["--machine", FIRST, "--timed", tmp_path / "timed.toml", "--json", "-"]
    told = json.loads(here("time", SLOTS, *options).stdout)
    lines = "\n".join(told["timed"]["lines"])
    assert 'corners = { is = "exact stop", from = "measured"' in lines
    machine = tmp_path / "machine.toml"
    machine.write_text(FIRST.read_text(encoding="utf-8") + "\n" + lines + "\n", encoding="utf-8")
    again = json.loads(here("time", SLOTS, "--machine", machine, "--json", "-").stdout)
    assert [one["rule"] for one in again["rules"]] == ["exact stop"]
    assert again["time"]["value_s"] == pytest.approx(told["time"]["value_s"], rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "options", "told"),
    [
        ("G21 G90\nG1 X10 Y1.O F900\nM2\n", [], [":2:", "^", "remedy: "]),
        ("G21\n(nothing)\nM2\n", [], ["no line of it moves", "remedy: "]),
        ("G21\nG1 X10 F900\nM2\n", ["--machine", "no.toml"], ["no.toml", "remedy: "]),
        ("G21\nG1 X10 F900\nM2\n", ["--timed", "no.toml"], ["no.toml", "remedy: "]),
        ("G21\nG1 X10 F900\nM2\n", ["--job", "no.toml"], ["no.toml", "remedy: "]),
        ("G21\nG1 X10 F900\nM2\n", ["--json", "."], ["--json", "remedy: "]),
    ],
)
def test_bad_input_is_told_with_its_remedy(here, tmp_path, text, options, told):
    program = tmp_path / "job.nc"
    program.write_text(text)
    done = here("time", program, "--machine", "demo", *options)
    assert done.returncode == 2
    for words in told:
        assert words in done.stderr, done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_timed_programs_that_cannot_be_read_are_all_told(here, tmp_path):
    rows = ['kerfwright = "timed 1"']
    for name, text in (("a", "G21\nG1 X10 F600\nM2\n"), ("b", "G1 X1.O\n"), ("c", "G21\nM2\n")):
        (tmp_path / f"{name}.nc").write_text(text)
        rows += ["[[program]]", f'file = "{name}.nc"', 'took = "1 min"']
    timed = tmp_path / "timed.toml"
    timed.write_text("\n".join(rows) + "\n")
    done = here("time", SLOTS, "--machine", "demo", "--timed", timed)
    assert done.returncode == 2
    assert "b.nc:1:" in done.stderr
    assert "c.nc: no line of it moves" in done.stderr
    assert "a.nc" not in done.stderr
