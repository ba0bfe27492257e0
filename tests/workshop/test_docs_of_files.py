"""The examples and figures in the pages on our files are read and true."""

import re
from math import tan
from pathlib import Path

import pytest

from kerfwright.cutter import chip_range, load_cutters
from kerfwright.cutter.rack import _ALLOWED
from kerfwright.machine import load_machine
from kerfwright.setup import load_job
from kerfwright.setup.accept import ACCEPT_KEYS
from kerfwright.setup.board_section import _BOARD
from kerfwright.setup.hold import HOLD_KEYS, USUAL
from kerfwright.setup.job_file import _LIMITS, _ZERO
from kerfwright.setup.zero import methods

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
DEMO = ROOT / "src/kerfwright/workshop/demo"


def page(name):
    return (DOCS / name).read_text(encoding="utf-8")


def example(name, tmp_path):
    text = re.search(r"```toml\n(.*?)```", page(name), re.S)[1]
    path = tmp_path / "example.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_rack_in_the_page_is_read(tmp_path):
    rack = list(load_cutters(example("cutters-file.md", tmp_path)))
    assert rack[:2] == ["ball 3 mm", "V 60"]
    assert len(rack) == 5


@pytest.mark.parametrize("job", ["page", "demo"])
def test_the_job_is_read(tmp_path, job):
    machine = load_machine(DEMO / "machine.toml")
    rack = load_cutters(DEMO / "cutters.toml")
    path = DEMO / "jobs/relief-tray/job.toml"
    if job == "page":
        path = example("job-file.md", tmp_path)
    setup = load_job(path, rack, machine)
    assert sorted(setup.slots) == [1, 2]
    assert setup.first_slot == 1


def test_every_key_has_its_row():
    told = set(re.findall(r"`(\w+)`", page("job-file.md")))
    keys = {*_BOARD, *_ZERO, *_LIMITS, *HOLD_KEYS, *ACCEPT_KEYS, "first", "force"}
    assert keys - {"note"} <= told
    assert set(_ALLOWED) <= set(re.findall(r"`(\w+)`", page("cutters-file.md")))


def test_the_methods_are_those_of_the_table():
    table = page("job-file.md").split("| method |")[1].split("\n\n")[0]
    rows = dict(re.findall(r"^\| `(\w+)` \| .* \| ([\d.]+) mm \|$", table, re.M))
    every = methods("x") | methods("z")
    assert {name: float(u) for name, u in rows.items()} == {
        name: method.u_mm for name, method in every.items() if name != "unsaid"
    }


def test_the_chip_table_is_that_of_the_range():
    ends = r"\| ([\d.]+) to ([\d.]+) mm " * 3
    rows = re.findall(rf"^{ends}\| (\w+)", page("cutters-file.md"), re.M)
    assert len(rows) == 4
    for *ends, family in rows:
        for index, diameter in enumerate((3.0, 6.0, 12.0)):
            chip = chip_range(diameter, family.lower())
            assert chip.low_mm == pytest.approx(float(ends[2 * index]))
            assert chip.high_mm == pytest.approx(float(ends[2 * index + 1]))


def test_a_z_error_in_a_v_groove():
    """Geometry: a groove's width is twice the depth times the tangent of half the angle."""
    for degrees, stated in ((60, 1.15), (90, 2.0)):
        assert f"{stated:g} e at {degrees}°" in page("job-file.md")
        assert 2 * tan(degrees / 2 * 3.141592653589793 / 180) == pytest.approx(stated, abs=0.006)


def test_what_is_taken_to_hold_is_what_the_page_says():
    text = " ".join(page("job-file.md").split())
    for kind, factor, unit in (
        ("screw", 1.0, "N"), ("nail", 1.0, "N"), ("clamp", 1.0, "N"),
        ("tape", 1000.0, "kPa"), ("vacuum", 1000.0, "kPa"),
    ):  # fmt: skip
        low, high = factor * USUAL[kind].low, factor * USUAL[kind].high
        assert f"{low:g} to {high:g} {unit}" in text, kind


def test_hold_and_accept_of_the_page_are_read(tmp_path):
    blocks = re.findall(r"```toml\n(.*?)```", page("job-file.md"), re.S)
    more = [block for block in blocks if block.startswith(("[hold]", "[[accept]]"))]
    path = tmp_path / "job.toml"
    path.write_text("\n".join([blocks[0], *more]), encoding="utf-8")
    machine = load_machine(DEMO / "machine.toml")
    setup = load_job(path, load_cutters(DEMO / "cutters.toml"), machine)
    assert len(setup.hold.grips[0].at_mm) == 3
    assert [one.reason[:8] for one in setup.accepted] == ["the plug"]
