"""Compile every kernel once, so that the first real proof need not wait for it."""

from dataclasses import replace

from kerfwright.basics import Known
from kerfwright.basics.progress import Progress, silent
from kerfwright.fixture import Clamp
from kerfwright.machine import load_machine
from kerfwright.program import parse_program
from kerfwright.prove.chain import Origin, prove
from kerfwright.setup import setup_from_words
from kerfwright.workshop import demo_folder

_PROGRAM = b"""G21 G90 G17
T1 M6
S12000 M3
G0 Z2
G1 Z-1 F300
G1 X12 Y9 F900
G2 X4 Y9 I-4 J0
G0 Z2
T2 M6
G1 X6 Y6 Z-1 F600
T3 M6
G1 X9 Y3 Z-1 F600
M2
"""
#: The first sticks out so little that its nut comes into the wood.
_CUTTERS = (
    "1: flat 3 mm, 2 flutes, flute length 0.5 mm, stick-out 0.5 mm",
    "2: ball 3 mm, 2 flutes",
    "3: v 90 deg 6 mm",
)


def prepare(*, progress: Progress = silent) -> None:
    """Prove a tiny program with every shape of cutter; what is compiled stays in the cache."""
    progress("preparing for this computer, once", 0.0)
    machine = load_machine(demo_folder() / "machine.toml")
    setup = setup_from_words("20 x 15 x 6 mm hard maple", _CUTTERS, machine)
    height = Known(value=2.0, kind="measured", ref="")
    clamp = Clamp(name="clamp", at_mm=(8.0, 6.0), size_mm=(2.0, 2.0), height_mm=height)
    setup = replace(setup, clamps=(clamp,))
    origin = Origin(version="", code_sha256="", tables_sha256="")
    prove(parse_program(_PROGRAM, "prepare"), setup, machine, origin, cell_mm=1.0)
