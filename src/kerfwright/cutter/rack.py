"""The rack: cutters.toml, every cutter in the shop, described once."""

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any, Literal

from kerfwright.basics import Known
from kerfwright.cutter.cutter import Cutter, CutterError, Shape
from kerfwright.cutter.defaults import LIMITS, complete
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
}
_ALLOWED = ("name", "shape", *KEYS, "material", "note")


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
    shape = _choice(problems, table, at, "shape", ("flat", "ball", "v"))
    material = None
    if "material" in table:
        material = _choice(problems, table, at, "material", ("carbide", "hss"))
    given: dict[str, Known] = {}
    whole = name is not None and shape is not None
    for key, field in KEYS.items():
        if key not in table:
            continue
        value = problems.reading((*at, key), partial(_value, table[key], field, ref))
        whole = whole and value is not None
        if isinstance(value, Known):
            given[field] = value
    for key, needed in (("diameter", True), ("angle", shape == "v")):
        if needed and KEYS[key] not in given:
            whole = False
            if key not in table or table[key] == "don't know":
                problems.add((*at, key), f"a cutter must have its {key}", "measure it and write it")
    for key in ("angle", "tip"):
        if shape in ("flat", "ball") and key in table:
            whole = False
            problems.add((*at, key), f"a {shape} cutter has no {key}", "leave it out")
    if not whole or name is None or shape is None:
        return None
    return _complete(problems, at, name, shape, given, material)


def _complete(
    problems: Problems,
    at: tuple[str, int],
    name: str,
    shape: str,
    given: Mapping[str, Known],
    material: str | None,
) -> Cutter | None:
    kinds: dict[str, Shape] = {"flat": "flat", "ball": "ball", "v": "v"}
    materials: dict[str, Literal["carbide", "hss"]] = {"carbide": "carbide", "hss": "hss"}
    try:
        return complete(
            name=name,
            shape=kinds[shape],
            given=given,
            material=materials[material] if material else None,
        )
    except CutterError as error:
        problems.add(at, str(error), "measure again what does not fit together")
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
