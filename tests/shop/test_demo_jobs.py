"""The three jobs of the demo: made as committed, and proved to just what was planted in them."""

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import demo_bat_box
import demo_gears
import make_demo
from kerfwright import report
from kerfwright.workshop import open_demo, planted_in

GEAR_LINE = 8906  # where the small gear loses its last bridge


def test_every_file_is_as_made():
    for path, made in make_demo.everything().items():
        assert path.read_bytes() == made, path


def test_three_jobs_of_which_one_has_faults_planted():
    planted = {job.name: len(planted_in(job)) for job in open_demo().jobs()}
    assert planted == {"bat-box-sides": 7, "gear-pair": 0, "relief-tray": 0}


def verdicts(out):
    """What ``kerfwright demo`` wrote of each job, and told of it."""
    done = subprocess.run(
        [sys.executable, "-m", "kerfwright", "demo", "--out", str(out)],
        capture_output=True, encoding="utf-8", timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    schema = json.loads((Path(report.__file__).parent / "verdict.schema.json").read_text("utf-8"))
    found = {}
    for job in open_demo().jobs():
        verdict = json.loads((out / job.name / "verdict.json").read_text("utf-8"))
        jsonschema.validate(verdict, schema)
        assert f"{job.name}: {verdict['sentence']}" in done.stdout
        found[job.name] = [one for one in verdict["findings"] if one["severity"] != "note"]
    return found, done.stdout


@pytest.mark.slow
def test_the_demo_finds_each_planted_fault_at_its_line_and_nothing_else(tmp_path):
    found, told = verdicts(tmp_path / "demo")
    planted = planted_in(open_demo().job("bat-box-sides"))
    assert sorted((f["line"], f["code"], f["severity"]) for f in found["bat-box-sides"]) == sorted(
        (f.line, f.code, f.severity) for f in planted
    )
    assert "7 faults were planted in it" in told
    assert told.count(": found\n") == len(planted) == 7
    assert "not found" not in told
    assert found["relief-tray"] == []
    # The gears come with the bridges that were forgotten.
    assert "gear-pair: It can be cut in about 4 min; look at one thing first." in told
    (loose,) = found["gear-pair"]
    assert (loose["line"], loose["code"], loose["severity"]) == (
        GEAR_LINE,
        "loose piece",
        "caution",
    )
    # The outline of the small gear, less its bore: about pi (20 mm)² - pi (4 mm)².
    assert loose["value"]["value"] == pytest.approx(np.pi * (20.0**2 - 4.0**2), rel=0.1)


@pytest.mark.parametrize("teeth", demo_gears.TEETH)
def test_teeth_are_involutes_of_the_usual_size(teeth):
    root, base, pitch, tip = demo_gears.radii(teeth)
    assert (pitch, tip, root) == (2.0 * teeth, 2.0 * teeth + 4.0, 2.0 * teeth - 5.0)
    # At the pitch circle a tooth is half a pitch thick, less the play.
    thick = 2.0 * pitch * demo_gears.tooth_half_angle(teeth, pitch)
    assert thick == pytest.approx(np.pi * demo_gears.MODULE / 2.0 - demo_gears.BACKLASH)
    # A string unwound from the base circle: its length is what was unwound.
    radius = np.linspace(base + 0.1, tip, 50)
    turned = demo_gears.tooth_half_angle(teeth, base) - demo_gears.tooth_half_angle(teeth, radius)
    string = np.sqrt(radius**2 - base**2)
    assert base * (turned + np.arctan2(string, base)) == pytest.approx(string)


@pytest.mark.parametrize("teeth", demo_gears.TEETH)
def test_the_cutter_touches_the_teeth_and_takes_nothing_of_them(teeth):
    edge = demo_gears.outline(teeth)
    path = demo_gears.cutter_path(teeth)
    away = np.hypot(*(path[:, None] - edge[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.min() > demo_gears.CUTTER_RADIUS - 0.01
    beside = np.hypot(path[:, 0], path[:, 1]) > demo_gears.radii(teeth)[0] + 2.5
    assert away[beside].max() < demo_gears.CUTTER_RADIUS + 0.06


def test_faults_are_planted_at_lines_that_have_them():
    lines = demo_bat_box.bat_box_program().decode().splitlines()
    said = {
        fault.code: lines[fault.line - 1] for fault in planted_in(open_demo().job("bat-box-sides"))
    }
    assert "Z-15.2" in said["table"]
    assert "F260" in said["chip too thin"]
    assert said["Z not set again"] == "T2 M6"
    assert said["rapid through wood"].startswith("G0")
    assert "Z" not in said["rapid through wood"]
