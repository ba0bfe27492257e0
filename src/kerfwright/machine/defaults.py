"""What is taken for values that nobody gave: ranges with their source, and the words for them."""

from functools import cache

from kerfwright.basics import Kind, Known
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.basics.units import INSIDE
from kerfwright.formats.quantity import read_quantity
from kerfwright.machine.entries import AXES, number_at, words_at
from kerfwright.tables import read_table

PRACTICE = "common practice, no source"


def table_default(path: str, kind: str = "") -> Known:
    """The range that is taken for a path nobody knows."""
    return _table()[_general(path), kind]


def assumed_words(path: str, known: Known) -> str:
    """What was taken for a value that nobody gave, in the words of the shop."""
    taken = amount_words(path, known)
    return f"{words_at(path)}: not known, taken as {taken} ({known.ref})"


def amount_words(path: str, known: Known) -> str:
    """A value of machine.toml with its spread, in the unit in which the shop speaks of it."""
    entry = number_at(path)
    scale, unit = _shop_unit(entry.dimension)
    unit += " peak" if entry.peak_or_rms else ""
    if known.low is not None and known.high is not None:
        digits = f"{_digits(known.low * scale)} to {_digits(known.high * scale)}"
    elif known.u is not None:
        digits = f"{_digits(known.value * scale)} ± {_digits(TWO_SIDED_95 * known.u * scale)}"
    else:
        digits = _digits(known.value * scale)
    return f"{digits} {unit}".strip()


def exact(value: float, ref: str) -> Known:
    """A value of a table."""
    return Known(value=value, kind="datasheet", ref=ref)


def between(low: float, high: float, ref: str, kind: Kind = "default") -> Known:
    """All values from low to high alike; one exact value where both are the same."""
    if low == high:
        return Known(value=low, kind=kind, ref=ref)
    return Known(value=0.5 * (low + high), kind=kind, ref=ref, low=low, high=high)


def _general(path: str) -> str:
    return ".".join("*" if part in AXES else part for part in path.split("."))


@cache
def _table() -> dict[tuple[str, str], Known]:
    table = {}
    for row in read_table("machine_defaults"):
        dimension = _dimension(row["key"])
        text = f"{row['low']} to {row['high']} {row['unit']}"
        quantity = read_quantity(text.strip(), dimension)
        if quantity is None or quantity.low is None or quantity.high is None:
            raise ValueError(f"machine_defaults: {row['key']} has no range")
        table[row["key"], row["for"]] = between(quantity.low, quantity.high, row["status"])
    return table


def _dimension(general: str) -> str:
    return number_at(general.replace("*", "x")).dimension


def _digits(number: float) -> str:
    return f"{number:,.0f}".replace(",", " ") if abs(number) >= 1e4 else f"{number:.4g}"


def _shop_unit(dimension: str) -> tuple[float, str]:
    """Factor and unit in which the shop speaks of a dimension."""
    special = {
        "number": (1.0, ""),
        "turning": (60.0, "rev/min"),
        "inductance": (1000.0, "mH"),
        "torque": (0.001, "N m"),
        "speed": (60.0, "mm/min"),
        "current": (1.0, "A"),
        "share": (100.0, "%"),
        "slope": (1000.0, "mm/m"),
    }
    return special.get(dimension, (1.0, INSIDE.get(dimension, "")))
