"""A start state as a file: a JSON object with single items in place of the usual ones.

Keys: ``start`` (three numbers, mm), ``tools`` (slot to ``diameter`` and ``length``, mm),
``tool_in_spindle``, ``params`` (number to value), ``block_delete``, ``optional_stop`` and
``probe_trip`` (three numbers, or null for a probe that never makes contact).
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from math import isfinite
from pathlib import Path
from typing import Any

from kerfwright.basics import InputError, InputErrors, Place
from kerfwright.kernels.program_arcs import FARTHEST
from kerfwright.program.expressions import LAST_PARAMETER
from kerfwright.program.start import StartState, Vector

#: Slots 1 to 3 hold cutters, slot 1 is in the spindle, the parts' zero is the machine's.
USUAL_START = StartState(
    slots=12,
    length_mm={1: 50.0, 2: 42.5, 3: 61.0},
    diameter_mm={1: 6.0, 2: 3.175, 3: 12.0},
    slot_in_spindle=1,
    zero_at_mm=(0.0, 0.0, 0.0),
)
_MOST_BYTES = 1_000_000


def read_start(path: Path) -> StartState:
    """Read a start state; what the file leaves out is as in ``USUAL_START``.

    Raises
    ------
    InputError, InputErrors
        If the file is no such object; all errors are gathered.
    """
    data = _load(path)
    errors: list[InputError] = []
    start = USUAL_START
    for key, value in data.items():
        try:
            if key not in _ITEMS:
                raise ValueError(f"nothing is called that; use {', '.join(_ITEMS)}")
            start = _ITEMS[key](start, value)
        except ValueError as error:
            errors.append(InputError(Place(file=str(path)), f'"{key}": {error}', "mend that value"))
    if errors:
        raise InputErrors(errors)
    return start


def _load(path: Path) -> Mapping[str, Any]:
    place = Place(file=str(path))
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise InputError(place, "the file is far too long for a start state", "shorten it")
        data = json.loads(path.read_bytes())
    except OSError as error:
        raise InputError(
            place, f"the file cannot be read: {error.strerror}", "check its name and folder"
        ) from error
    except json.JSONDecodeError as error:
        place = Place(file=str(path), line=error.lineno, column=error.colno)
        raise InputError(place, f"this is not JSON: {error.msg}", "mend it there") from error
    except (ValueError, RecursionError) as error:
        raise InputError(place, "this is not JSON", "give a JSON object") from error
    if isinstance(data, dict) and isinstance(data.get("setup"), dict):
        data = data["setup"]
    if not isinstance(data, dict):
        raise InputError(
            place, "the file holds no JSON object", 'write it like {"start": [0, 0, 5]}'
        )
    return data


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError("this is not a number")
    if abs(value) > FARTHEST:
        raise ValueError(f"{value:g} is out of all reach")
    return float(value)


def _whole(value: object, least: int, most: int) -> int:
    text = value if isinstance(value, str) and len(value) < 10 else str(value)
    if isinstance(value, bool) or not text.isdecimal() or not least <= int(text) <= most:
        raise ValueError(f"{text[:20]} is not a whole number from {least} to {most}")
    return int(text)


def _three(value: object) -> Vector:
    if not isinstance(value, list) or len(value) != 3:
        raise ValueError("this is not a list of three numbers")
    x, y, z = (_number(item) for item in value)
    return x, y, z


def _yes(value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError("this is neither true nor false")
    return value


def _table(value: object) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise ValueError("this is not an object")
    return value


def _tools(start: StartState, value: object) -> StartState:
    length, diameter = dict(start.length_mm), dict(start.diameter_mm)
    for key, tool in _table(value).items():
        slot = _whole(key, 1, start.slots)
        for name, number in _table(tool).items():
            if name not in ("length", "diameter"):
                raise ValueError(f'"{name}" is neither length nor diameter')
            (length if name == "length" else diameter)[slot] = _number(number)
    return replace(start, length_mm=length, diameter_mm=diameter)


def _parameters(start: StartState, value: object) -> StartState:
    parameters = {
        _whole(key, 1, LAST_PARAMETER): _number(item) for key, item in _table(value).items()
    }
    return replace(start, parameters=parameters)


_ITEMS: Mapping[str, Callable[[StartState, object], StartState]] = {
    "start": lambda start, value: replace(start, start_mm=_three(value)),
    "tools": _tools,
    "tool_in_spindle": lambda start, value: replace(
        start, slot_in_spindle=_whole(value, 0, start.slots)
    ),
    "params": _parameters,
    "block_delete": lambda start, value: replace(start, block_delete=_yes(value)),
    "optional_stop": lambda start, value: replace(start, optional_stop=_yes(value)),
    "probe_trip": lambda start, value: replace(
        start, probe_contact_mm=None if value is None else _three(value)
    ),
}
