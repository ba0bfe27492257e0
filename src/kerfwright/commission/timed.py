"""timed.toml: programs that the person has run, and how long they took by the clock."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.formats import Problems, QuantityError, TomlFile, read_toml, require_kind
from kerfwright.formats.quantity import read_quantity

VERSION = 1
LEAST_PROGRAMS = 3
MOST_PROGRAMS = 100
#: How well a clock is read where nothing is said: ± 1 s and ± 0.5 %, nineteen times in twenty.
#: Common practice, no source.
READ_S, READ_SHARE = 1.0, 0.005
_KEYS = ("file", "took", "changes_left_out", "note")
_EXAMPLE = '[[program]]\nfile = "shelf.nc"\ntook = "1 h 12 min"'


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedProgram:
    """One program and its time by the clock."""

    file: Path
    took_s: float
    u_s: float  #: standard uncertainty of the time
    changes_left_out: bool  #: the clock stood during cutter changes and stops
    note: str = ""


def read_timed(path: Path) -> tuple[TimedProgram, ...]:
    """Read timed.toml; files are looked for from its own folder.

    Raises
    ------
    InputError, InputErrors
        With line, column and remedy for everything that cannot be read, fewer than three programs
        and programs that are not there among it.
    """
    toml = read_toml(path)
    require_kind(toml, "timed", VERSION)
    problems = Problems(toml)
    problems.unknown_keys(toml.data, (), ("kerfwright", "program", "note"))
    tables = toml.data.get("program", [])
    if not isinstance(tables, list) or not all(isinstance(one, dict) for one in tables):
        problems.add(("program",), "is no list of programs", f"write {_shown(_EXAMPLE)}")
        tables = []
    elif len(tables) < LEAST_PROGRAMS:
        problems.add(
            ("program",) if tables else (),
            f"has {_count(len(tables))}, and at least {LEAST_PROGRAMS} are needed: fewer cannot"
            " tell how corners are taken from how fast the axes speed up",
            f"time more of your programs by the clock, and write for each {_shown(_EXAMPLE)}",
        )
    elif len(tables) > MOST_PROGRAMS:
        problems.add(
            ("program", MOST_PROGRAMS),
            f"there are {len(tables)} programs, and at most {MOST_PROGRAMS} are fitted at once",
            "keep those that differ most",
        )
        tables = []
    read = [_program(problems, toml, table, number) for number, table in enumerate(tables)]
    problems.tell()
    return tuple(one for one in read if one is not None)


def _program(
    problems: Problems, toml: TomlFile, table: Mapping[str, Any], number: int
) -> TimedProgram | None:
    at = ("program", number)
    problems.unknown_keys(table, at, _KEYS)
    for key in ("file", "took"):
        if key not in table:
            problems.add(at, f"this program has no {key}", f"write {_shown(_EXAMPLE)}")
    file = _file(problems, toml, table.get("file", ""), number) if "file" in table else None
    took = None
    if "took" in table:
        took = problems.reading((*at, "took"), lambda: _took(table["took"]))
    left_out = table.get("changes_left_out", False)
    if not isinstance(left_out, bool):
        problems.add(
            (*at, "changes_left_out"), "is neither true nor false", "write true or false, bare"
        )
    note = table.get("note", "")
    if not isinstance(note, str):
        problems.add((*at, "note"), "is not a text", "put it in quotes")
    if file is None or took is None:
        return None
    return TimedProgram(
        file=file, took_s=took[0], u_s=took[1], changes_left_out=left_out is True, note=str(note)
    )


def _file(problems: Problems, toml: TomlFile, said: object, number: int) -> Path | None:
    at = ("program", number, "file")
    if not isinstance(said, str) or not said.strip() or len(said) > 1000 or "\0" in said:
        problems.add(at, "is not the name of a file", 'write it like "shelf.nc"')
        return None
    path = Path(toml.file).parent / said
    try:
        there = path.is_file()
    except OSError:
        there = False
    if not there:
        problems.add(
            at,
            f'there is no file "{said[:60]}" beside this one',
            "check the name; it counts from the folder of this file",
        )
        return None
    return path


def _took(value: object) -> tuple[float, float]:
    """Seconds, and their standard uncertainty."""
    wanted = 'write it like "1 h 12 min", or "4321 ± 10 s"'
    if not isinstance(value, str):
        raise QuantityError("is not a time in quotes", wanted)
    quantity = read_quantity(value, "time")
    if quantity is None:
        raise QuantityError("a program that was not timed says nothing", wanted)
    if not 1.0 <= quantity.value <= 1e7:
        raise QuantityError(f'"{value[:60]}" is no time that a program takes', wanted)
    if quantity.low is not None and quantity.high is not None:
        return quantity.value, (quantity.high - quantity.low) / 12.0**0.5
    if quantity.u is not None:
        return quantity.value, quantity.u
    return quantity.value, (READ_S + READ_SHARE * quantity.value) / TWO_SIDED_95


def _count(many: int) -> str:
    return {0: "no program", 1: "one program"}.get(many, f"{many} programs")


def _shown(lines: str) -> str:
    return " / ".join(lines.split("\n"))
