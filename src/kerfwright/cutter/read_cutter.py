"""A cutter in a line of words: ``ball 3 mm, 2 flutes``; and in which slot: ``1: ball 3 mm``."""

import re
from difflib import get_close_matches
from typing import Literal, cast

from kerfwright.basics import InputError, Known, Place
from kerfwright.basics.units import UNITS
from kerfwright.cutter.cutter import Cutter, CutterError, Shape
from kerfwright.cutter.defaults import LIMITS, complete
from kerfwright.formats import QuantityError, read_known

MOST_SLOTS = 999

_EXAMPLE = 'write it like "flat 6 mm, 2 flutes, flute length 22 mm" or "v 60 deg 12 mm"'
_LONGEST = 300
_SHAPES: dict[str, Shape] = {"flat": "flat", "ball": "ball", "v": "v", "vee": "v"}
_SHAPE = re.compile(r"\b(flat|ball|vee|v)\b(?:[ -](?:end|nose|groove))?", re.I)
_ANGLE = re.compile(r"(?<![\d.])(\d{1,3}(?:\.\d{1,6})?)\s*(?:degrees|degree|deg|°)", re.I)
_FLUTES = re.compile(r"\b(\d{1,4})[ -]*flutes?\b|\bflutes\s+(\d{1,4})\b", re.I)
_OPTION = re.compile(r"([a-z]+(?:[ -][a-z]+)?)\s+([^a-z].*|don.?t know)", re.I)
_OPTIONS = {
    "flute length": "flute_length_mm",
    "shank": "shank_diameter_mm",
    "stick out": "stick_out_mm",
    "angle": "included_angle_rad",
    "tip": "tip_diameter_mm",
    "helix": "helix_rad",
    "rake": "rake_rad",
    "runout": "runout_mm",
}
_MATERIALS = ("carbide", "hss")


def read_cutter(text: str, file: str = "--cutter") -> Cutter:
    """Read a cutter.

    Parameters
    ----------
    text : str
        Shape and diameter, then behind commas, in any order: ``2 flutes``, ``flute length``,
        ``stick-out``, ``shank``, ``helix``, ``rake``, ``tip``, ``runout``, ``hss``.
    file : str
        What an error names as its place.

    Returns
    -------
    Cutter
        What was left out is filled in, and listed in ``assumed``.

    Raises
    ------
    InputError
        If it cannot be read, or there can be no such cutter.
    """
    place = Place(file=file, text=text[:200])
    try:
        if len(text) > _LONGEST:
            raise QuantityError("the cutter's description is too long", _EXAMPLE)
        shape, given, material = _read(text)
        name = re.sub(r"\s+", " ", text.split(",")[0]).strip()
        return complete(name=name, shape=shape, given=given, material=material)
    except QuantityError as error:
        raise InputError(place, error.problem, error.remedy) from error
    except CutterError as error:
        raise InputError(place, str(error), _EXAMPLE) from error


def read_slot(text: str, file: str = "--cutter") -> tuple[int, Cutter]:
    """Read a slot and the cutter in it: ``1: ball 3 mm, 2 flutes``.

    Raises
    ------
    InputError
        If the slot or the cutter cannot be read.
    """
    match = re.fullmatch(r"\s*(\d{1,4})\s*[:=]\s*(.*)", text, re.S) if len(text) <= 400 else None
    if match is None or not 1 <= int(match[1]) <= MOST_SLOTS:
        raise InputError(
            Place(file=file, text=text[:200]),
            f'"{text[:60]}" does not begin with the number of a slot',
            'write it like "1: ball 3 mm, 2 flutes"; the number is the T word of the program',
        )
    return int(match[1]), read_cutter(match[2], file)


def in_limits(field: str, known: Known | None) -> Known | None:
    """The same value, once it is known that a cutter can have it.

    Raises
    ------
    QuantityError
        If no cutter has such a value.
    """
    if known is None:
        return None
    dimension, least, most = LIMITS[field]
    ends = (known.low, known.value, known.high)
    if not all(least <= end <= most for end in ends if end is not None):
        article = "an" if dimension[0] in "aeiou" else "a"
        raise QuantityError(
            "no cutter is like that",
            f"write {article} {dimension} between {_show(least, dimension)} and"
            f" {_show(most, dimension)}",
        )
    if field == "flutes" and known.value != round(known.value):
        raise QuantityError("a cutter has a whole number of flutes", "write it like 2")
    return known


def _read(text: str) -> tuple[Shape, dict[str, Known], Literal["carbide", "hss"] | None]:
    first, *rest = (part.strip() for part in text.split(","))
    shape, given = _first(first)
    material = None
    for part in rest:
        lowered = part.lower()
        flutes = _FLUTES.fullmatch(part)
        option = _OPTION.fullmatch(part)
        name = option[1].lower().replace("-", " ") if option else ""
        if not part:
            continue
        if lowered in _MATERIALS:
            material = cast(Literal["carbide", "hss"], lowered)
        elif flutes is not None:
            _put(given, "flutes", flutes[1] or flutes[2])
        elif option is not None and name in _OPTIONS:
            _put(given, _OPTIONS[name], option[2])
        else:
            raise _not_understood(part)
    if shape == "v" and "included_angle_rad" not in given:
        raise QuantityError("a V needs its angle", 'write it like "v 60 deg 12 mm"')
    for field, word in (("included_angle_rad", "an angle"), ("tip_diameter_mm", "a tip")):
        if shape != "v" and field in given:
            raise QuantityError(f"only a V has {word}, not a {shape} cutter", _EXAMPLE)
    return shape, given, material


def _first(text: str) -> tuple[Shape, dict[str, Known]]:
    """Shape, diameter, and whatever else stands before the first comma."""
    given: dict[str, Known] = {}
    found = _SHAPE.search(text)
    if found is None:
        raise QuantityError(f'"{text[:60]}" has no shape: flat, ball or v', _EXAMPLE)
    shape = _SHAPES[found[1].lower()]
    rest = text[: found.start()] + " " + text[found.end() :]
    for pattern, field, unit in ((_FLUTES, "flutes", ""), (_ANGLE, "included_angle_rad", " deg")):
        match = pattern.search(rest)
        if match is not None:
            _put(given, field, next(group for group in match.groups() if group) + unit)
            rest = rest[: match.start()] + " " + rest[match.end() :]
    if not rest.strip():
        raise QuantityError("the cutter has no diameter", _EXAMPLE)
    _put(given, "diameter_mm", rest.strip())
    if "diameter_mm" not in given:
        raise QuantityError("the diameter must be known", "measure it, or read it off the shank")
    return shape, given


def _put(given: dict[str, Known], field: str, text: str) -> None:
    if field in given:
        raise QuantityError(f'"{text[:60]}" says the same thing twice', "say it once")
    known = in_limits(field, read_known(text, LIMITS[field][0], "as written"))
    if known is not None:
        given[field] = known


def _not_understood(part: str) -> QuantityError:
    word = re.split(r"\d", part.lower())[0].strip()
    near = get_close_matches(word, (*_OPTIONS, *_MATERIALS, "flutes"), n=1, cutoff=0.6)
    remedy = f'did you mean "{near[0]}"?' if near else _EXAMPLE
    return QuantityError(f'"{part[:60]}" is not understood', remedy)


def _show(value: float, dimension: str) -> str:
    if dimension == "angle":
        return f"{value / UNITS['deg'][1]:g} deg"
    return f"{value:g} mm" if dimension == "length" else f"{value:g}"
