"""What the set-up tells the reading of a program that is to be proved."""

import subprocess
import sys
from dataclasses import replace

import pytest

from kerfwright.basics import Change, InputError, InputErrors
from kerfwright.basics.progress import silent
from kerfwright.jobs import prepare
from kerfwright.jobs.belongings import read
from kerfwright.jobs.prove_errand import Errand
from kerfwright.jobs.prove_program import prove_program
from kerfwright.jobs.read_for_proof import read_for_proof
from kerfwright.machine import load_machine
from kerfwright.setup import setup_from_words
from kerfwright.stock.surface import Surface
from kerfwright.workshop import demo_folder

BOARD = "120 x 80 x 18 mm birch ply"
OUTLINE = "G0 X10 Y10\nG1 Z-1 F300\nG41 G1 X20 Y20 F900\nX60\nG40 X70 Y10\nM2\n"


@pytest.fixture(scope="module")
def machine():
    return load_machine(demo_folder() / "machine.toml")


def program_of(tmp_path, machine, text, cutters):
    path = tmp_path / "outline.nc"
    path.write_text("G21 G90 G17\n" + text)
    return read(path, machine, setup_from_words(BOARD, cutters, machine), silent)


@pytest.mark.parametrize(
    ("change", "cutters", "radius_mm"),
    [
        ("T1 M6\n", ["1: flat 6 mm"], 3.0),
        ("T2 M6\n", ["1: flat 6 mm", "2: flat 4 mm"], 2.0),
        ("", ["1: flat 6 mm"], 3.0),  # in the spindle from the start
    ],
)
def test_the_cutter_keeps_its_radius_beside_the_outline(
    tmp_path, machine, change, cutters, radius_mm
):
    """G41: the cutter is on the left of the outline (NISTIR 6556, 3.5.10)."""
    program = program_of(tmp_path, machine, change + OUTLINE, cutters)
    along = program.end_mm[program.end_mm[:, 0] >= 60.0 - 1e-9]
    assert along[0, :2] == pytest.approx([60.0, 20.0 + radius_mm])


def test_what_the_reading_assumed_reaches_the_verdict(tmp_path):
    path = tmp_path / "bare.nc"
    path.write_text("S12000 M3 T1 M6\nG1 X20 F600\nM2\n")
    errand = Errand(
        program=path, machine="demo", stock=BOARD, cutters=("1: flat 6 mm, 2 flutes",), cell_mm=1.0
    )
    assumed = prove_program(errand, read_for_proof(errand)).verdict.assumed
    assert "neither G20 nor G21 comes before the first move: read as mm" in assumed


class TestUnits:
    """Units as the proof reads them; tests/setup/test_units.py has the bounds."""

    SLOT = "G90 G17\nS18000 M3 T1 M6\nG0 X10 Y10 Z2\nG1 Z-1 F{}\nX{} Y{}\nG0 Z2\nM2\n"

    def prove(self, tmp_path, text, machine_file):
        (tmp_path / "slot.nc").write_text(text)
        errand = Errand(
            program=tmp_path / "slot.nc",
            machine=str(machine_file),
            stock=BOARD,
            cutters=("1: flat 6 mm, 2 flutes",),
            cell_mm=1.0,
        )
        return prove_program(errand, read_for_proof(errand)).verdict

    @pytest.fixture
    def silent_machine(self, tmp_path):
        text = (demo_folder() / "machine.toml").read_text("utf-8")
        path = tmp_path / "machine.toml"
        path.write_text(text.replace('default_units = "mm"\n', ""), "utf-8")
        return path

    def test_a_question_stops_the_reading(self, tmp_path, silent_machine):
        with pytest.raises(InputError, match="and both fit this machine"):
            self.prove(tmp_path, self.SLOT.format(100, 15, 14), silent_machine)

    def test_the_only_units_that_fit_are_told_in_the_verdict(self, tmp_path, silent_machine):
        verdict = self.prove(tmp_path, self.SLOT.format(600, 100, 60), silent_machine)
        assert any("read as millimetres, 90 x 50 x 3 mm, for in in" in w for w in verdict.assumed)
        assert "units" not in [finding.code for finding in verdict.findings]

    def test_units_that_make_no_sense_are_a_finding(self, tmp_path, silent_machine):
        verdict = self.prove(
            tmp_path, "(a slot)\nG20\n" + self.SLOT.format(600, 100, 60), silent_machine
        )
        found = [finding for finding in verdict.findings if finding.code == "units"]
        assert [(f.id, f.severity, f.line, f.limit) for f in found] == [
            ("units-2", "caution", 2, 610.0)
        ]
        assert found[0].words.startswith("Is this program meant in millimetres?")
        assert found[0].remedies[0].changes == (
            Change(path="word on line 2", old="G20", new="G21"),
        )
        assert verdict.outcome == "stop"  # the travel, of which this is the cause

    def test_all_of_it_smaller_than_the_cutter(self, tmp_path, silent_machine):
        text = "G21\n" + (
            "G90 G17\nS18000 M3 T1 M6\nG0 X0.5 Y0.5 Z.1\nG1 Z-.2 F40\nX4 Y3\nG0 Z.1\nM2\n"
        )
        verdict = self.prove(tmp_path, text, silent_machine)
        found = [finding for finding in verdict.findings if finding.code == "units"]
        assert len(found) == 1
        assert found[0].limit == 6.0
        assert "meant in inches?" in found[0].words


def test_the_machine_s_dialect_reaches_the_proof(tmp_path, machine):
    controller = replace(machine.controller, unknown_words="skips", default_units="mm")
    other = replace(machine, controller=controller)
    text = "T1 M6\nG0 X5 E7\nM2\n"
    program = program_of(tmp_path, other, text, ["1: flat 6 mm"])
    assert any("does not know and skips, first E7 on line 3" in note for note in program.notes)
    with pytest.raises(InputErrors, match="no word begins with the letter E"):
        program_of(tmp_path, machine, text, ["1: flat 6 mm"])


def test_what_reads_is_there_before_all_that_proves():
    """A slip in a program is told without waiting for it."""
    code = (
        "import sys; import kerfwright.jobs.read_for_proof;"
        " print(*{name.split('.')[1] for name in sys.modules if name.startswith('kerfwright.')})"
    )
    rooms = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    ).stdout.split()  # fmt: skip
    assert "program" in rooms
    assert not {"trajectory", "loads", "prove", "commission", "report"} & set(rooms)


DOVETAIL = "2: dovetail 14 deg 12 mm, flute length 8 mm"


class TestPreparing:
    """What must be compiled is told before it is waited for."""

    @pytest.fixture
    def told(self, tmp_path, monkeypatch):
        """The stages of reading a job, with an empty folder for what is compiled."""
        monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "kernels"))
        monkeypatch.setenv("NUMBA_DISABLE_JIT", "0")
        monkeypatch.setattr(prepare, "_both_halves", lambda progress: True)
        monkeypatch.setattr(prepare, "cut_undercut", lambda: None)
        path = tmp_path / "a.nc"
        path.write_text("G21 G90 G17\nT1 M6\nG0 X10\nM2\n")

        def stages(*cutters, job=None):
            said = []
            errand = Errand(
                program=path, machine="demo", stock=None if job else BOARD, cutters=cutters, job=job
            )
            read_for_proof(errand, progress=lambda stage, done: said.append(stage))
            return [stage for stage in dict.fromkeys(said) if stage.startswith("preparing")]

        return stages

    def test_a_cutter_that_undercuts_waits_once_more_and_says_so(self, told):
        flat = "1: flat 6 mm"
        assert told(flat) == ["preparing for this computer, once"]
        assert told(flat) == []
        assert told(flat, DOVETAIL) == ["preparing for undercuts, once"]
        assert told(flat, DOVETAIL) == []

    def test_the_first_time_of_all_both_are_told(self, told):
        assert told(DOVETAIL) == [
            "preparing for this computer, once",
            "preparing for undercuts, once",
        ]

    def test_so_is_any_outline_that_comes_back_inwards(self, told):
        assert told("1: profile, outline 3 x 0; 6 x 4; 6 x 8 mm")[1:] == []
        own = "1: profile, outline 3 x 0; 6 x 4; 3 x 8 mm"
        assert told(own) == ["preparing for undercuts, once"]

    def test_so_is_a_board_that_was_undercut(self, told, tmp_path, monkeypatch):
        monkeypatch.setattr(Surface, "undercut", True)
        (tmp_path / "cutters.toml").write_text(
            'kerfwright = "cutters 1"\n[[cutter]]\nname = "flat"\nshape = "flat"\n'
            'diameter = "6 mm"\n'
        )
        job = tmp_path / "job.toml"
        job.write_text(
            'kerfwright = "job 1"\n[board]\nsize = "120 x 80 x 18 mm"\nwood = "maple"\n'
            'thickness = [["18 mm", "18 mm"], ["18 mm", "17 mm"]]\n[slots]\n1 = "flat"\n'
        )
        assert told(job=job)[1:] == ["preparing for undercuts, once"]
