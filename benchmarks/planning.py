"""How long it takes to plan a motion, beside a chain of dependent additions."""

from dataclasses import replace

import numpy as np

from kerfwright.machine import MachineModel, load_machine
from kerfwright.program import parse_program
from kerfwright.trajectory import plan
from kerfwright.workshop import demo_folder
from measure import Bench
from programs import plain_relief, random_polyline
from time_optimal import chords, largest_share, library_time, our_pace, our_time


def demo_machine() -> MachineModel:
    """The router of the invented Alder Lane Workshop."""
    return load_machine(demo_folder() / "machine.toml")


def rounding_machine() -> MachineModel:
    """The same router with a controller that rounds corners by 0.01 mm: more to plan."""
    machine = demo_machine()
    controller = replace(machine.controller, corner_rule="path tolerance", corner_tolerance_mm=0.01)
    return replace(machine, controller=controller)


def measure_planning(lines: int) -> Bench:
    """Plan a relief, and a polyline with a true corner at each vertex, of so many segments."""
    machine = rounding_machine()
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
    del path
    _tell_quality(bench)
    return bench


def _tell_quality(bench: Bench) -> None:
    """How near the pace is to time-optimal, and whether it keeps the limits of the axes."""
    turn = np.linspace(0.0, 2 * np.pi, 100_001)
    curve = np.stack([50 * np.sin(2 * turn), 30 * np.sin(3 * turn), 2 * np.sin(5 * turn)], axis=1)
    rng = np.random.default_rng(1)
    crooked = np.cumsum(rng.normal(0.0, 2.0, (200, 3)) * [1, 1, 0.3], axis=0)
    for name, points, tolerance in (
        ("a smooth curve in chords of 0.1 mm", chords(curve, 0.1), 0.01),
        ("a polyline of sharp corners", crooked, 0.05),
    ):
        pace, time = our_time(points, tolerance)
        ratio = time / library_time(points, pace, 0.02)
        bench.tell(f"time over time-optimal, {name}", ratio, "")
    many = np.cumsum(rng.normal(0.0, 2.0, (200_000, 3)) * [1, 1, 0.3], axis=0)
    pace, speed2 = our_pace(many, 0.02)
    share = largest_share(pace.unit, pace.blend_mm, pace.length_mm, pace.node, speed2)
    bench.tell("limits of the axes exceeded by", max(share - 1.0, 0.0), "")
