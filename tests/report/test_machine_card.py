"""The machine's card: words, JSON, picture and command."""

import json
import re
from dataclasses import replace
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

import kerfwright.workshop
from kerfwright.app import machine_command
from kerfwright.basics import InputError, InputErrors
from kerfwright.jobs.describe_machine import describe_machine
from kerfwright.jobs.machine_errand import MachineErrand
from kerfwright.machine import frame_modes, load_machine, machine_results, nose_give, set_off
from kerfwright.report.give_file import give_rows
from kerfwright.report.machine_card import answer, card_words, worth_measuring
from kerfwright.report.machine_file import card_as_plain

DEMO = Path(kerfwright.workshop.__file__).parent / "demo" / "machine.toml"


@pytest.fixture(scope="module")
def machine():
    return load_machine(DEMO)


@pytest.fixture(scope="module")
def results(machine):
    return machine_results(machine, seed=2, draws=30)


@pytest.fixture(scope="module")
def words(machine, results):
    return card_words(machine, results, frame_modes(machine))


def test_answer_first(words, results):
    assert words.startswith("Alder Lane router: pushed with 45 N along X")
    part = next(iter(results.nose[0].shares))
    assert f"in the {part}" in answer(results)


def test_every_part_of_the_machine_is_on_the_card(words, machine):
    for title in ("AXIS X", "AXIS Y", "AXIS Z", "PUSHED BETWEEN SPINDLE NOSE AND TABLE", "MEASURED",
                  "FROM DATA SHEETS", "ESTIMATED", "TAKEN, BECAUSE NOT GIVEN"):  # fmt: skip
        assert title in words
    assert "12.70 mm (0.500 in), by screw" in words
    assert "4000 to the inch" in words
    assert "the screw buckles" in words
    assert "in damp weather" in words
    assert "HOW IT SWINGS" in words
    assert all(f"{mode.hertz:.3g} Hz, along" in words for mode in frame_modes(machine))
    assert "steel rule, March" in words
    flat = re.sub(r"\s+", " ", words)
    for sentence in machine.assumed:
        assert re.sub(r"\s+", " ", sentence) in flat


def test_units_that_nobody_set_are_no_mm(words, machine, results):
    assert "mm until a program says otherwise" in re.sub(r"\s+", " ", words)
    other = replace(machine, controller=replace(machine.controller, default_units=None))
    flat = re.sub(r"\s+", " ", card_words(other, results))
    assert "units as a program says; if it says none, those that fit this machine" in flat
    assert card_as_plain(other, results)["controller"]["default_units"] is None


def test_lines_are_short_and_plain(words):
    assert max(len(line) for line in words.splitlines()) <= 92
    assert all(c.isprintable() or c == "\n" for c in words)
    assert not re.search(r"\bsafe", words, re.I)
    assert not re.search(r"\b(nan|inf|None)\b", words)


def test_a_name_cannot_drive_the_terminal(tmp_path):
    text = DEMO.read_text(encoding="utf-8").replace("Alder Lane router", "x\\u001b[31m")
    file = tmp_path / "m.toml"
    file.write_text(text, encoding="utf-8")
    described = describe_machine(MachineErrand(machine=str(file), draws=3))
    assert "\x1b" not in described.words


def test_worth_measuring_names_what_was_not_measured(machine, results):
    lines = worth_measuring(machine, results)
    assert lines
    assert all("rules" in line for line in lines)


def test_json_reads_back(machine, results):
    plain = card_as_plain(machine, results)
    text = json.dumps(plain, allow_nan=False)
    assert json.loads(text)["axes"]["x"]["lead"]["value"] == pytest.approx(12.7)
    assert plain["kerfwright"] == "machine card 1"
    assert set(plain["known"]) == set(machine.known)


def test_files_are_written_and_the_same_each_time(tmp_path):
    one, two = (
        describe_machine(MachineErrand(machine="demo", out=tmp_path / n, draws=4)) for n in "ab"
    )
    names = ["machine.txt", "machine.json", "machine.png", "swings.png"]
    assert [file.name for file in one.files] == names
    for a, b in zip(one.files, two.files, strict=True):
        assert a.read_bytes() == b.read_bytes()
    png = one.files[2].read_bytes()
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(png[16:20]) == 1200


@pytest.mark.parametrize(
    ("text", "drawn"),
    [
        ("", False),
        (
            '[frame]\nmoves_along = "y"\n[axes.y]\nmotors = 2\ndrive = "belt"\n'
            '[table]\ncore = "0 mm"\n',
            True,
        ),
        (
            '[axes.x]\ndrive = "rack"\n[table]\nstiffness = "900 N/mm"\n[spindle]\n'
            'kind = "hand router"\ndial = ["9000 rev/min", "20000 rev/min"]\n'
            '[controller]\ncorners = "exact stop"\n',
            False,
        ),
        (
            '[controller]\ncorners = "path tolerance"\n[controller.x]\nrapid = "90 m/min"\n',
            False,
        ),
    ],
    ids=["nothing known", "along y, belt", "rack, hand router", "path tolerance, too fast"],
)
def test_other_machines(tmp_path, text, drawn):
    file = tmp_path / "machine.toml"
    file.write_text('kerfwright = "machine 1"\n' + text, encoding="utf-8")
    out = tmp_path / "out" if drawn else None
    described = describe_machine(MachineErrand(machine=str(file), out=out, draws=3))
    assert not re.search(r"\b(nan|inf|None)\b", described.words)
    json.loads(described.json_text)


def test_bad_file(tmp_path):
    file = tmp_path / "machine.toml"
    file.write_text('kerfwright = "machine 1"\n[axes.x]\ntravel = "24 lb"\n', encoding="utf-8")
    with pytest.raises(InputErrors, match="is no unit of length"):
        describe_machine(MachineErrand(machine=str(file)))


@pytest.fixture
def command():
    import typer

    app = typer.Typer()
    machine_command.add_to(app)
    app.callback()(lambda: None)
    return lambda *arguments: CliRunner().invoke(app, ["machine", *arguments])


def test_command_prints_json_and_nothing_else(command, monkeypatch):
    monkeypatch.setattr(machine_command, "run", _here)
    result = command("demo", "--json", "-")
    assert result.exit_code == 0
    assert json.loads(result.stdout)["name"] == "Alder Lane router"


def test_command_prints_the_card_and_writes(command, monkeypatch, tmp_path):
    monkeypatch.setattr(machine_command, "run", _here)
    result = command("demo", "--json", str(tmp_path / "card.json"))
    assert result.exit_code == 0
    assert "AXIS X" in result.stdout
    assert "Written: " in result.stdout
    assert (tmp_path / "card.json").exists()


def _here(errand, request, *, on_progress, folders):
    """The errand without a process of its own, and with few draws."""
    from dataclasses import replace

    return errand(replace(request, draws=3), progress=on_progress)


def test_the_give_on_a_grid(machine):
    # What is on the card's own grid, and what a push does from either end of a line: reciprocity.
    described = describe_machine(MachineErrand(machine=str(DEMO), grid=(3, 1, 2), draws=3))
    told = json.loads(described.json_text)
    modes = frame_modes(machine)
    assert [one["hertz"] for one in told["swings"]] == pytest.approx([m.hertz for m in modes])
    assert told["swings"][0]["swing_mm"] == pytest.approx(set_off(machine, modes[0])[0])
    give = told["give"]
    matrix = np.array(give["six_by_six"])
    assert matrix.shape == (3, 1, 2, 6, 6)
    own = machine.compliance_mm_per_n[::2, 2:3, ::2]
    assert matrix[..., :3, :3] == pytest.approx(own, rel=1e-9, abs=1e-12)
    size = np.sqrt(np.diagonal(matrix, axis1=-2, axis2=-1))
    skew = matrix - np.swapaxes(matrix, -1, -2)
    assert np.all(np.abs(skew) <= 1e-9 * size[..., None] * size[..., None, :])
    assert np.linalg.eigvalsh(matrix / size[..., None] / size[..., None, :]).min() > 0.0
    shares = np.array(list(give["shares"].values()))
    assert shares.sum(axis=0) == pytest.approx(np.ones((3, 1, 2, 3)))
    rows = give_rows(nose_give(machine, *(np.array(give[f"{at}_mm"]) for at in ("x", "y", "nose"))))
    table = np.genfromtxt(StringIO(rows), delimiter=",", names=True)
    assert table["x_for_x"] == pytest.approx(matrix[..., 0, 0].ravel())
    assert table["nose_mm"] == pytest.approx(np.tile(give["nose_mm"], 3))


@pytest.mark.parametrize(
    ("grid", "words"),
    [("3x2", "says no places"), ("0x2x2", "0 places"), ("999x999x9", "ask for 1 to 5000"),
     ("2x2x2", "nowhere to go")],
)  # fmt: skip
def test_a_grid_that_cannot_be(grid, words):
    with pytest.raises(InputError, match="--grid") as told:
        machine_command.machine("demo", grid=grid)
    assert words in str(told.value)
