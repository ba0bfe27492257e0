"""What docs/machine-file.md says to type works, on a machine that was described from it alone."""

import json
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from kerfwright.machine import load_machine

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "machine-file.md").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_card_of_the_second_machine(tmp_path):
    lines = re.findall(r"^\$ kerfwright (machine docs/examples/.*)$", PAGE, re.M)
    assert len(lines) == 1
    words = shlex.split(lines[0])
    words[words.index("--out") + 1] = str(tmp_path / "card")
    done = subprocess.run(
        [sys.executable, "-m", "kerfwright", *words],
        cwd=ROOT, capture_output=True, text=True, timeout=300, check=False, encoding="utf-8",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "by belt" in done.stdout
    assert "the table swings" in done.stdout
    assert "pushed by hand" in done.stdout  # the table's drive is what a hand does not feel
    told = json.loads((tmp_path / "card" / "machine.json").read_text(encoding="utf-8"))
    assert told["give"]
    assert (tmp_path / "card" / "give.csv").is_file()


def test_it_is_what_the_page_says():
    machine = load_machine(ROOT / "docs" / "examples" / "belt-router.toml")
    assert [axis.drive for axis in machine.axes] == ["belt", "belt", "screw"]
    assert machine.choices["frame.moves"] == "table"
    assert [axis.travel_mm for axis in machine.axes[:2]] == [600.0, 400.0]
    shares = sum(part[2, 2, 0] for part in machine.compliance_shares.values())
    assert shares == pytest.approx([1.0] * 3)
