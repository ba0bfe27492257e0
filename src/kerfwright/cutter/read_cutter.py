"""A cutter in a line of words: ``ball 3 mm, 2 flutes``; and in which slot: ``1: ball 3 mm``."""

import re
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Literal, cast

from kerfwright.basics import InputError, Known, Place
from kerfwright.basics.units import UNITS
from kerfwright.cutter.cutter import Cutter, CutterError, Shape
from kerfwright.cutter.defaults import LIMITS, MAY_PLUNGE, ONLY_SOME, OWN, complete
from kerfwright.cutter.outlines import Corners, read_corners
from kerfwright.formats import QuantityError, read_known

MOST_SLOTS = 999

_EXAMPLE = 'write it like "flat 6 mm, 2 flutes, flute length 22 mm" or "v 60 deg 12 mm"'
_LONGEST = 400
_SHAPES: dict[str, Shape] = {
    "flat": "flat",
    "ball": "ball",
    "v": "v",
    "vee": "v",
    "bull": "bull",
    "taper": "taper",
    "tapered": "taper",
    "drill": "drill",
    "profile": "profile",
    "dovetail": "dovetail",
    "t-slot": "t-slot",
    "t slot": "t-slot",
    "round-over": "round-over",
    "round over": "round-over",
}
_SHAPE = re.compile(
    r"\b(t[ -]slot|round[ -]over|dovetail|profile|drill|bull|tapered|taper|flat|ball|vee|v)\b"
    r"(?:[ -](?:end|nose|groove|ball))?",
    re.I,
)
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
    "corner": "corner_radius_mm",
    "tip radius": "tip_radius_mm",
    "lean": "lean_rad",
    "neck": "neck_mm",
    "guide": "guide_mm",
    "guide length": "guide_length_mm",
}
_NAMES = {one: word for word, one in _OPTIONS.items()}
_CENTRE = {"centre cutting": True, "not centre cutting": False}
_MATERIALS = ("carbide", "hss")


def read_cutter(text: str, file: str = "--cutter") -> Cutter:
    """Read a cutter.

    Parameters
    ----------
    text : str
        Shape and diameter, then behind commas, in any order: ``2 flutes``, ``flute length``,
        ``stick-out``, ``shank``, ``helix``, ``rake``, ``runout``, ``hss``, and what only some
        shapes have; docs/cutters-file.md tells which.
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
        said = _read(text)
        return complete(
            name=re.sub(r"\s+", " ", text.split(",")[0]).strip(),
            shape=said.shape,
            given=said.given,
            material=said.material,
            corners_mm=said.corners_mm,
            centre_cutting=said.centre_cutting,
        )
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


@dataclass(slots=True, kw_only=True)
class _Said:
    """What was said of a cutter so far."""

    shape: Shape
    given: dict[str, Known] = field(default_factory=dict)
    material: Literal["carbide", "hss"] | None = None
    corners_mm: Corners = ()
    centre_cutting: bool | None = None


def _read(text: str) -> _Said:
    first, *rest = (part.strip() for part in text.split(","))
    said = _first(first)
    for part in rest:
        lowered = part.lower()
        flutes = _FLUTES.fullmatch(part)
        option = _OPTION.fullmatch(part)
        name = option[1].lower().replace("-", " ") if option else ""
        if not part:
            continue
        if lowered in _MATERIALS:
            said.material = cast(Literal["carbide", "hss"], lowered)
        elif lowered in _CENTRE:
            said.centre_cutting = _CENTRE[lowered]
        elif flutes is not None:
            _put(said.given, "flutes", flutes[1] or flutes[2])
        elif option is not None and name == "outline":
            said.corners_mm = read_corners(option[2])
        elif option is not None and name in _OPTIONS:
            _put(said.given, _OPTIONS[name], option[2])
        else:
            raise _not_understood(part)
    _check(said)
    return said


def _check(said: _Said) -> None:
    """Refuse what the shape must not have, and miss what it must."""
    if said.shape == "v" and "included_angle_rad" not in said.given:
        raise QuantityError("a V needs its angle", 'write it like "v 60 deg 12 mm"')
    for one in said.given:
        if one in ONLY_SOME and one not in OWN[said.shape]:
            owners = ", ".join(shape for shape, own in OWN.items() if one in own)
            raise QuantityError(f"a {said.shape} cutter has no {_NAMES[one]}", f"only for {owners}")
    if said.shape == "profile" and not said.corners_mm:
        raise QuantityError(
            "a profile needs the corners of its outline",
            'write it like "profile, outline 3 x 0; 3 x 2; 6 x 5 mm", from the tip upwards',
        )
    if said.shape != "profile" and said.corners_mm:
        raise QuantityError(f"a {said.shape} cutter has no outline", "only a profile has one")
    if said.centre_cutting is not None and said.shape not in MAY_PLUNGE:
        raise QuantityError(
            f"whether a {said.shape} cuts to its centre goes without saying", "leave it out"
        )


def _first(text: str) -> _Said:
    """Shape, diameter, and whatever else stands before the first comma."""
    found = _SHAPE.search(text)
    if found is None:
        shapes = ", ".join(dict.fromkeys(_SHAPES.values()))
        raise QuantityError(f'"{text[:60]}" has no shape: {shapes}', _EXAMPLE)
    said = _Said(shape=_SHAPES[found[1].lower()])
    given = said.given
    rest = text[: found.start()] + " " + text[found.end() :]
    angle = "lean_rad" if said.shape == "dovetail" else "included_angle_rad"
    for pattern, one, unit in ((_FLUTES, "flutes", ""), (_ANGLE, angle, " deg")):
        match = pattern.search(rest)
        if match is not None:
            _put(given, one, next(group for group in match.groups() if group) + unit)
            rest = rest[: match.start()] + " " + rest[match.end() :]
    if not rest.strip():
        if said.shape in ("profile", "round-over"):
            return said
        raise QuantityError("the cutter has no diameter", _EXAMPLE)
    if said.shape == "round-over":
        raise QuantityError(
            "a round-over is told by its corner and its guide, not by its diameter",
            'write it like "round-over, corner 6 mm, guide 9.5 mm"',
        )
    _put(given, "diameter_mm", rest.strip())
    if "diameter_mm" not in given:
        raise QuantityError("the diameter must be known", "measure it, or read it off the shank")
    return said


def _put(given: dict[str, Known], one: str, text: str) -> None:
    if one in given:
        raise QuantityError(f'"{text[:60]}" says the same thing twice', "say it once")
    known = in_limits(one, read_known(text, LIMITS[one][0], "as written"))
    if known is not None:
        given[one] = known


def _not_understood(part: str) -> QuantityError:
    word = re.split(r"\d", part.lower())[0].strip()
    near = get_close_matches(word, (*_OPTIONS, *_MATERIALS, *_CENTRE, "flutes"), n=1, cutoff=0.6)
    remedy = f'did you mean "{near[0]}"?' if near else _EXAMPLE
    return QuantityError(f'"{part[:60]}" is not understood', remedy)


def _show(value: float, dimension: str) -> str:
    if dimension == "angle":
        return f"{value / UNITS['deg'][1]:g} deg"
    return f"{value:g} mm" if dimension == "length" else f"{value:g}"
