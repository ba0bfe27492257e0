"""A board in a line of words, as on the command line: ``310 x 310 x 30 mm hard maple``."""

import re
from dataclasses import dataclass
from math import pi

from kerfwright.basics import InputError, Known, Place
from kerfwright.formats import QuantityError, read_quantity, read_size
from kerfwright.stock.board import Board, BoardError, Wood
from kerfwright.stock.wood import (
    DEFAULT_MOISTURE_PERCENT,
    DEFAULT_MOISTURE_RANGE_PERCENT,
    WoodError,
    find_wood,
)

#: Spread of a thickness that was stated and not said to be measured. Common practice, no source.
THICKNESS_U_MM = 0.1
_EXAMPLE = 'write it like "310 x 310 x 30 mm hard maple, grain along Y, 8 % moisture"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A board, and what was taken for granted about it, in words."""

    board: Board
    assumed: tuple[str, ...]


def read_stock(text: str, file: str = "--stock") -> Stock:
    """Read a board.

    Parameters
    ----------
    text : str
        Size along X, along Y and thick, with its unit; the wood; optionally, behind commas,
        ``grain along Y`` (or ``grain 30 deg``) and ``8 % moisture``.
    file : str
        What an error names as its place.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    place = Place(file=file, text=text[:200])
    try:
        sizes, rest = read_size(text)
        if len(sizes) != 3:
            raise QuantityError("the board has no thickness", _EXAMPLE)
        wood_name, grain_rad, moisture = _words(rest)
        wood = find_wood(wood_name, moisture)
        board = board_of(
            sizes,
            wood,
            grain_rad or 0.0,
            moisture,
            Known(value=sizes[2], kind="estimated", ref=_THICKNESS_REF, u=THICKNESS_U_MM),
        )
    except (QuantityError, WoodError) as error:
        raise InputError(place, error.problem, error.remedy) from error
    except BoardError as error:
        raise InputError(place, str(error), _EXAMPLE) from error
    assumed = list(wood_assumptions(wood, moisture))
    if grain_rad is None and wood.kind in ("solid", "plywood"):
        assumed.append("grain along X (face grain, for plywood): say grain along Y if it is not")
    assumed.append(f"thickness within {2 * THICKNESS_U_MM:g} mm of what is written: not measured")
    return Stock(board=board, assumed=tuple(assumed))


def board_of(
    sizes_mm: tuple[float, ...],
    wood: Wood,
    grain_rad: float,
    moisture_percent: float | None,
    thickness: Known,
) -> Board:
    """A board with the spread of its thickness and moisture beside it."""
    known = {"thickness_mm": thickness}
    if moisture_percent is None:
        low, high = DEFAULT_MOISTURE_RANGE_PERCENT
        known["moisture_percent"] = Known(
            value=DEFAULT_MOISTURE_PERCENT,
            kind="default",
            ref="wood kept indoors: common practice, no source",
            low=low,
            high=high,
        )
        moisture_percent = DEFAULT_MOISTURE_PERCENT
    return Board(
        length_mm=sizes_mm[0],
        width_mm=sizes_mm[1],
        thickness_mm=sizes_mm[2],
        wood=wood,
        grain_rad=grain_rad,
        moisture_percent=moisture_percent,
        known=known,
    )


def wood_assumptions(wood: Wood, moisture_percent: float | None) -> tuple[str, ...]:
    """What the name of a wood leaves open, in words."""
    words = []
    density = wood.known.get("density_kg_per_m3")
    low, high = density.interval() if density is not None else (0.0, 0.0)
    if density is not None and density.kind != "measured" and low < high:
        words.append(
            f"density of {wood.name}: {density.value:.0f} kg/m³, nineteen times in twenty between "
            f"{low:.0f} and {high:.0f}; {density.ref}"
        )
    if moisture_percent is None and wood.kind == "solid":
        low, high = DEFAULT_MOISTURE_RANGE_PERCENT
        words.append(
            f"moisture {DEFAULT_MOISTURE_PERCENT:g} % ({low:g} to {high:g}): wood kept indoors, "
            "common practice, no source"
        )
    return tuple(words)


def read_grain(text: str) -> float | None:
    """Direction of the fibres from X towards Y, or None if the text says no direction. [rad]"""
    words = re.sub(r"\s+", " ", text.strip().lower())
    words = re.sub(r"^(the )?(face )?grain\s*", "", words)
    if words in ("x", "along x"):
        return 0.0
    if words in ("y", "along y"):
        return pi / 2.0
    try:
        quantity = read_quantity(words, "angle")
    except QuantityError:
        return None
    return None if quantity is None else quantity.value % pi


_THICKNESS_REF = "as written; its spread is common practice, no source"


def _words(rest: str) -> tuple[str, float | None, float | None]:
    """Wood, grain and moisture from the words behind the size."""
    wood, grain, moisture = "", None, None
    for part in (part.strip() for part in rest.split(",")):
        match = re.fullmatch(r"(?:moisture\s*)?([0-9.]{1,8})\s*%(?:\s*moisture)?", part, re.I)
        if match is not None:
            quantity = read_quantity(f"{match[1]} %", "share")
            moisture = None if quantity is None else 100.0 * quantity.value
        elif re.match(r"(the )?(face )?grain\b", part, re.I):
            grain = read_grain(part)
            if grain is None:
                raise QuantityError(f'"{part[:60]}" is no direction', 'write "grain along Y"')
        elif part and not wood:
            wood = part
        elif part:
            raise QuantityError(f'"{part[:60]}" is not understood', _EXAMPLE)
    return wood, grain, moisture
