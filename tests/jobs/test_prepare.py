"""What the two halves compile is what a proof then calls."""

import subprocess
import sys

import pytest

#: In a process of its own: other tests leave kernels behind that were called in other ways.
_CALLED = """
from kerfwright.jobs import prepare
from kerfwright.kernels import beside, between, bodies, cutting, motion, play, program_text
from kerfwright.kernels import removal, ringing, running, soft, squares, stepping, surface

kernels = (
    removal.cut_tiles, cutting.group_loads, soft.settle, stepping.make_steps, ringing.ring_steps,
    bodies.run_into_box, motion.look_back, program_text.read_lines, bodies.stand_in_wood,
    beside._look_beside, between.between_corners, play.play_offsets, running.run_steps,
    squares.mark_squares, surface.errors_of_rows,
)
prepare.read_and_load()
prepare.cut_and_run()
print([len(kernel.signatures) for kernel in kernels])
prepare.prove_little()
print([len(kernel.signatures) for kernel in kernels])
"""


#: Cutters that undercut, by name and by outline, and a flat one where wood hangs over a hollow.
_UNDERCUT = """
from dataclasses import replace
from pathlib import Path
from tempfile import mkdtemp
import numpy as np
from kerfwright.cutter import read_cutter
from kerfwright.jobs import prepare
from kerfwright.kernels import removal
from kerfwright.prove.removal import Remover
from kerfwright.stock.field import Field
from kerfwright.stock.left_board import read_left, write_left

prepare.cut_and_run()
prepare.cut_undercut()
print(len(removal.cut_tiles.signatures))
board, window = prepare._setup(prepare._machine()).board, prepare._window()
for words in (
    "dovetail 14 deg 3 mm, flute length 2 mm", "profile, outline 0.5 x 0; 1.5 x 0.5; 0.5 x 1 mm"
):
    for weighed, dated in ((True, True), (False, True), (False, False)):
        remover = Remover(Field.of_board(board, 1.0), 2, weighed=weighed, dated=dated)
        remover.take(window.steps, window.follows, 0, read_cutter(words), window.group_first)
size = board.length_mm, board.width_mm, board.thickness_mm
path = Path(mkdtemp()) / "left.board"
write_left(path, remover.field, size, {})
for over in ("", "x"):
    left = replace(board, start=read_left(path, over))
    remover = Remover(Field.of_board(left, 1.0), 1)
    remover.take(window.steps, window.follows, 0, read_cutter("flat 3 mm"), window.group_first)
    assert len(remover.field.spans)
print(len(removal.cut_tiles.signatures))
"""


@pytest.mark.slow
def test_what_undercuts_calls_what_was_compiled_for_it():
    done = subprocess.run(
        [sys.executable, "-c", _UNDERCUT], capture_output=True, text=True, timeout=300, check=False
    )
    assert done.stdout.split() == ["2", "2"], done.stderr


@pytest.mark.slow
def test_each_kernel_is_compiled_for_one_way_of_calling_it():
    done = subprocess.run(
        [sys.executable, "-c", _CALLED], capture_output=True, text=True, check=True, timeout=300
    )
    halves, proof = done.stdout.splitlines()
    assert halves == str([1] * 15)
    assert proof == halves
