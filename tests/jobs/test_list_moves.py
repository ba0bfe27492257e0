"""``kerfwright moves``: exit codes, what goes where, and the vectors through the command line."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kerfwright.app import moves_command
from kerfwright.basics import InputErrors
from kerfwright.jobs.list_moves import list_moves, listed_json
from kerfwright.workshop import demo_folder

_CASES = json.loads((Path(__file__).parents[1] / "program" / "vectors.json").read_text("utf-8"))[
    "cases"
]


def listing(path, **kwargs):
    only = kwargs.get("only_totals", False)
    return json.loads("".join(listed_json(list_moves(path, **kwargs), only_totals=only)))


def run(*args):
    import typer

    app = typer.Typer()
    moves_command.add_to(app)
    return CliRunner().invoke(app, [str(arg) for arg in args])


@pytest.mark.parametrize("case", _CASES[::7], ids=lambda case: case["name"])
def test_vectors_through_files(tmp_path, case):
    (tmp_path / "a.nc").write_bytes(case["text"].encode())
    (tmp_path / "s.json").write_text(json.dumps(case.get("setup", {})))
    found = listing(tmp_path / "a.nc", start_file=tmp_path / "s.json")
    if isinstance(case["expect"], dict):
        assert found["error"]["line"] == case["expect"]["line"]
        allowed = (case["expect"]["error"], *case["expect"].get("also_ok", ()))
        assert found["error"]["kind"] in allowed
        assert found["error"] == found["errors"][0]
        assert set(found["error"]) >= {"kind", "line", "column", "text", "remedy"}
        assert "totals" not in found
    else:
        assert "error" not in found
        if "totals" in case:
            assert found["totals"]["cut_mm"] == pytest.approx(case["totals"]["cut_mm"], abs=1e-4)
        for index, value in case.get("after", {}).get("params", {}).items():
            assert found["after"]["params"][index] == pytest.approx(value)


def test_only_totals(tmp_path):
    (tmp_path / "a.nc").write_text("F60 G1 X3 Y4\nG0 Z5\nM2\n")
    found = listing(tmp_path / "a.nc", only_totals=True)
    assert "motions" not in found
    assert found["totals"] == {
        "rapid_mm": 5.0,
        "cut_mm": 5.0,
        "end": [3.0, 4.0, 5.0],
        "lowest": [0.0, 0.0, 0.0],
        "highest": [3.0, 4.0, 5.0],
        "moves": 2,
        "lines": 3,
    }


def test_unreadable(tmp_path):
    path = tmp_path / "a.nc"
    path.write_text("G0 X1\nG0 X2\nG0 Y5O\nG0 X4\nG5\nM2\n")
    shown = run(path, "--json", "-", "--totals")
    assert shown.exit_code == 2
    found = json.loads(shown.stdout)
    assert [error["line"] for error in found["errors"]] == [3, 5]
    assert [motion["to"] for motion in found["motions"]] == [[1, 0, 0], [2, 0, 0]]
    assert f"{path}:3:4: the Y word holds the letter O" in shown.stderr
    plain = run(path)
    assert plain.exit_code == 2
    assert "rapid to X2.000" in plain.stdout


def test_no_file(tmp_path):
    shown = run(tmp_path / "none.nc", "--json", "-")
    assert shown.exit_code == 2
    found = json.loads(shown.stdout)
    assert found["motions"] == []
    assert found["error"]["problem"] == "there is no such file"


def test_for_the_eye(tmp_path):
    (tmp_path / "a.nc").write_text(
        "G21 G90 M3 S900 T2 M6\nG38.2 Z-1 F60\nG2 X4 I2\nG93 G1 X0 F30\nG94 F60 M7\nG4 P2\n"
        "M0\nM60\nS500 M4\nG84 X1 Z-3 R1 (MSG,x)\nM2\n"
    )
    assert run(tmp_path / "a.nc").exit_code == 2  # the spindle turns the other way
    (tmp_path / "a.nc").write_text((tmp_path / "a.nc").read_text().replace("M4", "M3"))
    shown = run(tmp_path / "a.nc")
    assert shown.exit_code == 0
    for words in (
        "put in the cutter of slot 2",
        "spindle clockwise at 900 rev/min",
        "probe to X0.000 Y0.000 Z-1.000, 60 mm/min",
        "arc to X4.000 Y0.000 Z-1.000, clockwise by 180.00° at radius 2.000, 60 mm/min",
        "feed to X0.000 Y0.000 Z-1.000, in 2 s",
        "coolant mist",
        "wait 2 s",
        "change pallets, stop",
        "feed and spindle tied together",
        "spindle counter-clockwise at 500 rev/min",
        "note: no plane is chosen before the first arc",
    ):
        assert words in shown.stdout, words


@pytest.fixture
def machine_file(tmp_path):
    """A machine.toml with these lines under [controller]; travels as the demo's."""

    def make(lines=""):
        text = (demo_folder() / "machine.toml").read_text("utf-8")
        text = text.replace('default_units = "mm"\n', "")
        path = tmp_path / "machine.toml"
        path.write_text(text.replace("[controller]\n", f"[controller]\n{lines}\n"), "utf-8")
        return path

    return make


def test_file_and_dialect(tmp_path, machine_file):
    (tmp_path / "a.nc").write_text("G21 G90 G0 X1 ; over\n")
    strict = run(tmp_path / "a.nc")
    assert strict.exit_code == 2
    assert "--dialect machine.toml reads it as your machine does" in strict.stderr
    out = tmp_path / "new" / "list.json"
    args = [tmp_path / "a.nc", "--dialect", machine_file(), "--json", out]
    assert run(*args).exit_code == 0
    found = json.loads(out.read_text("utf-8"))
    assert found["motions"] == [{"type": "rapid", "to": [1.0, 0.0, 0.0], "line": 1}]
    assert len(found["notes"]) == 2


def test_the_machine_file_rules_the_reading(tmp_path, machine_file):
    (tmp_path / "a.nc").write_text("G21 G90 G0 X1 ; over\nM2\n")
    shown = run(tmp_path / "a.nc", "--dialect", machine_file('semicolons = "stops"'))
    assert shown.exit_code == 2
    assert "put the remark in parentheses" in shown.stderr
    assert "--dialect" not in shown.stderr


def test_start_state_and_machine_file_go_together(tmp_path, machine_file):
    (tmp_path / "a.nc").write_text("G21 G91 G0 X1\n/X2\n")
    (tmp_path / "s.json").write_text('{"start": [10, 0, 0], "block_delete": true}')
    args = ["--dialect", machine_file(), "--setup", tmp_path / "s.json", "--json", "-"]
    found = json.loads(run(tmp_path / "a.nc", *args).stdout)
    assert [motion["to"] for motion in found["motions"]] == [[11.0, 0.0, 0.0]]


def test_a_machine_file_that_cannot_be_read(tmp_path):
    (tmp_path / "a.nc").write_text("G0 X1\nM2\n")
    (tmp_path / "m.toml").write_text('kerfwright = "machine 1"\n[controller]\nlower_case = "no"\n')
    with pytest.raises(InputErrors, match='"no" is not one of the choices'):
        list_moves(tmp_path / "a.nc", dialect=tmp_path / "m.toml")


class TestUnits:
    BOX = "G90 G17\nG0 X0 Y0 Z0\nG1 X{} F100\nY{}\nZ-{}\nM2\n"

    def test_not_said_and_only_one_fits(self, tmp_path, machine_file):
        (tmp_path / "a.nc").write_text(self.BOX.format(305, 203, 6))
        shown = run(tmp_path / "a.nc", "--dialect", machine_file())
        assert shown.exit_code == 0
        assert "note: neither G20 nor G21 comes before the first move: read as mill" in shown.stdout

    def test_not_said_and_both_fit(self, tmp_path, machine_file):
        (tmp_path / "a.nc").write_text(self.BOX.format(12, 8, 0.25))
        shown = run(tmp_path / "a.nc", "--dialect", machine_file(), "--json", "-")
        assert shown.exit_code == 2
        assert "read in millimetres it is 12 x 8 x 0.25 mm, in inches 305 x 203 x" in shown.stderr
        found = json.loads(shown.stdout)
        assert (found["error"]["kind"], found["motions"]) == ("units", [])
        assert run(tmp_path / "a.nc").exit_code == 0  # without a machine: the standard's reading

    def test_said_and_senseless_is_a_note(self, tmp_path, machine_file):
        (tmp_path / "a.nc").write_text("G20\n" + self.BOX.format(305, 203, 6))
        shown = run(tmp_path / "a.nc", "--dialect", machine_file())
        assert shown.exit_code == 0
        assert "note: Is this program meant in millimetres? The program says G20" in shown.stdout


def test_nothing_else_on_standard_output(tmp_path):
    (tmp_path / "a.nc").write_text("G0 X1\nM2\n")
    command = "from kerfwright.app.command_line import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", command, "moves", str(tmp_path / "a.nc"), "--json", "-"],
        capture_output=True,
        check=True,
    )
    assert json.loads(done.stdout)["totals"]["moves"] == 1
