"""The board of a job file: sizes, wood, grain, and how it stands before the first cut."""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from kerfwright.basics import Known
from kerfwright.formats import Problems, QuantityError, read_known, read_size
from kerfwright.formats.known_value import read_origin
from kerfwright.setup.start_section import agreed_size, read_start, read_top
from kerfwright.stock import (
    THICKNESS_U_MM,
    Board,
    BoardError,
    Wood,
    WoodError,
    board_of,
    find_wood,
    read_grain,
    wood_assumptions,
)

_BOARD = (
    "size", "thickness", "dial", "left_by", "turned", "mesh", "mesh_unit", "wood", "grain",
    "moisture", "density", "at", "note",
)  # fmt: skip
UNKNOWN = ("don't know", "don’t know", "unknown", "?")


def read_board(
    problems: Problems, table: Mapping[str, Any], job: Path, assumed: list[str]
) -> Board | None:
    """The board of a job file, None if something of it was noted as wrong.

    ``job`` is the file's path: an earlier job's board and a mesh are looked for from there.
    """
    problems.unknown_keys(table, ("board",), _BOARD)
    began, table = read_start(problems, table, job)
    sizes = began.size_mm
    if "size" in table or not {"mesh", "left_by"} & table.keys():
        said = problems.reading(("board", "size"), partial(_size, table.get("size"), assumed))
        sizes = agreed_size(problems, began, said)
    thickness, start = None, began.start
    if sizes is not None and start is None:
        thickness, start = read_top(problems, table, sizes)
    if thickness is None:
        thickness = _thickness(problems, table, sizes, assumed, sure=began.start is not None)
    moisture = known_value(problems, table, "moisture", "share", (0.0, 2.0))
    percent = None if moisture is None else 100.0 * moisture.value
    wood = _wood(problems, table, percent)
    grain_rad = problems.reading(("board", "grain"), partial(_grain, table, wood, assumed))
    if sizes is None or thickness is None or wood is None or grain_rad is None:
        return None
    assumed.extend(wood_assumptions(wood, percent))
    if start is not None:
        assumed.append(start.words)
    try:
        board = board_of((sizes[0], sizes[1], thickness.value), wood, grain_rad, percent, thickness)
    except BoardError as error:
        problems.add(("board", "size"), str(error), 'write it like "310 x 310 x 30 mm"')
        return None
    board = replace(board, start=start)
    if moisture is None:
        return board
    return replace(board, known={**board.known, "moisture_percent": _scaled(moisture, 100.0)})


def _size(value: object, assumed: list[str]) -> tuple[float, float, float]:
    remedy = 'write it like size = "310 x 310 x 30 mm": along X, along Y, thick'
    if isinstance(value, Mapping):
        origin, ref = read_origin(value), value.get("ref", "")
        value = value["is"]
        if origin == "estimated":
            assumed.append(f"size of the board {str(value)[:60]}: {ref or 'estimated'}"[:200])
    if not isinstance(value, str):
        raise QuantityError("the board has no size", remedy)
    sizes, rest = read_size(value)
    if rest:
        raise QuantityError(f'"{rest[:60]}" does not belong to a size', remedy)
    if len(sizes) != 3:
        raise QuantityError("the size has no thickness", remedy)
    return sizes[0], sizes[1], sizes[2]


def _thickness(
    problems: Problems,
    table: Mapping[str, Any],
    sizes: tuple[float, float, float] | None,
    assumed: list[str],
    sure: bool,
) -> Known | None:
    if sure and sizes is not None:  # that of the earlier board, or of the mesh
        return Known(value=sizes[2], kind="estimated", ref="where it starts", u=THICKNESS_U_MM)
    measured = known_value(problems, table, "thickness", "length", (0.05, 1000.0))
    if measured is not None:
        return measured
    if sizes is None:
        return None
    assumed.append(f"thickness within {2 * THICKNESS_U_MM:g} mm of what is written: not measured")
    return Known(
        value=sizes[2],
        kind="estimated",
        ref="size in the job file; its spread is common practice, no source",
        u=THICKNESS_U_MM,
    )


def _wood(problems: Problems, table: Mapping[str, Any], percent: float | None) -> Wood | None:
    name = table.get("wood", "don't know")
    if not isinstance(name, str):
        problems.add(("board", "wood"), "is no name of a wood", 'write it like "hard maple"')
        return None
    try:
        wood = find_wood(name, percent)
    except WoodError as error:
        problems.add(("board", "wood"), error.problem, error.remedy)
        return None
    density = known_value(problems, table, "density", "density", (50.0, 2000.0))
    if density is None:
        return wood
    return replace(
        wood,
        density_kg_per_m3=density.value,
        known={**wood.known, "density_kg_per_m3": density},
    )


def _grain(table: Mapping[str, Any], wood: Wood | None, assumed: list[str]) -> float:
    value = table.get("grain", "don't know")
    if isinstance(value, str) and value.strip().lower() in UNKNOWN:
        if wood is not None and wood.kind in ("solid", "plywood"):
            assumed.append("grain along X (face grain, for plywood): say so if it is not")
        return 0.0
    grain_rad = read_grain(value) if isinstance(value, str) else None
    if grain_rad is None:
        raise QuantityError("is no direction of the grain", 'write "along X" or "30 deg"')
    return grain_rad


def known_value(
    problems: Problems,
    table: Mapping[str, Any],
    key: str,
    dimension: str,
    ends: tuple[float, float],
    section: str = "board",
) -> Known | None:
    """The value of a key, None if it is absent, not known, or noted as wrong."""
    if key not in table:
        return None

    def read() -> Known | None:
        known = read_known(table[key], dimension, "job file")
        if known is not None and not ends[0] <= known.value <= ends[1]:
            raise QuantityError(f"{key} is beyond all that can be", "check the number and its unit")
        return known

    return problems.reading((section, key), read)


def _scaled(known: Known, factor: float) -> Known:
    def times(value: float | None) -> float | None:
        return None if value is None else factor * value

    return replace(
        known,
        value=factor * known.value,
        u=times(known.u),
        low=times(known.low),
        high=times(known.high),
    )
