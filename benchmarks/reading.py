"""How long it takes to read a program, beside the counting of its newlines."""

import hashlib

import numpy as np

from kerfwright.program import STRICT, WORKSHOP, parse_program
from measure import Bench
from programs import mixed_program, plain_relief

_ALONE = 20_000  # lines for the interpreter, which takes some 20 µs for each


def measure_reading(lines: int) -> Bench:
    """Read a plain relief and a mixed program of so many lines, on one thread."""
    text = plain_relief(lines)
    bench = Bench(repeats=9, text=np.frombuffer(text, np.uint8))
    parse_program(plain_relief(3000), "warm")  # kernels loaded
    bench.take("plain relief", lambda: parse_program(text, "relief"), lines, "lines")
    bench.take("of which its hash (SHA-256)", lambda: hashlib.sha256(text).digest(), lines, "lines")
    few = plain_relief(_ALONE)

    def alone() -> None:
        parse_program(few, "few", STRICT, kernel_on=False)

    bench.take("plain relief, the interpreter alone", alone, _ALONE, "lines", 1)

    mixed = mixed_program(lines)
    other = Bench(repeats=5, text=np.frombuffer(mixed, np.uint8), probes_s=bench.probes_s)
    parse_program(mixed_program(3000), "warm", WORKSHOP)
    other.take("mixed program", lambda: parse_program(mixed, "mixed", WORKSHOP), lines, "lines")
    bench.figures += other.figures
    bench.tell("size of the plain relief", len(text) / 1e6, "MB")
    bench.tell("size of the mixed program", len(mixed) / 1e6, "MB")
    return bench
