"""What a job file says of the board before the first cut, and where Z was touched on it."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any, cast

import numpy as np

from kerfwright.basics import InputError, Known
from kerfwright.basics.units import INCH_MM
from kerfwright.formats import Problems, QuantityError, read_known
from kerfwright.formats.stl import read_stl
from kerfwright.setup.zero import AxisZero
from kerfwright.stock import Board
from kerfwright.stock.blank import BlankError, blank_of
from kerfwright.stock.left_board import NAME, LeftBoard, Over, read_left
from kerfwright.stock.start import Start
from kerfwright.stock.surface import Surface, surface_through

Sizes = tuple[float, float, float]

AGREES_MM = 0.5  #: a size that is written and one that is known may differ by so much
_TURNED: dict[str, Over] = {"over x": "x", "over y": "y"}
_UNITS = {"mm": 1.0, "in": INCH_MM}
_JOB = re.compile(r"jobs/[^/\\.][^/\\]{0,200}")
_GRID = 'write rows from the front, each from left to right: [["18.1 mm", "18.0 mm"], ["..."]]'


@dataclass(frozen=True, slots=True, kw_only=True)
class Began:
    """Where a board starts that was not simply sawn: nothing, if it was."""

    start: Start | None = None
    size_mm: Sizes | None = None


def read_start(
    problems: Problems, table: Mapping[str, Any], job: Path
) -> tuple[Began, Mapping[str, Any]]:
    """An earlier board or a mesh, and the section with what the earlier job knew of its wood."""
    ways = [key for key in ("left_by", "mesh", "dial") if key in table]
    if isinstance(table.get("thickness"), list):
        ways.append("thickness")
    if len(ways) > 1:
        at = ("board", ways[1])
        problems.add(at, f"{ways[0]} says already how the board stands", "leave one of the two out")
        return Began(), table
    for key, owner in (("turned", "left_by"), ("mesh_unit", "mesh")):
        if key in table and owner not in table:
            problems.add(("board", key), f"goes with {owner}", f"leave it out, or add {owner}")
    if "left_by" in table:
        left = _telling(problems, "left_by", partial(_left_by, table, job))
        if left is None:
            return Began(), table
        return Began(start=left, size_mm=left.size_mm), {**_inherited(left), **table}
    if "mesh" in table:
        blank = _telling(problems, "mesh", partial(_mesh, table, job))
        if blank is not None:
            return Began(start=blank, size_mm=blank.size_mm), table
    return Began(), table


def agreed_size(problems: Problems, began: Began, said: Sizes | None) -> Sizes | None:
    """The size of the board, by what is written and what is known."""
    if began.size_mm is None or said is None:
        return said
    if any(abs(a - b) > AGREES_MM for a, b in zip(began.size_mm, said, strict=True)):
        known = " x ".join(f"{value:g}" for value in began.size_mm)
        problems.add(
            ("board", "size"), f"is not that of the board it starts from, {known} mm",
            "leave size out, or name the right board",
        )  # fmt: skip
    return began.size_mm


def read_top(
    problems: Problems, table: Mapping[str, Any], sizes: Sizes
) -> tuple[Known | None, Surface | None]:
    """Thickness at its highest and the top, where it was measured at more than one place."""
    if isinstance(table.get("thickness"), list):
        told = _telling(problems, "thickness", partial(_by_thickness, table["thickness"], sizes))
    elif "dial" in table:
        told = _telling(problems, "dial", partial(_by_dial, table, sizes))
    else:
        return None, None
    return told if told is not None else (None, None)


def touched_zero(
    problems: Problems,
    table: Mapping[str, Any],
    board: Board | None,
    zero: Sequence[AxisZero],
    assumed: list[str],
) -> list[AxisZero]:
    """Zero with Z counted from where the board was touched, which need not be its highest place."""
    at: list[float] | None = None
    if "z_at" in table:
        at = problems.reading(("zero", "z_at"), partial(_place, table["z_at"]))
    if board is None or board.start is None or len(zero) != 3 or problems.any:
        return list(zero)
    if str(table.get("z", "top")).strip().lower() == "table":
        return list(zero)
    size = (board.length_mm, board.width_mm)
    if at is None:
        at = [
            min(max(axis.known.value, 0.0), end) for axis, end in zip(zero[:2], size, strict=True)
        ]
        assumed.append(
            f"Z was touched at {at[0]:g}, {at[1]:g} mm from the left front corner of the board"
        )
    if not all(0.0 <= value <= end for value, end in zip(at, size, strict=True)):
        problems.add(("zero", "z_at"), "is not on the board", "measure from its left front corner")
        return list(zero)
    top, beneath = board.start.heights(np.array(at[:1]), np.array(at[1:]))
    high, low = float(top[0, 0]), max(float(beneath[0, 0]), -board.thickness_mm)
    if not high > low:
        problems.add(
            ("zero", "z_at"), "there is no wood where Z was touched",
            'say where it was, like z_at = ["50 mm", "20 mm"], or write z = "table"',
        )  # fmt: skip
        return list(zero)
    known = replace(zero[2].known, value=zero[2].known.value + high)
    return [zero[0], zero[1], replace(zero[2], known=known)]


def _telling(problems: Problems, key: str, read: Any) -> Any:
    """What ``read`` returns, or None after noting what is wrong at a key of [board]."""
    try:
        return read()
    except QuantityError as error:
        problems.add(("board", key), error.problem, error.remedy)
    except InputError as error:
        problems.add(("board", key), f"{error.place}: {error.problem}", error.remedy)
    except BlankError as error:
        problems.add(("board", key), str(error), error.remedy)
    return None


def _left_by(table: Mapping[str, Any], job: Path) -> LeftBoard:
    said = table["left_by"]
    if not isinstance(said, str) or not _JOB.fullmatch(said):
        raise QuantityError("names no job", 'write it like left_by = "jobs/NAME"')
    turned = table.get("turned", "")
    over = _TURNED.get(turned.strip().lower()) if isinstance(turned, str) and turned else ""
    if over is None:
        raise QuantityError(
            f'"{str(turned)[:40]}" is no way to turn a board', 'write turned = "over X" or "over Y"'
        )
    here = job.absolute().parent
    shop = here.parent.parent
    folder = next((base / said for base in (here, shop) if (base / said).is_dir()), shop / said)
    if folder.resolve() == here.resolve():
        raise QuantityError("is this very job", "name the job that was cut before it")
    left = read_left(folder / NAME, over)
    again = f"prove {said} again with --keep-board"
    for name, key in (("program_file", "program"), ("job_file", "job file")):
        told, wanted = left.facts.get(name), left.facts.get(name.replace("_file", "_sha256"))
        if not told:
            continue
        file = folder / Path(str(told)).name
        if not file.is_file():
            raise QuantityError(f"the {key} {file.name} of {said} is gone", again)
        if sha256(file.read_bytes()).hexdigest() != wanted:
            raise QuantityError(f"the {key} of {said} has changed since its board was kept", again)
    return left


def _inherited(left: LeftBoard) -> dict[str, Any]:
    """What the earlier job knew of the wood, as one writes it in a job file."""
    facts, out = left.facts, {}
    for key in ("wood", "grain", "moisture", "density"):
        if isinstance(facts.get(key), str):
            out[key] = facts[key]
    if left.over and isinstance(facts.get("grain"), str):
        # Seen from the other side the grain runs the other way round.
        out["grain"] = f"{-float(str(facts['grain']).split()[0]) % 180.0:.6g} deg"
    return out


def _mesh(table: Mapping[str, Any], job: Path) -> Start:
    said, unit = table["mesh"], table.get("mesh_unit", "mm")
    if not isinstance(said, str) or not said.lower().endswith(".stl"):
        raise QuantityError("is no STL file", 'write it like mesh = "blank.stl"')
    if not isinstance(unit, str) or unit not in _UNITS:
        raise QuantityError("the mesh has no such unit", 'write mesh_unit = "mm" or "in"')
    corners = read_stl(job.parent / said) * _UNITS[unit]
    words = (
        f"the blank is the mesh {Path(said).name} in {unit}, seen from above: hollows under it"
        " count as wood, and its underside is level"
    )
    return cast(Start, blank_of(corners, words))


def _by_thickness(rows: object, sizes: Sizes) -> tuple[Known, Surface]:
    known = _grid(rows, "thickness")
    surface, highest = surface_through(
        [[one.value for one in row] for row in known], sizes[0], sizes[1], 0.0,
        _words(known, "thickness, at corners and middles", "the underside is level"),
    )  # fmt: skip
    if not highest < 1000.0 or min(one.value for row in known for one in row) < 0.05:
        raise QuantityError("is beyond all that can be", "check the numbers and their units")
    thickness = Known(value=highest, kind="measured", ref="at several places", u=_u_mm(known))
    return thickness, surface


def _by_dial(table: Mapping[str, Any], sizes: Sizes) -> tuple[Known, Surface]:
    dial = table["dial"]
    if not isinstance(dial, dict) or not set(dial) <= {"heights", "inset", "note"}:
        raise QuantityError("is no table of readings", "write [board.dial] with heights and inset")
    known = _grid(dial.get("heights"), "heights")
    inset = read_known(dial.get("inset", "0 mm"), "length", "job file")
    if inset is None or not 0.0 <= inset.value < 0.45 * min(sizes[:2]):
        raise QuantityError(
            "the outer readings are not on the board", 'write inset = "20 mm", from the edges'
        )
    middle = table.get("thickness")
    thick = None if middle is None else read_known(middle, "length", "job file")
    if thick is None:
        thick = Known(value=sizes[2], kind="estimated", ref="size in the job file", u=0.1)
    words = _words(known, "readings of a dial", "the underside is level")
    heights = [[one.value for one in row] for row in known]
    surface, _ = surface_through(heights, sizes[0], sizes[1], inset.value, words)
    top, _ = surface.heights(np.array([0.5 * sizes[0]]), np.array([0.5 * sizes[1]]))
    # The thickness is that in the middle; the frame begins at the highest place.
    return replace(
        thick, value=thick.value - float(top[0, 0]), low=None, high=None, u=thick.u or 0.1
    ), surface


def _grid(rows: object, name: str) -> list[list[Known]]:
    many = len(rows) if isinstance(rows, list) else 0
    if not isinstance(rows, list) or many not in (2, 3):
        raise QuantityError(f"{name} are no 2 x 2 or 3 x 3 values", _GRID)
    out = []
    for row in rows:
        if not isinstance(row, list) or len(row) != many:
            raise QuantityError(f"{name} are no 2 x 2 or 3 x 3 values", _GRID)
        known = [read_known(value, "length", "job file") for value in row]
        if any(one is None or abs(one.value) > 1000.0 for one in known):
            raise QuantityError(f"one of the {name} is not known", "measure it, or leave all out")
        out.append([one for one in known if one is not None])
    return out


def _u_mm(known: list[list[Known]]) -> float:
    """Standard uncertainty of one reading, on average."""
    squares = []
    for one in (one for row in known for one in row):
        low, high = one.interval()
        squares.append(((high - low) / 3.92) ** 2)
    return float(np.sqrt(np.mean(squares)))


def _words(known: list[list[Known]], what: str, tail: str) -> str:
    kind = "biquadratic" if len(known) == 3 else "bilinear"
    unsure = 1.96 * _u_mm(known)
    spread = f", each within {unsure:.2g} mm" if unsure > 0.0 else ", their spread not said"
    return (
        f"the top of the board is the {kind} surface through {len(known) ** 2} {what}{spread};"
        f" {tail}"
    )


def _place(value: object) -> list[float]:
    remedy = 'write it like z_at = ["50 mm", "20 mm"], from the left front corner of the board'
    if not isinstance(value, list) or len(value) != 2:
        raise QuantityError("is no place on the board", remedy)
    known = [read_known(one, "length", "job file") for one in value]
    if known[0] is None or known[1] is None:
        raise QuantityError("is no place on the board", remedy)
    return [known[0].value, known[1].value]
