"""That the benchmarks run, and what their page says. How long anything takes is no test."""

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import pytest

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"


def load(name):
    """A module of the benchmarks, which are no package."""
    spec = importlib.util.spec_from_file_location(f"benchmark_{name}", BENCHMARKS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look there for their own module
    spec.loader.exec_module(module)
    return module


def entry(part, **figure):
    return {
        "part": part,
        "at": "2026-11-25T12:00:00+00:00",
        "machine": "2 cores",
        "load_before": 0.5,
        "probes": {"newlines, ms": 2.5},
        "figures": [{"wall_s": 0.06, "cpu_s": 0.05, "count": 1000, **figure}],
    }


@pytest.mark.parametrize(
    ("ratio", "verdict"), [(11.9, "moonshot met"), (39.0, "met"), (41.0, "**missed**")]
)
def test_page_holds_figures_against_targets(ratio, verdict):
    latest = {"reading": entry("reading", name="plain relief", ratio=ratio, probe="newlines")}
    lines = load("page").page(latest).splitlines()
    (row,) = (line for line in lines if line.startswith("| reading a plain relief"))
    assert row.split(" | ")[1:] == ["40", "12", f"{ratio:.3g}", f"{verdict} |"]
    assert f"| plain relief | 60 ms | 50 ms | 50 µs | {ratio:.3g} × newlines |" in lines
    assert "Probes: newlines 2.5 ms." in lines
    not_run = len(load("page").TARGETS) - 1
    assert sum("not measured" in line for line in lines) == not_run


def test_page_is_the_one_that_the_record_makes():
    performance = (BENCHMARKS.parent / "docs" / "performance.md").read_text(encoding="utf-8")
    entries = [
        json.loads(line)
        for line in (BENCHMARKS / "past.jsonl").read_text(encoding="utf-8").splitlines()
    ]
    latest = {entry["part"]: entry for entry in entries if "part" in entry}
    assert load("page").page(latest) == performance


@pytest.mark.slow
def test_parts_run_and_write_nothing():
    record = BENCHMARKS / "past.jsonl"
    before = record.read_bytes()
    command = [sys.executable, str(BENCHMARKS / "performance.py"), "--dry", "--lines", "2000"]
    done = subprocess.run(
        [*command, "reading", "planning"], capture_output=True, text=True, check=True
    )
    for name in ("plain relief", "mixed program", "random polyline", "newlines", "chain"):
        assert name in done.stdout
    assert record.read_bytes() == before
    without = subprocess.run(command[:2] + ["--lines", "2000"], capture_output=True, text=True)
    assert without.returncode == 2
    assert "--dry" in without.stderr
