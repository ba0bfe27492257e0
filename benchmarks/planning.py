"""How long it takes to plan a motion, beside a chain of dependent additions."""

import numpy as np

from kerfwright.machine import MachineModel, load_machine
from kerfwright.program import parse_program
from kerfwright.trajectory import plan
from kerfwright.workshop import demo_folder
from measure import Bench
from programs import plain_relief, random_polyline


def demo_machine() -> MachineModel:
    """The router of the invented Alder Lane Workshop."""
    return load_machine(demo_folder() / "machine.toml")


def measure_planning(lines: int) -> Bench:
    """Plan a relief, and a polyline with a true corner at each vertex, of so many segments."""
    machine = demo_machine()
    text = plain_relief(lines)
    bench = Bench(repeats=3, text=np.frombuffer(text, np.uint8))
    plan(parse_program(plain_relief(3000), "warm"), machine)  # kernels loaded
    relief = parse_program(text, "relief")
    path = bench.take("relief", lambda: plan(relief, machine), relief.moves, "segments")
    bench.tell("the relief lasts", path.time_s, "s")
    del path
    crooked = parse_program(random_polyline(lines), "polyline")
    path = bench.take("random polyline", lambda: plan(crooked, machine), crooked.moves, "segments")
    bench.tell("the polyline lasts", path.time_s, "s")
    return bench
