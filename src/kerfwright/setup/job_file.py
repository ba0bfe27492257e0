"""job.toml: one job's board, zero, cutters in their slots, and what counts as right."""

import re
from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from typing import Any, Literal

from kerfwright.basics import Known
from kerfwright.cutter import MOST_SLOTS, Cutter, CutterError, in_limits, with_stick_out
from kerfwright.fixture import Clamp, ClampShape, read_placed
from kerfwright.formats import (
    Problems,
    QuantityError,
    read_known,
    read_toml,
    require_kind,
)
from kerfwright.machine import MachineModel
from kerfwright.setup.accept import read_accepted
from kerfwright.setup.board_section import UNKNOWN, known_value, read_board
from kerfwright.setup.hold import read_hold
from kerfwright.setup.place_board import DEFAULT_TOLERANCE_MM, build_setup, middle_of_table_mm
from kerfwright.setup.setup import Setup
from kerfwright.setup.start_section import touched_zero
from kerfwright.setup.wanted import read_climate, read_wanted
from kerfwright.setup.zero import AXES, UNSAID, AxisZero, read_axis_zero
from kerfwright.stock import Board, find_wood

VERSION = 1
NO_CUTTER = "no slot holds a cutter"  #: what is wrong with a job that names none
_SECTIONS = ("kerfwright", "note", "board", "zero", "slots", "limits")
_OWN = ("clamps", "hold", "accept", "parts", "climate")  #: read by modules of their own
_NO_CLAMPS: Mapping[str, ClampShape] = {}
_ZERO = (*AXES, *(f"{axis}_by" for axis in AXES), "z_at", "after_change", "note")
_LIMITS = ("below_board", "tolerance", "note")


def load_job(
    path: Path,
    cutters: Mapping[str, Cutter],
    machine: MachineModel,
    clamps: Mapping[str, ClampShape] = _NO_CLAMPS,
) -> Setup:
    """Read a job.

    Parameters
    ----------
    path : Path
        A file whose first line is ``kerfwright = "job 1"``; docs/job-file.md tells the keys.
    cutters : mapping
        The rack, by name: ``cutter.load_cutters``.
    machine : MachineModel
        Table and spoil board are taken from it.
    clamps : mapping
        The clamps of the shop, by name: ``fixture.load_clamps``.

    Raises
    ------
    InputError, InputErrors
        If the file cannot be read; all of its errors are gathered.
    """
    toml = read_toml(path)
    require_kind(toml, "job", VERSION)
    problems = Problems(toml)
    problems.unknown_keys(toml.data, (), (*_SECTIONS, *_OWN))
    sections = {key: problems.section(toml.data, key) for key in _SECTIONS[2:]}
    assumed: list[str] = []
    board = read_board(problems, sections["board"], path, assumed)
    slots, first_slot = _slots(problems, sections["slots"], cutters)
    below_mm, tolerance_mm = _limits(problems, sections["limits"], machine, assumed)
    problems.unknown_keys(sections["zero"], ("zero",), _ZERO)
    stand_in = Board(length_mm=1.0, width_mm=1.0, thickness_mm=1.0, wood=find_wood("don't know"))
    zero = _zero(problems, sections["zero"], board or stand_in, assumed)
    zero = touched_zero(problems, sections["zero"], board, zero, assumed)
    corner_mm = _corner(problems, sections["board"], board or stand_in, machine, assumed)
    placed = _clamps(problems, toml.data, clamps, corner_mm, machine, assumed)
    after_change = _after_change(problems, sections["zero"])
    hold = read_hold(problems, toml.data, board, placed)
    assumed.extend(hold.assumed if hold is not None else ())
    accepted = read_accepted(problems, toml.data)
    wanted = read_wanted(problems, toml.data, board, tolerance_mm)
    climate = read_climate(problems, toml.data, board, assumed)
    problems.tell()
    if board is None:
        raise RuntimeError("a board that could not be read was not told")
    setup = build_setup(
        board=board,
        zero=zero,
        corner_mm=corner_mm,
        slots=slots,
        first_slot=first_slot,
        machine=machine,
        assumed=assumed,
        below_board_mm=below_mm,
        tolerance_mm=tolerance_mm,
        clamps=placed,
    )
    return replace(
        setup, hold=hold, accepted=accepted, z_after_change=after_change, wanted=wanted,
        climate=climate,
    )  # fmt: skip


def _clamps(
    problems: Problems,
    data: Mapping[str, Any],
    shop: Mapping[str, ClampShape],
    corner_mm: tuple[float, float],
    machine: MachineModel,
    assumed: list[str],
) -> tuple[Clamp, ...]:
    table = (machine.table_at_mm[0] - corner_mm[0], machine.table_at_mm[1] - corner_mm[1])
    placed, words = read_placed(problems, data, shop, table)
    assumed.extend(words)
    return placed


def _corner(
    problems: Problems,
    table: Mapping[str, Any],
    board: Board,
    machine: MachineModel,
    assumed: list[str],
) -> tuple[float, float]:
    """Left front corner of the board, machine X and Y. [mm]"""
    at = table.get("at", "don't know")
    middle = middle_of_table_mm(board, machine)
    if isinstance(at, str) and at.strip().lower() in (*UNKNOWN, "middle"):
        if at.strip().lower() != "middle":
            assumed.append("the board lies in the middle of the table")
        return middle
    if not isinstance(at, list) or len(at) != 2:
        problems.add(
            ("board", "at"),
            "is no place on the table",
            'write it like at = ["120 mm", "80 mm"], from the left front corner of the table',
        )
        return middle
    along = [
        problems.reading(("board", "at"), partial(read_known, value, "length", "job file"))
        for value in at
    ]
    if along[0] is None or along[1] is None:
        if not problems.any:
            problems.add(("board", "at"), "one of the two is not known", 'write at = "middle"')
        return middle
    return machine.table_at_mm[0] + along[0].value, machine.table_at_mm[1] + along[1].value


def _zero(
    problems: Problems, table: Mapping[str, Any], board: Board, assumed: list[str]
) -> list[AxisZero]:
    usual = {"x": "left", "y": "front", "z": "top"}
    zero = []
    for axis in AXES:
        place, by = table.get(axis), table.get(f"{axis}_by", UNSAID)
        if place is None:
            assumed.append(f"zero in {axis.upper()} at the {usual[axis]} of the board")
            place = usual[axis]
        for key, value in ((axis, place), (f"{axis}_by", by)):
            if not isinstance(value, str):
                problems.add(("zero", key), f"{key} is no text", f'write it like {axis} = "left"')
        if isinstance(place, str) and isinstance(by, str):
            read = _axis_zero(problems, axis, place, by, board)
            if read is not None:
                zero.append(read)
    return zero


def _after_change(problems: Problems, table: Mapping[str, Any]) -> Literal["set again", "kept"]:
    """What the person does with Z zero when a cutter is changed."""
    said = table.get("after_change", "set again")
    if said not in ("set again", "kept"):
        problems.add(
            ("zero", "after_change"),
            "does not say what is done with Z zero when a cutter is changed",
            'write after_change = "set again" or "kept"',
        )
    return "kept" if said == "kept" else "set again"


def _axis_zero(problems: Problems, axis: str, place: str, by: str, board: Board) -> AxisZero | None:
    try:  # first the place alone, so that an error is shown at the right key
        read_axis_zero(axis, place, UNSAID, board)
    except QuantityError as error:
        problems.add(("zero", axis), error.problem, error.remedy)
        return None
    return problems.reading(("zero", f"{axis}_by"), partial(read_axis_zero, axis, place, by, board))


def _slots(
    problems: Problems, table: Mapping[str, Any], cutters: Mapping[str, Cutter]
) -> tuple[dict[int, Cutter], int | None]:
    slots: dict[int, Cutter] = {}
    for key, value in table.items():
        if key in ("first", "note"):
            continue
        if not re.fullmatch(r"[0-9]{1,3}", key) or not 1 <= int(key) <= MOST_SLOTS:
            problems.add(
                ("slots", key), f'"{key[:60]}" is no slot', 'write it like 1 = "ball 3 mm"'
            )
            continue
        cutter = _slot(problems, key, value, cutters)
        if cutter is not None:
            slots[int(key)] = cutter
    if not table:
        problems.add(("slots",), NO_CUTTER, 'under [slots] write 1 = "ball 3 mm"')
    first = table.get("first")
    if first is not None and (isinstance(first, bool) or str(first) not in table):
        problems.add(
            ("slots", "first"), "the first cutter is in none of the slots", "write its number"
        )
        return slots, None
    return slots, None if first is None else int(first)


def _slot(
    problems: Problems, key: str, value: object, cutters: Mapping[str, Cutter]
) -> Cutter | None:
    at = ("slots", key)
    name = value
    if isinstance(value, dict):
        problems.unknown_keys(value, at, ("cutter", "stick_out"))
        name = value.get("cutter")
    if not isinstance(name, str):
        problems.add(at, "names no cutter", 'write it like 1 = "ball 3 mm"')
        return None
    cutter = cutters.get(name)
    if cutter is None:
        near = get_close_matches(name[:80], cutters, n=3, cutoff=0.5)
        rack = f"near it are {', '.join(near)}" if near else f"there are {', '.join(cutters)}"
        remedy = f"{rack}; or add it to the rack" if cutters else "add it to cutters.toml"
        problems.add(at, f'there is no "{name[:60]}" in the rack', remedy)
        return None
    if not isinstance(value, dict) or "stick_out" not in value:
        return cutter
    stick_out = problems.reading((*at, "stick_out"), partial(_stick_out, value["stick_out"]))
    if stick_out is None:
        return cutter
    try:
        return with_stick_out(cutter, stick_out)
    except CutterError as error:
        problems.add((*at, "stick_out"), str(error), "pull the cutter out further")
        return None


def _stick_out(value: object) -> Known | None:
    return in_limits("stick_out_mm", read_known(value, "length", "job file"))


def _limits(
    problems: Problems, table: Mapping[str, Any], machine: MachineModel, assumed: list[str]
) -> tuple[float, float]:
    problems.unknown_keys(table, ("limits",), _LIMITS)
    below = known_value(problems, table, "below_board", "length", (0.0, 100.0), "limits")
    tolerance = known_value(problems, table, "tolerance", "length", (0.001, 50.0), "limits")
    if below is not None and below.value > machine.spoil_board_mm:
        problems.add(
            ("limits", "below_board"),
            f"is more than the spoil board is thick, {machine.spoil_board_mm:g} mm",
            "allow less, or put a thicker spoil board on and say so in the machine file",
        )
    if tolerance is None:
        assumed.append(f"right means within {DEFAULT_TOLERANCE_MM:g} mm, proud or shy")
    return (
        0.0 if below is None else below.value,
        DEFAULT_TOLERANCE_MM if tolerance is None else tolerance.value,
    )
