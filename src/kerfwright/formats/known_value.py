"""Values with their origin, as our TOML files write them.

A value is a text such as ``"12 ± 0.1 mm"``, or a table that also says how it was come by:
``{ is = "12.02 ± 0.02 mm", from = "measured", ref = "caliper, three readings" }``. A pure number
may stand without quotes.
"""

from collections.abc import Mapping
from typing import Any, cast, get_args

from kerfwright.basics.known import Kind, Known
from kerfwright.formats.quantity import QuantityError, read_quantity

#: What a person may write after ``from``; "default" is for what was not written at all.
ORIGINS: tuple[str, ...] = tuple(kind for kind in get_args(Kind) if kind != "default")
_KEYS = ("is", "from", "ref")


def read_known(value: object, dimension: str, ref_default: str) -> Known | None:
    """Read one value of a file.

    Parameters
    ----------
    value : object
        The plain TOML value: a text, a number, or a table with ``is``, ``from`` and ``ref``.
    dimension : str
        A key of ``basics.units.INSIDE``, or ``"number"``.
    ref_default : str
        What the value refers to when no ``ref`` is written, such as ``"cutters.toml"``.

    Returns
    -------
    Known or None
        In inside units; kind ``estimated`` when ``from`` is not written. None when the text says
        that it is not known.

    Raises
    ------
    QuantityError
        If it cannot be read; the caller adds the place.
    """
    if isinstance(value, Mapping):
        origin = read_origin(value)
        return _known(value["is"], dimension, origin, value.get("ref", ref_default))
    return _known(value, dimension, "estimated", ref_default)


def read_origin(table: Mapping[str, Any]) -> Kind:
    """Where the value of a table with ``is``, ``from`` and ``ref`` comes from.

    Raises
    ------
    QuantityError
        If the table has other keys, no ``is``, or an origin that there is not.
    """
    for key in table:
        if key not in _KEYS:
            raise QuantityError(
                f'a value has no "{str(key)[:40]}"',
                'write { is = "...", from = "...", ref = "..." }',
            )
    if "is" not in table:
        raise QuantityError(
            'the value itself is missing: there is no "is"',
            'write { is = "12 mm", from = "measured" }',
        )
    origin, ref = table.get("from", "estimated"), table.get("ref", "")
    if origin not in ORIGINS:
        raise QuantityError(
            f'"{str(origin)[:40]}" does not say where a value comes from',
            f"write from = one of {', '.join(ORIGINS)}",
        )
    if not isinstance(ref, str):
        raise QuantityError("ref is not a text", 'write it like ref = "caliper, three readings"')
    return cast(Kind, origin)


def _known(value: object, dimension: str, kind: Kind, ref: str) -> Known | None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        value = repr(value)
        if dimension != "number":
            raise QuantityError(
                f"{value[:40]} has no unit", f"write it in quotes with its unit: a {dimension}"
            )
    if not isinstance(value, str):
        raise QuantityError("is neither a text nor a number", 'write it like "12 mm"')
    quantity = read_quantity(value, dimension)
    if quantity is None:
        return None
    return Known(
        value=quantity.value,
        kind=kind,
        ref=ref,
        u=quantity.u,
        low=quantity.low,
        high=quantity.high,
    )
