"""How time and memory of reading and planning grow with the length of a program."""

import re
import tempfile
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from kerfwright.program import parse_program, read_program
from kerfwright.trajectory import plan
from measure import Bench, Figure
from planning import demo_machine
from programs import plain_relief

FEWEST, MOST = 100_000, 10_000_000
#: How often each of the lengths between is measured.
_TIMES = (5, 5, 3, 3, 1)


def one_length(path: Path, lines: int) -> tuple[list[Figure], float, float]:
    """Read and plan one program, once, in a process that has done nothing like it before.

    Memory that was used already costs less than new memory, which would flatter short programs.
    Gives the times, the largest memory in MiB (0 where the system does not tell) and one link of
    the chain in seconds.
    """
    machine = demo_machine()
    plan(parse_program(plain_relief(3000), "warm"), machine)
    bench = Bench(repeats=1, text=np.zeros(1, np.uint8), memory=False)
    few = f"{lines / 1e6:.3g} million"
    program = bench.take(f"read {few}", lambda: read_program(path), lines, "moves")
    bench.take(f"plan {few}", lambda: plan(program, machine), lines, "moves")
    return bench.figures, _largest_memory_mib(), bench.link_s()


def _largest_memory_mib() -> float:
    """Of this process, from its own start: what the system's usage tells counts its parent's."""
    status = Path("/proc/self/status")
    found = re.search(r"VmHWM:\s*(\d+) kB", status.read_text("utf-8")) if status.is_file() else None
    return float(found[1]) / 1024 if found else 0.0


def measure_growth(lines: int) -> Bench:
    """Plain reliefs of 0.1 to 10 million lines, or as many times ``lines`` instead of a million."""
    lengths = np.geomspace(FEWEST, MOST, len(_TIMES)) * lines / 1_000_000
    bench = Bench(repeats=1, text=np.zeros(1, np.uint8))
    read, both = [], []
    for length, times in zip(lengths.astype(int).tolist(), _TIMES, strict=True):
        took = _in_new_processes(length, times)
        reading, planning = (_middle([run[0][k] for run in took]) for k in (0, 1))
        bench.figures += [reading, planning]
        memory = float(np.median([run[1] for run in took]))
        bench.tell(f"largest memory, {length / 1e6:.3g} million", memory, "MiB")
        bench.add_links([run[2] for run in took])
        read.append(reading.ratio * length)
        both.append((reading.ratio + planning.ratio) * length)
    bench.tell("exponent of reading", _slope(lengths, read), "")
    bench.tell("exponent of reading and planning", _slope(lengths, both), "")
    return bench


def _in_new_processes(lines: int, times: int) -> list[tuple[list[Figure], float, float]]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "relief.nc"
        path.write_bytes(plain_relief(lines))
        took = []
        for _ in range(times):
            with ProcessPoolExecutor(1, get_context("spawn")) as pool:
                took.append(pool.submit(one_length, path, lines).result())
        return took


def _middle(figures: list[Figure]) -> Figure:
    """The one with the median ratio."""
    return sorted(figures, key=lambda figure: figure.ratio)[len(figures) // 2]


def _slope(lengths, times) -> float:
    """Of the straight line through the logarithms: 1 when twice the lines take twice the time."""
    return float(np.polyfit(np.log(lengths), np.log(times), 1)[0])
