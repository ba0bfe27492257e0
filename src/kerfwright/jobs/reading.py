"""How a program is read on a machine: the one place where machine.toml's words become rules.

Every errand that reads a program with a machine at hand reads it by ``examine_on``.
"""

from dataclasses import replace
from typing import Final, Literal

from kerfwright.basics import Place
from kerfwright.basics.progress import Progress, silent
from kerfwright.machine import Controller, MachineModel
from kerfwright.program import (
    WORKSHOP,
    Dialect,
    Program,
    ProgramError,
    Reading,
    StartState,
    examine_program,
)
from kerfwright.program.notes import UNITS_NOT_SAID
from kerfwright.setup.units import extent_of, misfit, size_words

_BARE: Final[dict[str, Literal[0, 10] | None]] = {"stops": None, "feed": 10, "rapid": 0}
_UNITS = ("millimetres", "inches")


def rules_of(controller: Controller) -> Dialect:
    """The rules by which this controller reads; what machine.toml does not say is WORKSHOP's."""
    reads = controller.reads
    return replace(
        WORKSHOP,
        name="machine.toml",
        lower_case=reads.lower_case,
        blanks_in_numbers=reads.blanks_in_numbers,
        line_ends=reads.line_ends,
        longest_line=reads.longest_line or WORKSHOP.longest_line,
        number_anywhere=reads.late_numbers,
        semicolon_comments=reads.semicolons,
        end_may_be_missing=reads.missing_end,
        byte_order_mark=reads.byte_order_mark,
        skips_unknown=controller.unknown_words == "skips",
        bare_motion=_BARE[reads.bare_coordinates],
        old_unit_codes=reads.knows_g70,
        centre_codes=reads.knows_g90_1,
        tolerance_words=reads.knows_g64_p,
        tolerance_heeded=controller.corner_rule == "path tolerance",
        centres_absolute=controller.arc_centres == "absolute",
    )


def examine_on(
    machine: MachineModel,
    text: bytes,
    file: str,
    start: StartState,
    progress: Progress = silent,
) -> Reading:
    """Read a program as this machine does, every fault gathered.

    A program that does not say its units is read in those of machine.toml; where that is silent
    too, in the only ones that fit the machine. Where both or none fit, the one error of the reading
    is that question, of kind ``units``.
    """
    controller = machine.controller
    rules = rules_of(controller)
    left_out = start.block_delete or controller.reads.slash_lines == "left out"

    def read(inches: bool) -> Reading:
        at = replace(start, inches=inches, block_delete=left_out)
        return examine_program(text, file, rules, at, progress)

    reading = read(controller.default_units == "inch")
    if controller.default_units is not None or reading.program.unit_said:
        return reading
    return _in_units_that_fit(reading, read(True), machine)


def _in_units_that_fit(mm: Reading, inch: Reading, machine: MachineModel) -> Reading:
    """The one of two readings that can be meant, told; or the question."""
    why = [_why_not(reading, machine) for reading in (mm, inch)]
    sizes = [size_words(extent_of(reading.program).size_mm) for reading in (mm, inch)]
    if bool(why[0]) != bool(why[1]):
        at = 0 if why[1] else 1
        words = (
            f"{UNITS_NOT_SAID}: read as {_UNITS[at]}, {sizes[at]}, for in {_UNITS[1 - at]} it would"
            f" be {sizes[1 - at]}, {why[1 - at]}"
        )
        return _telling((mm, inch)[at], words)
    if mm.errors:
        return mm
    fit = "neither fits this machine" if why[0] else "both fit this machine"
    reasons = f" ({why[0]}; {why[1]})" if why[0] else ""
    question = ProgramError(
        Place(file=mm.program.file),
        "neither the program nor machine.toml says the units: read in millimetres it is"
        f" {sizes[0]}, in inches {sizes[1]}, and {fit}{reasons}",
        "write G21 (millimetres) or G20 (inches) before the first move, or"
        ' default_units = "mm" or "inch" under [controller] in machine.toml',
        "units",
    )
    return replace(mm, errors=(question,), more=0, good_moves=0, good_events=0)


def _why_not(reading: Reading, machine: MachineModel) -> str:
    if reading.errors:
        return "and cannot be read"
    return misfit(extent_of(reading.program), machine)


def _telling(reading: Reading, words: str) -> Reading:
    """With these words in place of the note that the units are not said."""
    program: Program = reading.program
    notes = tuple(words if note.startswith(UNITS_NOT_SAID) else note for note in program.notes)
    return replace(reading, program=replace(program, notes=notes))
