"""A relief through every stage of a proof, and through the whole command."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from kerfwright.program import parse_program
from kerfwright.prove.run_path import cut_as_run
from kerfwright.prove.sweep import sweep, tooling
from kerfwright.setup import setup_from_words
from kerfwright.trajectory import plan
from make_relief import BOARD, SLOT, relief_program
from measure import Bench, Figure
from planning import demo_machine

CELL_MM = 0.25


def measure_chain(lines: int) -> Bench:
    """The stages on two threads, then the command on all cores, pictures and all."""
    machine = demo_machine()
    setup = setup_from_words(BOARD, [SLOT], machine)
    text = relief_program(lines)
    bench = Bench(repeats=1, text=np.frombuffer(text, np.uint8))
    small = parse_program(relief_program(3000), "warm")  # kernels loaded
    path = plan(small, machine)
    tools = tooling(small, path, setup, machine)
    cut_as_run(path, tools, setup, machine, sweep(path, tools, setup, machine, 1.0, 2), 2)

    program = bench.take("read", lambda: parse_program(text, "relief"), lines, "lines")
    path = bench.take("plan", lambda: plan(program, machine), program.moves, "segments")
    tools = bench.take(
        "match cutters", lambda: tooling(program, path, setup, machine), program.moves, "segments"
    )
    swept = bench.take(
        f"cut as programmed, with loads, cells of {CELL_MM} mm",
        lambda: sweep(path, tools, setup, machine, CELL_MM, 2),
        program.moves,
        "segments",
    )
    bench.take(
        "cut as run",
        lambda: cut_as_run(path, tools, setup, machine, swept, 2),
        program.moves,
        "segments",
    )
    bench.tell("steps of the cut", swept.steps, "")
    _whole_command(bench, text, lines)
    return bench


#: Runs a command and prints its exit code, wall and CPU seconds and its largest memory. In a small
#: process of its own: a child's largest memory is never below that of what started it.
_RUN = """
import resource, subprocess, sys, time
begin, quiet = time.perf_counter(), subprocess.DEVNULL
done = subprocess.run(sys.argv[1:], stdout=quiet, stderr=quiet, check=False)
wall, used = time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_CHILDREN)
print(done.returncode, wall, used.ru_utime + used.ru_stime, used.ru_maxrss)
"""


def _whole_command(bench: Bench, text: bytes, lines: int) -> None:
    newlines_s = bench.newlines_s()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "relief.nc"
        file.write_bytes(text)
        command = [sys.executable, "-m", "kerfwright", "prove", str(file), "--machine", "demo"]
        command += ["--stock", BOARD, "--cutter", SLOT, "--out", folder]
        settings = os.environ | {"KERFWRIGHT_THREADS": str(os.cpu_count() or 1)}
        told = subprocess.run(
            [sys.executable, "-c", _RUN, *command], check=True, stdout=subprocess.PIPE, env=settings
        ).stdout.split()
    code, wall, cpu, kib = (float(word) for word in told)
    if code not in (0, 1):
        raise RuntimeError(f"the command ended with exit code {code:.0f}")
    bench.figures.append(
        Figure(
            name="whole command, pictures and all",
            wall_s=wall,
            cpu_s=cpu,
            count=lines,
            of="lines",
            ratio=cpu / newlines_s,
            probe="newlines",
        )
    )
    bench.tell("largest memory of the command", kib / 1024, "MiB")
