"""The cut and its loads compiled, and as plain Python: what the compiler makes of them."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from kerfwright.cutter import read_cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.engagement import BINS, ROWS
from kerfwright.machine import load_machine
from kerfwright.program import parse_program
from kerfwright.prove.as_cut import error_map
from kerfwright.prove.removal import Remover, form_of
from kerfwright.prove.run_path import cut_as_run
from kerfwright.prove.sweep import sweep, tooling
from kerfwright.setup import setup_from_words
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field
from kerfwright.trajectory import plan
from kerfwright.workshop import demo_folder

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
BOARD = Board(length_mm=10.0, width_mm=8.0, thickness_mm=3.0, wood=WOOD)
CELL_MM = 0.5
# A slot with walls, a ramp and a corner; then a ball over what it left, and through the board.
FLAT_WAY = [[2, 2, -1], [5, 2.3, -1], [7, 3, -1.7], [6.6, 5.2, -1.2]]
BALL_WAY = [[2, 3, -1], [5, 4.1, -1.6], [8, 4.4, -3.2]]
WAYS = [("flat 3 mm", FLAT_WAY), ("ball 4 mm", BALL_WAY)]
# Straight down: into what both left, then into the whole board; on corners of the grid and beside.
for words, x, y in (
    ("flat 3 mm", 4.0, 4.0), ("ball 4 mm", 6.1, 4.3), ("v 60 deg 4 mm", 3.0, 6.0),
    ("drill 3 mm", 8.1, 6.3),
):  # fmt: skip
    WAYS.append((words, [[x, y, 0.2], [x, y, -1.0], [x, y, -2.2]]))
# Straight down, a slot, a ramp, an arc.
PROGRAM = b"""G21 G90 G17
T1 M6
S18000 M3
G0 Z2
G0 X2 Y2
G1 Z-1.3 F300
G1 X8 Y3.3 F1500
G1 X9 Y7 Z-1.9
G2 X5 Y7 I-2 J0 F900
G0 Z2
M2
"""
CUTTERS = {
    "flat": "flat 3 mm, 2 flutes",
    "flat, giving way": "flat 3 mm, 2 flutes",
    "bull": "bull 4 mm, corner 1 mm",
    "V": "v 60 deg 4 mm",
    "taper": "tapered ball 4 mm, tip radius 0.5 mm, angle 20 deg",
    "dovetail": "dovetail 14 deg 4 mm, flute length 3 mm",
}


def cut_and_loads() -> dict[str, np.ndarray]:
    remover = Remover(Field.of_board(BOARD, CELL_MM), 1)
    out = {}
    still = np.zeros((3, cutting.AXIS_NUMBERS))
    still[:, cutting.A_LEAD] = still[:, cutting.A_MOTORS] = still[:, cutting.A_TOP] = 1.0
    for k, (words, way) in enumerate(WAYS):
        tool, points, name = read_cutter(words), np.array(way, float), f"{k} {words}"
        n = len(points) - 1
        steps, first = np.hstack([points[:-1], points[1:]]), np.arange(n + 1)
        taken = remover.take(steps, np.arange(n) > 0, 0, tool, first)
        columns, wood = np.empty((n, cutting.COLUMNS)), np.empty((n, ROWS, BINS))
        time = np.stack([first[:-1], first[1:]], axis=1) * 0.1
        cutting.group_loads(
            0, n, first, steps, time, np.zeros((n, 3)), np.zeros((n, 3)), 300.0, taken.group_run,
            taken.in_lanes, taken.entry, taken.volume, taken.engagement, CELL_MM**2, taken.lanes,
            form_of(tool), 2, np.full((2, BINS), 43.0), np.full((2, BINS), 3.7), 0.3, 0.7, 0.1,
            still, np.full((3, 8), 1e9), wood, columns, 0.02, 0.1, 500.0, 0.1,
        )  # fmt: skip
        out |= {
            f"{name} volume": taken.volume.copy(),
            f"{name} wood": wood,
            f"{name} loads": columns,
        }
    height, made_by, through_at = remover.field.maps()
    remover.close()
    return out | {"height": height, "made by": made_by, "through at": through_at}


def whole_jobs() -> dict[str, np.ndarray]:
    """The plan, the pass that tells loads and the pass over the path as run."""
    machine = load_machine(demo_folder() / "machine.toml")
    soft = replace(machine, compliance_mm_per_n=machine.compliance_mm_per_n * 30.0)
    out = {}
    for name, words in CUTTERS.items():
        on = soft if name == "flat, giving way" else machine
        program = parse_program(PROGRAM, "job.nc")
        setup = setup_from_words("12 x 10 x 5 mm hard maple", [f"1: {words}"], on)
        trajectory = plan(program, on)
        tools = tooling(program, trajectory, setup, on)
        swept = sweep(trajectory, tools, setup, on, CELL_MM, 1)
        run = cut_as_run(trajectory, tools, setup, on, swept, 1)
        height, made_by, through_at = swept.field.maps()
        out |= {
            f"{name} speed": trajectory.speed2,
            f"{name} columns": swept.column,
            f"{name} give": swept.give_mm,
            f"{name} height": height,
            f"{name} made by": made_by,
            f"{name} through at": through_at,
            f"{name} spans": swept.field.spans,
            f"{name} as run": run.field.heights(),
            f"{name} aside": run.offset_mm,
            f"{name} swing": run.swing_mm,
            f"{name} top": np.nan_to_num(error_map(swept.field, run.field, 0.1).error_mm, nan=9.0),
        }
    return out


@pytest.mark.slow
def test_the_compiler_changes_next_to_nothing(tmp_path):
    kept = tmp_path / "plain.npz"
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1"}
    subprocess.run([sys.executable, __file__, str(kept)], env=environment, check=True, timeout=300)
    plain, compiled = np.load(kept), cut_and_loads() | whole_jobs()
    assert compiled["height"].min() < -2.0
    least_w = {"0 flat 3 mm loads": 1.0, "2 flat 3 mm loads": 0.3, "4 v 60 deg 4 mm loads": 0.3}
    for name, power in least_w.items():
        assert compiled[name][:, cutting.POWER].min() > power
    assert compiled["dovetail spans"].size > 0
    assert (compiled["bull top"] < 9.0).sum() > 5
    stiff, soft = (compiled[f"{name} columns"] for name in ("flat", "flat, giving way"))
    assert np.abs(soft - stiff)[:, cutting.POWER].max() > 1.0
    for name, array in compiled.items():
        if name.endswith(("wood", "loads")):
            # Bins of a round edge differ in the last bit or two: by 7e-18 mm³, 5e-16 of a force.
            assert array == pytest.approx(plain[name], rel=1e-14, abs=1e-15), name
        elif name.endswith("columns"):  # kept in single precision: its last bit
            assert array == pytest.approx(plain[name], rel=2e-7, abs=1e-7), name
        else:
            assert np.array_equal(array, plain[name]), name


if __name__ == "__main__":
    np.savez(Path(sys.argv[1]), **(cut_and_loads() | whole_jobs()))
