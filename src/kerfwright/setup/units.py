"""Whether a program's numbers make sense on a machine as millimetres, or as inches.

Nothing here guesses: ``misfit`` says why a reading cannot be meant, and ``doubt`` is a question to
the person. The bounds are common practice, no source.
"""

import re
from collections import deque
from dataclasses import dataclass

from kerfwright.basics import Change
from kerfwright.basics.units import INCH_MM, MINUTE_S
from kerfwright.machine import MachineModel
from kerfwright.program import MoveKind, Program
from kerfwright.program.totals import size_mm

Vector = tuple[float, float, float]

SMALLEST_MM = 3.0  #: all of a program within less is no work for a router
SLOWEST_MM_PER_S = 1.0 / MINUTE_S
FASTEST_MM_PER_S = 20_000.0 / MINUTE_S
BY_FAR = 2.0  #: times the travel: no slip of a zero or of a clearance goes so far

_NAMES = {1.0: "millimetres", INCH_MM: "inches"}
_UNIT_WORD = re.compile(rb"[Gg][ \t]*0*(20|21|70|71)(?:\.0*)?(?![\d.])")
_REMARK = re.compile(rb"\([^)\r\n]*\)?|;[^\r\n]*")
_LINE_END = re.compile(rb"[\r\n]")
_OTHER_WORD = {"G20": "G21", "G21": "G20", "G70": "G71", "G71": "G70"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """How large a program is, and how fast it wants to cut."""

    size_mm: Vector
    slowest_mm_per_s: float = 0.0  #: of the feeds; 0 when nothing is cut at a feed
    fastest_mm_per_s: float = 0.0

    def times(self, factor: float) -> "Extent":
        """The same with all its numbers in another unit."""
        x, y, z = self.size_mm
        return Extent(
            size_mm=(x * factor, y * factor, z * factor),
            slowest_mm_per_s=self.slowest_mm_per_s * factor,
            fastest_mm_per_s=self.fastest_mm_per_s * factor,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Units that make no sense on the machine, where the other ones would."""

    line: int  #: where the units are stated, or else of the first move
    words: str  #: the question
    value_mm: float  #: the size that makes no sense
    limit_mm: float  #: what it was held against
    remedy: str
    change: Change


def extent_of(program: Program) -> Extent:
    """Size and feeds of a program; feeds that a time was turned into (G93) do not count."""
    at_feed = program.kind != MoveKind.RAPID
    at_feed[program.timed_moves] = False
    feeds = program.feed_mm_per_s[at_feed]
    if not len(feeds):
        return Extent(size_mm=size_mm(program))
    return Extent(
        size_mm=size_mm(program),
        slowest_mm_per_s=float(feeds.min()),
        fastest_mm_per_s=float(feeds.max()),
    )


def misfit(extent: Extent, machine: MachineModel, smallest_mm: float = SMALLEST_MM) -> str:
    """Why a program of this extent is no work for the machine, in words; "" if it may be."""
    travel = _travel_mm(machine)
    if any(size > most + 1e-6 for size, most in zip(extent.size_mm, travel, strict=True)):
        return f"more than the {size_words(travel)} that this machine travels"
    if _tiny(extent.size_mm, smallest_mm):
        return f"all of it within {smallest_mm:g} mm"
    if extent.fastest_mm_per_s > FASTEST_MM_PER_S * (1.0 + 1e-9):
        return f"with a feed of {extent.fastest_mm_per_s * MINUTE_S:.0f} mm/min"
    if 0.0 < extent.slowest_mm_per_s < SLOWEST_MM_PER_S * (1.0 - 1e-9):
        return f"with a feed of {extent.slowest_mm_per_s * MINUTE_S:.2g} mm/min"
    return ""


def doubt(
    program: Program, machine: MachineModel, narrowest_mm: float = SMALLEST_MM
) -> Doubt | None:
    """The question whether a program's units are the ones that were meant, if there is one.

    Parameters
    ----------
    narrowest_mm : float
        Width of the narrowest cutter: all of a job is hardly ever within less.
    """
    if program.unit_mm is None or not program.moves:
        return None  # a program that changes its units knows what it does
    other_mm = 1.0 if program.unit_mm == INCH_MM else INCH_MM
    here = extent_of(program)
    there = here.times(other_mm / program.unit_mm)
    found = _senseless(here.size_mm, machine, narrowest_mm)
    if found is None or misfit(there, machine, max(SMALLEST_MM, narrowest_mm)):
        return None
    value_mm, limit_mm, why = found
    line, word = unit_word(program) if program.unit_said else (0, "")
    said = f"The program says {word or _code(program.unit_mm)}"
    said += f" on line {line}" if line else ""
    if not program.unit_said:
        said = "The program does not say its units, and the machine is set to them"
    new = _OTHER_WORD.get(word, _code(other_mm))
    line = line or int(program.line[0])
    return Doubt(
        line=line,
        words=(
            f"Is this program meant in {_NAMES[other_mm]}? {said}: in {_NAMES[program.unit_mm]} it"
            f" is {size_words(here.size_mm)}, {why}; in {_NAMES[other_mm]} it would be"
            f" {size_words(there.size_mm)}"
        ),
        value_mm=value_mm,
        limit_mm=limit_mm,
        remedy=(
            f"If it is, write {new} in place of {word} on line {line}"
            if word
            else f"If it is, write {new} before line {line}"
        ),
        change=Change(
            path=f"word on line {line}" if word else f"word before line {line}", old=word, new=new
        ),
    )


def unit_word(program: Program) -> tuple[int, str]:
    """Line and word of the statement of units in force at the first move; 0 and "" if not found."""
    end = _LINE_END.search(program.text, int(program.byte[0]))
    head = program.text[: end.start() if end else len(program.text)]
    bare = _REMARK.sub(lambda match: b" " * len(match[0]), head)
    last = next(iter(deque(_UNIT_WORD.finditer(bare), maxlen=1)), None)
    if last is None:
        return 0, ""
    before = head[: last.start()]
    line = len(re.findall(rb"\r\n|\r|\n", before)) + 1
    return line, f"G{last[1].decode()}"


def size_words(size_mm: Vector) -> str:
    """A size as one says it: ``305 x 203 x 6.35 mm``."""
    return " x ".join(_digits(value) for value in size_mm) + " mm"


def _senseless(
    size_mm: Vector, machine: MachineModel, narrowest_mm: float
) -> tuple[float, float, str] | None:
    """Size, limit and words if all of a program is far too large, or smaller than a cutter."""
    travel = _travel_mm(machine)
    for size, most in zip(size_mm, travel, strict=True):
        if size > BY_FAR * most:
            return size, most, f"and the machine travels {size_words(travel)}"
    if _tiny(size_mm, narrowest_mm):
        return max(size_mm), narrowest_mm, f"less than a cutter of {_digits(narrowest_mm)} mm"
    return None


def _tiny(size_mm: Vector, smallest_mm: float) -> bool:
    """Whether all is within a length; a single hole, which is a point from above, says nothing."""
    return max(size_mm) < smallest_mm and max(size_mm[:2]) > 0.0


def _travel_mm(machine: MachineModel) -> Vector:
    return machine.x.travel_mm, machine.y.travel_mm, machine.z.travel_mm


def _code(unit_mm: float) -> str:
    return "G20" if unit_mm == INCH_MM else "G21"


def _digits(value: float) -> str:
    decimals = 0 if value >= 100.0 else 1 if value >= 10.0 else 2
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
