"""``kerfwright handbook`` as the person runs it: real processes where the stream matters."""

import json
import os
import subprocess
import sys

import pytest

COMMAND = [sys.executable, "-m", "kerfwright", "handbook"]
SHIGLEY = ("thrust=6.4 kN", "mean_diameter=30 mm", "lead=8 mm", "friction=0.08")


def handbook(*arguments, **more):
    return subprocess.run(
        [*COMMAND, *map(str, arguments)], capture_output=True, text=True, timeout=60, check=False,
        encoding="utf-8", **more,
    )  # fmt: skip


def test_only_json_goes_to_the_pipe():
    done = handbook("screw-raising-torque", *SHIGLEY, "--json", "-")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["unit"] == "N mm"
    assert told["value"] == pytest.approx(15_937, abs=0.5)


def test_words_and_a_file(here, tmp_path):
    out = tmp_path / "answer.json"
    done = here("handbook", "screw-raising-torque", *SHIGLEY, "--json", out)
    assert "= 15937 N mm" in done.stdout
    assert json.loads(out.read_text(encoding="utf-8"))["name"] == "screw-raising-torque"


def test_list_and_page(here):
    listed = here("handbook")
    assert listed.returncode == 0
    assert "screw-raising-torque" in listed.stdout
    assert "safe" not in listed.stdout.lower()
    page = here("handbook", "screw-raising-torque")
    assert page.stdout.startswith("screw-raising-torque  [N mm]")
    assert "Source" in page.stdout


def test_a_terminal_that_knows_few_letters_still_gets_the_answer():
    plain = {**os.environ, "PYTHONIOENCODING": "ascii"}
    tube = ("section-rectangle-tube-area", "width=40 mm", "depth=80 mm", "wall=3 mm")
    done = handbook(*tube, env=plain)
    assert done.returncode == 0, done.stderr
    assert "= 684 mm?" in done.stdout
    done = handbook(*tube, "--json", "-", env=plain)
    assert json.loads(done.stdout)["unit"] == "mm²"


@pytest.mark.parametrize(
    "arguments",
    [
        ("no-such-formula",),
        ("screw-raising-torque", "thrust=6 mm"),
        ("screw-raising-torque", *SHIGLEY[:3], "friction=-1"),
        ("screw-raising-torque", *SHIGLEY, "--json", "/"),
    ],
)
def test_what_is_wrong_ends_with_2_and_a_remedy(here, arguments):
    done = here("handbook", *arguments)
    assert done.returncode == 2
    assert "remedy:" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
