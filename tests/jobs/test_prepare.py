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


@pytest.mark.slow
def test_each_kernel_is_compiled_for_one_way_of_calling_it():
    done = subprocess.run(
        [sys.executable, "-c", _CALLED], capture_output=True, text=True, check=True, timeout=300
    )
    halves, proof = done.stdout.splitlines()
    assert halves == str([1] * 15)
    assert proof == halves
