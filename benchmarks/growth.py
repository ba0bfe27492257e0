"""How time and memory of reading and planning grow with the length of a program."""

import re
import tempfile
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from kerfwright.program import parse_program, read_program
from kerfwright.trajectory import plan
from measure import Bench
from planning import demo_machine
from programs import plain_relief

FEWEST, MOST = 100_000, 10_000_000
_STEPS = 5
#: Short programs are read and planned this often, the longest once.
_LINES_IN_ALL = 3_000_000


def one_length(path: Path, lines: int) -> tuple[Bench, float]:
    """Read and plan one program; in a process of its own, for the sake of its largest memory.

    Gives the times and that memory in MiB, 0 where the system does not tell.
    """
    machine = demo_machine()
    plan(parse_program(plain_relief(3000), "warm"), machine)
    repeats = max(1, min(9, _LINES_IN_ALL // lines))
    bench = Bench(repeats=repeats, text=np.zeros(1, np.uint8), memory=False)
    few = f"{lines / 1e6:g} million"
    program = bench.take(f"read {few}", lambda: read_program(path), lines, "moves")
    bench.take(f"plan {few}", lambda: plan(program, machine), lines, "moves")
    return bench, _largest_memory_mib()


def _largest_memory_mib() -> float:
    """Of this process, from its own start: what the system's usage tells counts its parent's."""
    status = Path("/proc/self/status")
    found = re.search(r"VmHWM:\s*(\d+) kB", status.read_text("utf-8")) if status.is_file() else None
    return float(found[1]) / 1024 if found else 0.0


def measure_growth(lines: int) -> Bench:
    """Plain reliefs of 0.1 to 10 million lines, or as many times ``lines`` instead of a million."""
    lengths = np.geomspace(FEWEST, MOST, _STEPS) * lines / 1_000_000
    bench = Bench(repeats=1, text=np.zeros(1, np.uint8))
    read, both = [], []
    for length in lengths.astype(int).tolist():
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "relief.nc"
            path.write_bytes(plain_relief(length))
            with ProcessPoolExecutor(1, get_context("spawn")) as pool:
                took, memory = pool.submit(one_length, path, length).result()
        bench.figures += took.figures
        bench.probes_s.setdefault("chain", []).extend(took.probes_s["chain"])
        bench.tell(f"largest memory, {length / 1e6:g} million", memory, "MiB")
        reading, planning = (figure.ratio * length for figure in took.figures)
        read.append(reading)
        both.append(reading + planning)
    bench.tell("exponent of reading", _slope(lengths, read), "")
    bench.tell("exponent of reading and planning", _slope(lengths, both), "")
    return bench


def _slope(lengths, times) -> float:
    """Of the straight line through the logarithms: 1 when twice the lines take twice the time."""
    return float(np.polyfit(np.log(lengths), np.log(times), 1)[0])
