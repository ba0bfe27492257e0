"""How long a command takes before its work begins: warm, and the first time of all."""

import os
import tempfile
from pathlib import Path

import numpy as np

from make_relief import BOARD, SLOT, relief_program
from measure import Bench, command_cost

_AGAIN = 5
_SLIP = b"G21 G90\nG1 X1O F600\n"  # refused at its second line: no more is done than to read it


def measure_start(lines: int) -> Bench:  # noqa: ARG001 - every part is asked for so many
    """A command that ends once it has read its program; then one with nothing compiled."""
    bench = Bench(repeats=1, text=np.frombuffer(relief_program(3000), np.uint8), memory=False)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "slip.nc"
        file.write_bytes(_SLIP)
        words = ["prove", str(file), "--machine", "demo", "--stock", BOARD, "--cutter", SLOT]
        begun = [command_cost(words, os.environ, (2,)) for _ in range(_AGAIN)]
        empty = os.environ | {"XDG_CACHE_HOME": str(Path(folder) / "empty")}
        empty.pop("NUMBA_CACHE_DIR", None)
        bench.link_s()
        ready = command_cost(["prepare"], empty, (0,))
        bench.link_s()
    for name, (wall, cpu, _) in (
        ("start of a command", np.median(begun, axis=0)),
        ("getting ready, nothing compiled", ready),
    ):
        bench.tell(name, wall, "s")
        bench.tell(f"{name}, CPU", cpu, "s")
    return bench
