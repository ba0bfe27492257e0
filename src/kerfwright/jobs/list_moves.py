"""List the moves of one program: for the eye, and as JSON for a check from outside."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from kerfwright.basics import InputErrors
from kerfwright.basics.progress import Progress, silent
from kerfwright.jobs.reading import examine_on
from kerfwright.machine import load_machine
from kerfwright.program import (
    STRICT,
    Program,
    ProgramError,
    StartState,
    examine_program,
    load_text,
    totals,
)
from kerfwright.program.listing import Entry, entries
from kerfwright.program.start_file import USUAL_START, read_start
from kerfwright.setup.units import doubt

#: Parameters that are listed even when they are 0: probe, homes, G92, and the nine origins.
_ALWAYS = tuple(
    first + axis for first in (5061, 5161, 5181, 5211, *range(5221, 5382, 20)) for axis in range(3)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """What a program does, or why it cannot be read."""

    program: Program | None  #: None when there is no text to read
    motions: tuple[Entry, ...]  #: up to the first fault; empty when only totals were asked for
    errors: tuple[ProgramError, ...]
    more: int  #: faults beyond those kept


def list_moves(
    path: Path,
    start_file: Path | None = None,
    *,
    dialect: Path | None = None,
    only_totals: bool = False,
    progress: Progress = silent,
) -> Listed:
    """Read a program and list its motions.

    ``dialect``: the machine.toml of the machine that reads it; without one the standard rules.

    Raises
    ------
    InputError, InputErrors
        If start state or machine cannot be read. Faults of the program are given back.
    """
    machine = None if dialect is None else load_machine(dialect)
    start: StartState = USUAL_START if start_file is None else read_start(start_file)
    try:
        text = load_text(path, progress)
    except InputErrors as error:
        told = tuple(one for one in error.errors if isinstance(one, ProgramError))
        return Listed(program=None, motions=(), errors=told, more=error.more)
    if machine is None:
        reading = examine_program(text, str(path), STRICT, start, progress)
        notes = reading.program.notes
    else:
        reading = examine_on(machine, text, str(path), start, progress)
        asked = None if reading.errors else doubt(reading.program, machine)
        notes = reading.program.notes + (() if asked is None else (asked.words,))
    # With faults the list of what came before is the only thing that there is to give.
    wanted = not only_totals or bool(reading.errors)
    motions = entries(reading.program, reading.good_moves, reading.good_events) if wanted else ()
    return Listed(
        program=replace(reading.program, notes=notes),
        motions=tuple(motions),
        errors=reading.errors,
        more=reading.more,
    )


def listed_json(listed: Listed, *, only_totals: bool = False) -> Iterator[str]:
    """The listing as JSON text, piece by piece: one motion on a line."""
    heads: dict[str, Any] = {}
    if listed.errors:
        plain = [_error(one) for one in listed.errors]
        heads = {"error": plain[0], "errors": plain, "more_errors": listed.more}
    elif listed.program is not None:
        heads = {
            "totals": _totals(listed.program),
            "after": _after(listed.program),
            "notes": list(listed.program.notes),
        }
    yield "{\n"
    yield ",\n".join(f"{json.dumps(key)}: {_text(value)}" for key, value in heads.items())
    if listed.errors or not only_totals:
        yield ',\n"motions": ['
        for number, motion in enumerate(listed.motions):
            yield ("\n" if number == 0 else ",\n") + _text(motion)
        yield "\n]"
    yield "\n}\n"


def _text(value: Any) -> str:
    return json.dumps(value, allow_nan=False)  # 7-bit: any terminal can show it


def _error(error: ProgramError) -> dict[str, Any]:
    place = error.place
    return {
        "kind": error.kind,
        "line": place.line or None,
        "column": place.column or None,
        "text": place.text,
        "problem": error.problem,
        "remedy": error.remedy,
    }


def _totals(program: Program) -> dict[str, Any]:
    path = totals(program)
    return {
        "rapid_mm": path.rapid_mm,
        "cut_mm": path.cut_mm,
        "end": list(program.place_at_end_mm),
        "lowest": list(path.lowest_mm),
        "highest": list(path.highest_mm),
        "moves": program.moves,
        "lines": program.lines,
    }


def _after(program: Program) -> dict[str, Any]:
    after = program.after
    parameters = dict.fromkeys(_ALWAYS, 0.0) | dict(after.parameters)
    return {
        "params": {str(index): parameters[index] for index in sorted(parameters)},
        "messages": list(after.messages),
        "gauge_z": after.gauge_z_mm,
        "modes": {**after.modes, "g92": list(after.g92_mm)},
    }
