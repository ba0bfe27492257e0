"""A relief through every stage of a proof, through a whole proof, and through the command."""

import os
import tempfile
from pathlib import Path

import numpy as np

from kerfwright.jobs.worker import settle
from kerfwright.machine import MachineModel
from kerfwright.program import parse_program
from kerfwright.prove import Proof
from kerfwright.prove.chain import Origin, prove
from kerfwright.prove.run_path import cut_as_run
from kerfwright.prove.sweep import sweep, tooling
from kerfwright.setup import Setup, setup_from_words
from kerfwright.trajectory import plan
from make_relief import BOARD, SLOT, relief_program
from measure import Bench, Figure, command_cost
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
    _whole_proof(bench, text, lines, setup, machine)
    _whole_command(bench, text, lines)
    return bench


def _whole_proof(
    bench: Bench, text: bytes, lines: int, setup: Setup, machine: MachineModel
) -> None:
    origin = Origin(version="", code_sha256="", tables_sha256="")

    def proved(program: bytes) -> Proof:
        return prove(parse_program(program, "relief"), setup, machine, origin)

    settle()
    proved(relief_program(3000))
    proof = bench.take(
        "whole proof, from the text to the verdict", lambda: proved(text), lines, "lines", 3
    )
    bench.tell("side of its cells", proof.verdict.provenance.cell_mm, "mm")


def _whole_command(bench: Bench, text: bytes, lines: int) -> None:
    newlines_s = bench.newlines_s()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "relief.nc"
        file.write_bytes(text)
        words = ["prove", str(file), "--machine", "demo", "--stock", BOARD, "--cutter", SLOT]
        settings = os.environ | {"KERFWRIGHT_THREADS": str(os.cpu_count() or 1)}
        wall, cpu, mib = command_cost([*words, "--out", folder], settings, (0, 1))
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
    bench.tell("largest memory of the command", mib, "MiB")
