"""A million-line relief through every stage, as ratios to probes taken in the same run.

Prints a table and appends it to ``benchmarks/past.jsonl``. Wall and CPU time are both given: under
other load the wall grows and the CPU time hardly moves.
"""

import json
import platform
import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tools"))

from kerfwright.cutter import read_slot  # noqa: E402
from kerfwright.machine import load_machine  # noqa: E402
from kerfwright.program import parse_program  # noqa: E402
from kerfwright.prove.sweep import sweep, sweep_as_run, tooling  # noqa: E402
from kerfwright.setup import setup_from_words  # noqa: E402
from kerfwright.trajectory import plan  # noqa: E402
from kerfwright.workshop import demo_folder  # noqa: E402
from make_relief import relief_program  # noqa: E402

LINES = 1_000_000
STOCK, CUTTER = "310 x 310 x 30 mm hard maple", "1: ball 3 mm, 2 flutes"
CELL_MM = 0.25


def timed(work, repeats=1):
    """Median wall and CPU seconds, and the last result."""
    walls, cpus, result = [], [], None
    for _ in range(repeats):
        wall, cpu = time.perf_counter(), time.process_time()
        result = work()
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    return float(np.median(walls)), float(np.median(cpus)), result


def probes(text):
    """What this machine does at best: memory, and counting newlines."""
    a, b, c = np.zeros(16_000_000), np.ones(16_000_000), np.ones(16_000_000)
    triad = timed(lambda: np.add(b, c, out=a), 5)[0]
    newlines = timed(lambda: text.count(b"\n"), 5)[0]
    return {"add 3 x 128 MB": triad, "count newlines": newlines}


def main() -> None:
    """Run, print, remember."""
    read_slot(CUTTER)
    text = relief_program(LINES)
    machine = load_machine(demo_folder() / "machine.toml")
    setup = setup_from_words(STOCK, [CUTTER], machine)
    rows = {name: (seconds, seconds) for name, seconds in probes(text).items()}

    def stage(name, work):
        wall, cpu, result = timed(work)
        rows[name] = (wall, cpu)
        return result

    small = parse_program(relief_program(3000), "warm")  # kernels loaded and caches filled
    path = plan(small, machine)
    tools = tooling(small, path, setup, machine)
    sweep_as_run(path, tools, setup, machine, sweep(path, tools, setup, machine, 1.0, 2), 2)

    program = stage("read", lambda: parse_program(text, "relief.nc"))
    path = stage("plan", lambda: plan(program, machine))
    tools = stage("match cutters", lambda: tooling(program, path, setup, machine))
    swept = stage("cut as programmed, with loads",
                  lambda: sweep(path, tools, setup, machine, CELL_MM, 2))  # fmt: skip
    stage("cut as run", lambda: sweep_as_run(path, tools, setup, machine, swept, 2))
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "relief.nc"
        file.write_bytes(text)
        command = [sys.executable, "-m", "kerfwright", "prove", str(file), "--machine", "demo",
                   "--stock", STOCK, "--cutter", CUTTER, "--out", folder]  # fmt: skip
        wall, _, _ = timed(lambda: subprocess.run(command, check=False, capture_output=True))
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    rows["whole command, pictures and all"] = (wall, used.ru_utime + used.ru_stime)
    newline = rows["count newlines"][0]
    print(f"{LINES} lines, {swept.steps} steps, {len(swept.column)} groups, {CELL_MM} mm cells")
    print(f"{'stage':34} {'wall s':>8} {'CPU s':>8} {'x newlines':>11} {'ns a line':>10}")
    for name, (wall, cpu) in rows.items():
        print(f"{name:34} {wall:8.3f} {cpu:8.3f} {cpu / newline:11.1f} {cpu / LINES * 1e9:10.0f}")
    print(f"largest memory of the command: {used.ru_maxrss / 1024:.0f} MB")
    entry = {
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "python": platform.python_version(),
        "lines": LINES,
        "cell_mm": CELL_MM,
        "memory_mb": round(used.ru_maxrss / 1024),
        "seconds": {
            name: {"wall": round(w, 4), "cpu": round(c, 4)} for name, (w, c) in rows.items()
        },
    }
    with (ROOT / "benchmarks" / "past.jsonl").open("a", encoding="utf-8") as past:
        past.write(json.dumps(entry) + "\n")


if __name__ == "__main__":
    main()
