"""machine.toml as it is written: values with their origin, choices, and every error at once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt
from typing import Any

from kerfwright.basics import Kind, Known
from kerfwright.basics.units import INSIDE
from kerfwright.formats import Problems, QuantityError, TomlFile, require_kind
from kerfwright.formats.known_value import read_known, read_origin
from kerfwright.formats.quantity import read_quantity
from kerfwright.machine.entries import SECTIONS, Choice, Entry, Number, Numbers, Text

VERSION = 1
WRITTEN = "as written in machine.toml"
_UNKNOWN = ("don't know", "dont know", "don’t know", "unknown", "?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What stands in the file, by dotted path; what is absent or not known is not in it."""

    values: dict[str, Known] = field(default_factory=dict)
    choices: dict[str, str] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    lists: dict[str, tuple[float, ...]] = field(default_factory=dict)
    origins: dict[str, Kind] = field(default_factory=dict)  #: of choices that say it
    problems: Problems

    def describes(self, section: str) -> bool:
        """Whether anything in a section was given."""
        given = (*self.values, *self.choices, *self.texts, *self.lists)
        return any(path.startswith(f"{section}.") for path in given)

    def error(self, path: str, problem: str, remedy: str) -> None:
        """Note an error at a dotted path."""
        self.problems.add(path.split("."), problem, remedy)


def read_written(toml: TomlFile) -> Written:
    """Read every section; errors are gathered in ``problems``, to be told by the caller.

    Raises
    ------
    InputError
        If the file does not say that it is a machine file, or is of a newer version.
    """
    require_kind(toml, "machine", VERSION)
    written = Written(problems=Problems(toml))
    _section(written, toml.data, "")
    return written


def _section(written: Written, table: Mapping[str, Any], section: str) -> None:
    path = section.split(".") if section else []
    entries = SECTIONS.get(section, {})
    inner = _inner_sections(section)
    anywhere = ["note"] if section else ["kerfwright", "note"]
    written.problems.unknown_keys(table, path, [*entries, *inner, *anywhere])
    for key, value in table.items():
        if key in entries:
            _entry(written, [*path, key], entries[key], value)
        elif key in inner:
            below = written.problems.section(table, key, path)
            _section(written, below, ".".join([*path, key]))


def _inner_sections(section: str) -> list[str]:
    head = f"{section}." if section else ""
    names = (name[len(head) :].split(".")[0] for name in SECTIONS if name.startswith(head) and name)
    return list(dict.fromkeys(name for name in names if name))


def _entry(written: Written, path: Sequence[str], entry: Entry, value: object) -> None:
    dotted = ".".join(path)
    problems = written.problems
    if isinstance(entry, Number):
        known = problems.reading(path, lambda: _number(value, entry))
        if known is not None:
            written.values[dotted] = known
    elif isinstance(entry, Choice):
        _choice(written, path, entry, value)
    elif isinstance(entry, Text):
        if isinstance(value, str) and len(value) > entry.longest:
            problems.add(path, f"is longer than {entry.longest} characters", "shorten it")
        elif isinstance(value, str):
            if value.strip().lower() not in _UNKNOWN:
                written.texts[dotted] = value
        else:
            problems.add(path, f"{_shown(value)} is not a text", "put it in quotes")
    else:
        speeds = problems.reading(path, lambda: _list(value, entry))
        if speeds:
            written.lists[dotted] = speeds


def _choice(written: Written, path: Sequence[str], entry: Choice, value: object) -> None:
    """A word, or a table that also says where it is from."""
    dotted = ".".join(path)
    if isinstance(value, dict):
        table: dict[str, Any] = value
        origin = written.problems.reading(path, lambda: read_origin(table))
        if origin is None:
            return
        written.origins[dotted] = origin
        value = table["is"]
    if isinstance(value, str) and value.strip().lower() in _UNKNOWN:
        return
    if isinstance(value, str) and value in entry.options:
        written.choices[dotted] = value
        return
    options = ", ".join(f'"{option}"' for option in entry.options)
    written.problems.add(
        path, f"{_shown(value)} is not one of the choices", f"write one of {options}"
    )


def _number(value: object, entry: Number) -> Known | None:
    known = read_known(value, entry.dimension, WRITTEN)
    if known is None:
        return None
    if entry.dimension == "current":
        known = _as_current(known, value, entry)
    ends = [known.value if end is None else end for end in (known.low, known.value, known.high)]
    low = ends[0]
    if low < entry.least or (low == entry.least and not entry.nought):
        rule = "cannot be below" if entry.nought else "must be above"
        raise QuantityError(
            f"the {entry.words} {rule} {_limit(entry, entry.least)}",
            'measure it again, or write "don\'t know"',
        )
    if ends[2] > entry.most:
        raise QuantityError(
            f"the {entry.words} cannot be above {_limit(entry, entry.most)}",
            "check the number and its unit",
        )
    if entry.count and known.low is None and known.value != round(known.value):
        raise QuantityError(f"the {entry.words} must be a whole number", "count again")
    return known


def _as_current(known: Known, value: object, entry: Number) -> Known:
    """Peak where the wave matters; the figure itself where the current stands still."""
    text = value["is"] if isinstance(value, Mapping) else value
    quantity = read_quantity(text, "current") if isinstance(text, str) else None
    qualifier = quantity.qualifier if quantity is not None else ""
    if entry.peak_or_rms:
        if not qualifier:
            raise QuantityError(
                "does not say whether the current is peak or RMS; they are 41 % apart",
                'write "2.8 A peak" or "2.0 A RMS", as the driver\'s table says',
            )
        return known
    return _scaled(known, 1.0 / sqrt(2.0)) if qualifier == "rms" else known


def _scaled(known: Known, factor: float) -> Known:
    def times(number: float | None) -> float | None:
        return None if number is None else number * factor

    return Known(
        value=known.value * factor,
        kind=known.kind,
        ref=known.ref,
        u=times(known.u),
        low=times(known.low),
        high=times(known.high),
    )


def _list(value: object, entry: Numbers) -> tuple[float, ...] | None:
    if isinstance(value, str) and value.strip().lower() in _UNKNOWN:
        return None
    wanted = 'write it like ["10000 rev/min", "15000 rev/min"]'
    if not isinstance(value, list) or not 1 <= len(value) <= 20:
        raise QuantityError(f"the {entry.words} must be a list", wanted)
    numbers = []
    for item in value:
        known = read_known(item, entry.dimension, WRITTEN)
        if known is None or not known.value > 0.0:
            raise QuantityError(f"the {entry.words} must all be above 0", wanted)
        numbers.append(known.value)
    if sorted(set(numbers)) != numbers:
        raise QuantityError(f"the {entry.words} must rise", wanted)
    return tuple(numbers)


def _limit(entry: Number, limit: float) -> str:
    return f"{limit:g} {INSIDE.get(entry.dimension, '')}".strip()


def _shown(value: object) -> str:
    return f'"{value[:60]}"' if isinstance(value, str) else str(value)[:60]
