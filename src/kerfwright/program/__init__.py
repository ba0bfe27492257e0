"""The standard language: text to columns that know their line and byte.

``read_program`` reads a file of NISTIR 6556's language (RS274/NGC, version 3) strictly, or by the
looser rules of ``WORKSHOP``, and tells everything that it tolerated or assumed.
"""

from kerfwright.program.dialect import STRICT, WORKSHOP, Dialect
from kerfwright.program.problem import ProgramError
from kerfwright.program.program import (
    After,
    Arcs,
    Event,
    EventKind,
    Jumps,
    MoveKind,
    PathMode,
    Program,
)
from kerfwright.program.reader import (
    Reading,
    examine_program,
    load_text,
    parse_program,
    read_program,
)
from kerfwright.program.start import StartState
from kerfwright.program.totals import PathTotals, move_lengths, totals

__all__ = [
    "STRICT",
    "WORKSHOP",
    "After",
    "Arcs",
    "Dialect",
    "Event",
    "EventKind",
    "Jumps",
    "MoveKind",
    "PathTotals",
    "PathMode",
    "Program",
    "ProgramError",
    "Reading",
    "StartState",
    "examine_program",
    "load_text",
    "move_lengths",
    "parse_program",
    "read_program",
    "totals",
]
