"""The command as the person runs it: real files, and real processes where they matter."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from importlib.metadata import version
from math import fsum, hypot
from pathlib import Path

import jsonschema
import pytest

from kerfwright import report
from kerfwright.workshop import copy_demo, history, open_workshop
from make_relief import relief_program

COMMAND = [sys.executable, "-m", "kerfwright"]
SLOTS = Path(__file__).parents[2] / "docs" / "examples" / "slots.nc"
STOCK = ["--machine", "demo", "--stock", "120 x 80 x 18 mm birch ply"]
FLAT = ["--cutter", "1: flat 6 mm, 2 flutes", "--cell", "0.5"]


def kerfwright(*arguments, cwd=None):
    return subprocess.run(
        [*COMMAND, *map(str, arguments)], capture_output=True, text=True, cwd=cwd, timeout=300,
        check=False,
    )  # fmt: skip


def schema():
    text = (Path(report.__file__).parent / "verdict.schema.json").read_text(encoding="utf-8")
    return json.loads(text)


@pytest.mark.slow
def test_verdict_pictures_and_exit_code(tmp_path):
    done = kerfwright("prove", SLOTS, *STOCK, *FLAT, "--out", tmp_path / "o", "--cell", 0.5)
    assert done.returncode == 0, done.stderr
    verdict = json.loads((tmp_path / "o" / "verdict.json").read_text())
    jsonschema.validate(verdict, schema())
    assert verdict["sentence"] in done.stdout
    names = sorted(path.name for path in (tmp_path / "o").iterdir())
    assert names == [
        "board.png",
        "board.svg",
        "loads.png",
        "loads.svg",
        "solid.png",
        "solid.svg",
        "strip.png",
        "strip.svg",
        "verdict.json",
    ]
    assert verdict["totals"]["removed_mm3"] > 1000


@pytest.mark.slow
def test_json_on_standard_output_and_nothing_else(here, tmp_path):
    program = tmp_path / "deep.nc"
    program.write_text("G21 G90 G17\nT1 M6\nS18000 M3\nG0 Z5\nG0 X400\nM2\n")
    done = here("prove", program, *STOCK, *FLAT, "--json", "-")
    verdict = json.loads(done.stdout)
    jsonschema.validate(verdict, schema())
    assert done.returncode == 1
    assert verdict["verdict"] == "stop"
    assert verdict["findings"][0]["line"] == 5
    assert list(tmp_path.iterdir()) == [program]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "arguments", "told"),
    [
        (
            "G21 G90\nG1 X10 Z-8.O F900\nM2\n",
            [*STOCK, *FLAT],
            [":2:8:", "^", "the letter O", "remedy: "],
        ),
        ("G21\nG0 X1\nM2\n", ["--machine", "demo"], ["which board", "remedy: ", "--stock"]),
        ("G21\nG0 X1\nM2\n", [*STOCK, "--cutter", "1: bal 3 mm"], ["--cutter", "remedy: "]),
        ("G21\nG0 X1\nM2\n", ["--machine", "no.toml", *STOCK[2:], *FLAT], ["no.toml", "remedy: "]),
        ("G21\nG0 X1\nM2\n", [*STOCK, *FLAT, "--cell", "0.001"], ["--cell 0.001", "remedy: "]),
        ("\0\1\2" * 5000, [*STOCK, *FLAT], ["remedy: "]),
        ("G21\n(nothing)\nM2\n", [*STOCK, *FLAT], ["no line of it moves", "remedy: "]),
    ],
)
def test_bad_input_is_told_with_its_remedy(here, tmp_path, text, arguments, told):
    program = tmp_path / "job.nc"
    program.write_text(text)
    done = here("prove", program, *arguments, "--out", tmp_path / "o")
    assert done.returncode == 2
    for words in told:
        assert words in done.stderr, done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "o").exists()


@pytest.mark.slow
def test_bad_input_is_told_through_the_worker_and_ends_with_2(tmp_path):
    program = tmp_path / "job.nc"
    program.write_text("G21 G90\nG1 X10 Z-8.O F900\nM2\n")
    done = kerfwright("prove", program, *STOCK, *FLAT, "--out", tmp_path / "o")
    assert done.returncode == 2
    assert f"{program}:2:8:" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "o").exists()


@pytest.mark.slow
def test_totals_of_a_long_relief_agree_with_an_independent_sum(here, tmp_path):
    # 200 000 lines, summed here by splitting text and by math.fsum.
    program = tmp_path / "relief.nc"
    program.write_bytes(relief_program(200_000))
    done = here(
        "prove", program, "--machine", "demo", "--stock", "310 x 310 x 30 mm hard maple",
        "--cutter", "1: ball 3 mm, 2 flutes", "--json", "-", "--cell", 0.5,
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    totals = json.loads(done.stdout)["totals"]
    x = y = z = 0.0
    rapid, cut, mode = [], [], None
    for line in program.read_text().splitlines():
        new = {"X": x, "Y": y, "Z": z}
        for letter, number in re.findall(r"([A-Z])([-+.\d]+)", line.split("(")[0]):
            if letter == "G" and float(number) in (0.0, 1.0):
                mode = float(number)
            elif letter in new:
                new[letter] = float(number)
        length = hypot(new["X"] - x, new["Y"] - y, new["Z"] - z)
        (rapid if mode == 0.0 else cut).append(length)
        x, y, z = new["X"], new["Y"], new["Z"]
    assert totals["cut_mm"] == pytest.approx(fsum(cut), rel=1e-9)
    assert totals["rapid_mm"] == pytest.approx(fsum(rapid), rel=1e-9)
    assert totals["lines"] == len(program.read_text().splitlines())


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals to a process group are POSIX's")
def test_ctrl_c_stops_within_a_second_and_leaves_nothing(tmp_path):
    program = tmp_path / "relief.nc"
    program.write_bytes(relief_program(400_000))
    out = tmp_path / "o"
    process = subprocess.Popen(
        [*COMMAND, "prove", str(program), "--machine", "demo", "--stock",
         "310 x 310 x 30 mm hard maple", "--cutter", "1: ball 3 mm, 2 flutes", "--out", str(out),
         "--cell", "0.1"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    for line in process.stderr:
        if line.startswith("cutting"):
            break
    time.sleep(0.3)
    begin = time.monotonic()
    os.killpg(process.pid, signal.SIGINT)
    _, errors = process.communicate(timeout=30)
    assert time.monotonic() - begin < 1.5
    assert process.returncode == 130
    assert "stopped" in errors
    assert not out.exists() or not list(out.iterdir())


@pytest.mark.slow
def test_workshop_keeps_a_log_and_the_second_proof_is_the_same(here, tmp_path):
    workshop = copy_demo(tmp_path / "shop")
    job = workshop.job("relief-tray")
    job.program_file().write_bytes(SLOTS.read_bytes())
    first = here("prove", job.program_file(), "--json", "-", "--cell", "look")
    assert list((workshop.folder / ".cache").glob("*.npz"))
    second = here("prove", job.program_file(), "--json", "-", "--cell", "look")
    assert first.returncode == second.returncode
    assert json.loads(first.stdout) == json.loads(second.stdout)
    with open_workshop(workshop.folder).log() as log:
        entries = history(log)
    assert [entry.job for entry in entries] == ["relief-tray", "relief-tray"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("option", "told"), [("--json", "is a folder"), ("--out", "is a file, not a folder")]
)
def test_places_that_cannot_be_written_are_told_before_the_work(here, tmp_path, option, told):
    place = tmp_path if option == "--json" else SLOTS
    done = here("prove", SLOTS, *STOCK, *FLAT, option, place)
    assert done.returncode == 2
    assert told in done.stderr
    assert "remedy: " in done.stderr
    assert "reading" not in done.stderr


@pytest.mark.slow
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_one_line(tmp_path):
    with open("/dev/full", "w") as full:  # noqa: PTH123 - a device
        done = subprocess.run(
            [*COMMAND, "--version"], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 2
    assert done.stderr.startswith("the output cannot be written")


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals to a process group are POSIX's")
@pytest.mark.parametrize("after_s", [0.1, 0.4, 1.2])
def test_ctrl_c_while_it_loads_is_no_traceback(tmp_path, after_s):
    process = subprocess.Popen(
        [*COMMAND, "prove", str(SLOTS), *STOCK, *FLAT, "--out", str(tmp_path / "o")],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    time.sleep(after_s)
    os.killpg(process.pid, signal.SIGINT)
    _, errors = process.communicate(timeout=30)
    assert "Traceback" not in errors
    assert process.returncode != 0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_a_job_goes_on_with_the_board_of_another(here, tmp_path):
    workshop = copy_demo(tmp_path / "shop")
    slots = workshop.job("relief-tray").job_file.read_text(encoding="utf-8").split("[slots]")[1]
    program = (
        "G21 G90 G17\nT1 M6\nS12000 M3\nG0 Z5\nG0 X20 Y20\nG1 Z{z} F300\nG1 X60 F900\nG0 Z5\nM2\n"
    )
    boards = {
        "one": 'size = "100 x 60 x 18 mm"\nwood = "hard maple"',
        "two": 'left_by = "jobs/one"\nturned = "over Y"',
    }
    for name, board in boards.items():
        folder = workshop.folder / "jobs" / name
        folder.mkdir()
        job = f'kerfwright = "job 1"\n[board]\n{board}\n[slots]{slots}'
        (folder / "job.toml").write_text(job, encoding="utf-8")
        # Across the middle of the board: the same place when it is turned over.
        text = program.format(z=-10).replace("X20", "X30").replace("X60", "X70")
        (folder / f"{name}.nc").write_text(text)
    one, two = (workshop.folder / "jobs" / name / f"{name}.nc" for name in boards)
    early = here("prove", two)
    assert early.returncode == 2
    assert "has kept no board" in early.stderr
    done = here("prove", one, "--keep-board", "--json", "-", "--cell", "look")
    assert done.returncode in (0, 1), done.stderr
    assert (one.parent / "left.board").is_file()
    first = json.loads(done.stdout)["totals"]["removed_mm3"]
    done = here("prove", two, "--json", "-", "--cell", "look")
    verdict = json.loads(done.stdout)
    # 10 mm from either side of 18: 8 mm of wood are left for the second.
    assert verdict["totals"]["removed_mm3"] == pytest.approx(0.8 * first, rel=0.05)
    assert "the board as jobs/one left it, turned over about Y" in verdict["assumed"]
    one.write_text(one.read_text() + "(changed)\n")
    late = here("prove", two)
    assert late.returncode == 2
    assert "the program of jobs/one has changed" in late.stderr


def test_version():
    assert kerfwright("--version").stdout == f"kerfwright {version('kerfwright')}\n"
