"""The three jobs of the demo: made as committed, and proved to just what was planted in them."""

from functools import cache

import numpy as np
import pytest

import demo_bat_box
import demo_gears
import make_demo
from kerfwright.app.demo_command import CELL_MM
from kerfwright.cutter import load_cutters
from kerfwright.jobs.belongings import read
from kerfwright.machine import load_machine
from kerfwright.prove.chain import Origin, prove
from kerfwright.setup import load_job
from kerfwright.workshop import demo_folder, open_demo, planted_in

ORIGIN = Origin(version="0", code_sha256="c", tables_sha256="t")
GEAR_LINE = 8906  # where the small gear loses its last bridge


def test_every_file_is_as_made():
    for path, made in make_demo.everything().items():
        assert path.read_bytes() == made, path


def test_three_jobs_of_which_one_has_faults_planted():
    planted = {job.name: len(planted_in(job)) for job in open_demo().jobs()}
    assert planted == {"bat-box-sides": 7, "gear-pair": 0, "relief-tray": 0}


@cache
def proof(name):
    folder = demo_folder()
    machine = load_machine(folder / "machine.toml")
    job = open_demo().job(name)
    setup = load_job(job.job_file, load_cutters(folder / "cutters.toml"), machine)
    program = read(job.program_file(), machine, setup, lambda stage, done: None)
    return prove(program, setup, machine, ORIGIN, cell_mm=CELL_MM, threads=2), planted_in(job)


def told(name):
    return sorted(
        (f.line, f.code, f.severity)
        for f in proof(name)[0].verdict.findings
        if f.severity != "note"
    )


@pytest.mark.slow
def test_each_planted_fault_is_found_at_its_line_and_nothing_else():
    planted = proof("bat-box-sides")[1]
    assert told("bat-box-sides") == sorted((f.line, f.code, f.severity) for f in planted)


@pytest.mark.slow
def test_the_gears_come_with_the_bridges_that_were_forgotten():
    assert told("gear-pair") == [(GEAR_LINE, "loose piece", "caution")]
    (found,) = (f for f in proof("gear-pair")[0].verdict.findings if f.code == "loose piece")
    # The outline of the small gear, less its bore: about pi (20 mm)² - pi (4 mm)².
    assert found.value.value == pytest.approx(np.pi * (20.0**2 - 4.0**2), rel=0.1)


@pytest.mark.slow
def test_the_tray_is_clear():
    assert told("relief-tray") == []


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
