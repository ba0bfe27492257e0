"""The cut and its loads compiled, and as plain Python: what the compiler makes of them."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from kerfwright.cutter import read_cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.engagement import BINS, ROWS
from kerfwright.prove.removal import Remover, form_of
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
BOARD = Board(length_mm=10.0, width_mm=8.0, thickness_mm=3.0, wood=WOOD)
CELL_MM = 0.5
# A slot with walls, a ramp and a corner; then a ball over what it left, and through the board.
FLAT_WAY = [[2, 2, -1], [5, 2.3, -1], [7, 3, -1.7], [6.6, 5.2, -1.2]]
BALL_WAY = [[2, 3, -1], [5, 4.1, -1.6], [8, 4.4, -3.2]]


def cut_and_loads() -> dict[str, np.ndarray]:
    remover = Remover(Field.of_board(BOARD, CELL_MM), 1)
    out = {}
    still = np.zeros((3, cutting.AXIS_NUMBERS))
    still[:, cutting.A_LEAD] = still[:, cutting.A_MOTORS] = still[:, cutting.A_TOP] = 1.0
    for name, way in (("flat 3 mm", FLAT_WAY), ("ball 4 mm", BALL_WAY)):
        tool, points = read_cutter(name), np.array(way, float)
        n = len(points) - 1
        steps, first = np.hstack([points[:-1], points[1:]]), np.arange(n + 1)
        taken = remover.take(steps, np.arange(n) > 0, 0, tool, first)
        columns, wood = np.empty((n, cutting.COLUMNS)), np.empty((n, ROWS, BINS))
        time = np.stack([first[:-1], first[1:]], axis=1) * 0.1
        cutting.group_loads(
            0, n, first, steps, time, np.zeros((n, 3)), np.zeros((n, 3)), 300.0, taken.group_run,
            taken.along, taken.entry, taken.volume, taken.engagement, CELL_MM**2, taken.lanes,
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


@pytest.mark.slow
def test_the_compiler_changes_next_to_nothing(tmp_path):
    kept = tmp_path / "plain.npz"
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1"}
    subprocess.run([sys.executable, __file__, str(kept)], env=environment, check=True, timeout=300)
    plain, compiled = np.load(kept), cut_and_loads()
    assert compiled["height"].min() < -2.0
    assert compiled["flat 3 mm loads"][:, cutting.POWER].min() > 1.0
    for name, array in compiled.items():
        if name.endswith(("wood", "loads")):
            # Bins of a round edge differ in the last bit or two: by 7e-18 mm³, 5e-16 of a force.
            assert array == pytest.approx(plain[name], rel=1e-14, abs=1e-15), name
        else:
            assert np.array_equal(array, plain[name]), name


if __name__ == "__main__":
    np.savez(Path(sys.argv[1]), **cut_and_loads())
