"""``kerfwright moves``: exit codes, what goes where, and the vectors through the command line."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kerfwright.app import moves_command
from kerfwright.jobs.list_moves import list_moves, listed_json

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


def test_file_and_rules(tmp_path):
    (tmp_path / "a.nc").write_text("G21 G90 G0 X1 ; over\n")
    assert run(tmp_path / "a.nc").exit_code == 2
    out = tmp_path / "new" / "list.json"
    assert run(tmp_path / "a.nc", "--rules", "workshop", "--json", out).exit_code == 0
    found = json.loads(out.read_text("utf-8"))
    assert found["motions"] == [{"type": "rapid", "to": [1.0, 0.0, 0.0], "line": 1}]
    assert len(found["notes"]) == 2


def test_nothing_else_on_standard_output(tmp_path):
    (tmp_path / "a.nc").write_text("G0 X1\nM2\n")
    command = "from kerfwright.app.command_line import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", command, "moves", str(tmp_path / "a.nc"), "--json", "-"],
        capture_output=True,
        check=True,
    )
    assert json.loads(done.stdout)["totals"]["moves"] == 1
