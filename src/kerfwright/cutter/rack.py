"""The rack: cutters.toml, every cutter in the shop, described once."""

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any, Literal, cast, get_args

from kerfwright.basics import Known
from kerfwright.cutter.cutter import MOST_CORNERS, Cutter, CutterError, Shape
from kerfwright.cutter.defaults import LIMITS, MAY_PLUNGE, ONLY_SOME, OWN, complete
from kerfwright.cutter.outlines import Corners, from_axis, read_corner
from kerfwright.cutter.read_cutter import in_limits
from kerfwright.formats import Problems, TomlFile, read_known, read_toml, require_kind

VERSION = 1
MOST_CUTTERS = 200

#: Key in the file: field of ``Cutter``.
KEYS = {
    "diameter": "diameter_mm",
    "flutes": "flutes",
    "flute_length": "flute_length_mm",
    "shank": "shank_diameter_mm",
    "stick_out": "stick_out_mm",
    "angle": "included_angle_rad",
    "tip": "tip_diameter_mm",
    "helix": "helix_rad",
    "rake": "rake_rad",
    "runout": "runout_mm",
    "corner": "corner_radius_mm",
    "tip_radius": "tip_radius_mm",
    "lean": "lean_rad",
    "neck": "neck_mm",
    "guide": "guide_mm",
    "guide_length": "guide_length_mm",
}
_ALLOWED = ("name", "shape", *KEYS, "outline", "centre_cutting", "material", "note")
_SHAPES: tuple[Shape, ...] = get_args(Shape)


def load_cutters(path: Path) -> dict[str, Cutter]:
    """Read a rack.

    Parameters
    ----------
    path : Path
        A file whose first line is ``kerfwright = "cutters 1"``; docs/cutters-file.md tells the
        keys.

    Returns
    -------
    dict
        Cutters by name, in the order of the file.

    Raises
    ------
    InputError, InputErrors
        If the file cannot be read; all of its errors are gathered.
    """
    toml = read_toml(path)
    require_kind(toml, "cutters", VERSION)
    problems = Problems(toml)
    problems.unknown_keys(toml.data, (), ("kerfwright", "cutter"))
    cutters: dict[str, Cutter] = {}
    for index, table in enumerate(_tables(toml, problems)):
        at = ("cutter", index)
        cutter = _read_one(problems, table, at, path.name)
        if cutter is None:
            continue
        if cutter.name in cutters:
            problems.add((*at, "name"), f'there are two "{cutter.name}"', "give each its own name")
        cutters[cutter.name] = cutter
    problems.tell()
    return cutters


def _tables(toml: TomlFile, problems: Problems) -> list[dict[str, Any]]:
    tables = toml.data.get("cutter", [])
    wanted = "write a line [[cutter]] above each cutter"
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        problems.add(("cutter",), "cutter is no list of sections", wanted)
        return []
    if not tables:
        problems.add((), "there is no cutter in the rack", wanted)
    if len(tables) > MOST_CUTTERS:
        problems.add(("cutter",), f"there are more than {MOST_CUTTERS} cutters", "split the rack")
    return tables[:MOST_CUTTERS]


def _read_one(
    problems: Problems, table: Mapping[str, Any], at: tuple[str, int], ref: str
) -> Cutter | None:
    problems.unknown_keys(table, at, _ALLOWED)
    name = _text(problems, table, at, "name", "ball 3 mm")
    said = _choice(problems, table, at, "shape", _SHAPES)
    material = None
    if "material" in table:
        material = _choice(problems, table, at, "material", ("carbide", "hss"))
    given: dict[str, Known] = {}
    whole = name is not None and said is not None
    for key, field in KEYS.items():
        if key not in table:
            continue
        value = problems.reading((*at, key), partial(_value, table[key], field, ref))
        whole = whole and value is not None
        if isinstance(value, Known):
            given[field] = value
    if said is None:
        _sized(problems, table, at, "diameter", given)
        return None
    shape = cast(Shape, said)
    corners = _outline(problems, table, at, shape)
    centre = _centre(problems, table, at, shape)
    whole = _fits(problems, table, at, shape, given) and whole and corners is not None
    if not whole or name is None or corners is None:
        return None
    try:
        return complete(
            name=name,
            shape=shape,
            given=given,
            material=cast(Literal["carbide", "hss"], material) if material else None,
            corners_mm=corners,
            centre_cutting=centre,
        )
    except CutterError as error:
        problems.add(at, str(error), "measure again what does not fit together")
        return None


def _fits(
    problems: Problems,
    table: Mapping[str, Any],
    at: tuple[str, int],
    shape: Shape,
    given: Mapping[str, Known],
) -> bool:
    """Whether there is what the shape must have, and nothing that it has not."""
    fits = True
    if shape not in ("profile", "round-over"):
        fits = _sized(problems, table, at, "diameter", given)
    if shape == "v":
        fits = _sized(problems, table, at, "angle", given) and fits
    for key, field in KEYS.items():
        others = field in ONLY_SOME and field not in OWN[shape]
        if key in table and (others or (key == "diameter" and shape == "round-over")):
            fits = False
            problems.add((*at, key), f"a {shape} cutter has no {key}", "leave it out")
    return fits


def _sized(
    problems: Problems,
    table: Mapping[str, Any],
    at: tuple[str, int],
    key: str,
    given: Mapping[str, Known],
) -> bool:
    """Whether a size that must be there is; its error, if it cannot be read, is told already."""
    if KEYS[key] in given:
        return True
    if key not in table or table[key] == "don't know":
        problems.add((*at, key), f"a cutter must have its {key}", "measure it and write it")
    return False


def _outline(
    problems: Problems, table: Mapping[str, Any], at: tuple[str, int], shape: Shape
) -> Corners | None:
    """The corners of a profile; none for other shapes; None where they cannot be read."""
    value = table.get("outline")
    wanted = 'write outline = ["3 x 0 mm", "3 x 2 mm", "6 x 5 mm"], from the tip upwards'
    if shape != "profile":
        if value is not None:
            problems.add((*at, "outline"), f"a {shape} cutter has no outline", "leave it out")
        return ()
    if not isinstance(value, list) or not value:
        problems.add((*at, "outline"), "a profile needs the corners of its outline", wanted)
        return None
    if len(value) > MOST_CORNERS:
        problems.add((*at, "outline"), f"the outline has more than {MOST_CORNERS} corners", wanted)
        return None
    corners = [
        problems.reading((*at, "outline", k), partial(read_corner, corner))
        for k, corner in enumerate(value)
    ]
    told = [corner for corner in corners if corner is not None]
    return from_axis(told) if len(told) == len(corners) else None


def _centre(
    problems: Problems, table: Mapping[str, Any], at: tuple[str, int], shape: Shape
) -> bool | None:
    value = table.get("centre_cutting")
    if value is None or value == "don't know":
        return None
    if shape not in MAY_PLUNGE:
        problems.add((*at, "centre_cutting"), f"goes without saying for a {shape}", "leave it out")
    elif isinstance(value, bool):
        return value
    else:
        problems.add(
            (*at, "centre_cutting"), "is neither true nor false", "write it without quotes"
        )
    return None


_UNKNOWN = object()


def _value(value: object, field: str, ref: str) -> object:
    """A ``Known``, or ``_UNKNOWN`` for "don't know"."""
    known = in_limits(field, read_known(value, LIMITS[field][0], ref))
    return _UNKNOWN if known is None else known


def _text(
    problems: Problems, table: Mapping[str, Any], at: tuple[str, int], key: str, example: str
) -> str | None:
    value = table.get(key)
    if isinstance(value, str) and 0 < len(value.strip()) <= 80 and value.isprintable():
        return value.strip()
    problem = f"the cutter has no {key}" if key not in table else f"{key} is no short text"
    problems.add((*at, key), problem, f'write it like {key} = "{example}"')
    return None


def _choice(
    problems: Problems,
    table: Mapping[str, Any],
    at: tuple[str, int],
    key: str,
    choices: tuple[str, ...],
) -> str | None:
    value = table.get(key)
    if isinstance(value, str) and value in choices:
        return value
    problem = f"the cutter has no {key}" if key not in table else f"there is no such {key}"
    problems.add((*at, key), problem, f"write one of {', '.join(choices)}")
    return None
