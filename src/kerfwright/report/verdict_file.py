"""``verdict.json``: the verdict for other programs. docs/verdict.md explains each name."""

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np

from kerfwright.basics import KerfwrightError
from kerfwright.formats import write_text
from kerfwright.prove import Totals, Verdict

VERSION = "verdict 1"
SCHEMA_FILE = Path(__file__).with_name("verdict.schema.json")


class VerdictFileError(KerfwrightError):
    """A verdict that cannot be put into a file: it holds something that is no number."""


def verdict_as_plain(verdict: Verdict) -> dict[str, Any]:
    """The verdict as dictionaries, lists, text and numbers, in the order of the file.

    Raises
    ------
    VerdictFileError
        If a number in it is not finite; the message names it.
    """
    plain: dict[str, Any] = {
        "kerfwright": VERSION,
        "verdict": verdict.outcome,
        "sentence": verdict.sentence,
        "findings": _plain(verdict.findings, "findings"),
        "totals": _totals(verdict.totals),
        "margins": _plain(verdict.margins, "margins"),
        "ascut": _plain(verdict.ascut, "ascut"),
    }
    for field in fields(verdict):
        if field.name != "outcome" and field.name not in plain:
            plain[field.name] = _plain(getattr(verdict, field.name), field.name)
    return plain


def verdict_text(verdict: Verdict) -> str:
    """The text of the file: JSON, UTF-8, every number so that it reads back the same."""
    return json.dumps(verdict_as_plain(verdict), indent=1, ensure_ascii=False, allow_nan=False)


def write_verdict(path: Path, verdict: Verdict) -> None:
    """Write ``verdict.json`` at ``path``, whole or not at all."""
    write_text(path, verdict_text(verdict) + "\n")


def _totals(totals: Totals) -> dict[str, Any]:
    plain: dict[str, Any] = _plain(totals, "totals")
    lowest, highest = plain.pop("lowest_mm"), plain.pop("highest_mm")
    plain["extents_mm"] = {
        axis: [low, high] for axis, low, high in zip("xyz", lowest, highest, strict=True)
    }
    return plain


def _plain(value: Any, path: str) -> Any:
    """Plain values of anything a verdict may hold; numpy's numbers become Python's."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, str):  # a file name may hold bytes that are no UTF-8
        return value.encode("utf-8", "replace").decode("utf-8")
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, float):
        if not isfinite(value):
            raise VerdictFileError(f"{path} is {value}, which is no number to put into a verdict")
        return value
    if is_dataclass(value):
        return {
            field.name: _plain(getattr(value, field.name), f"{path}.{field.name}")
            for field in fields(value)
        }
    if isinstance(value, Mapping):
        return {str(key): _plain(item, f"{path}.{key}") for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item, f"{path}[{index}]") for index, item in enumerate(value)]
    raise TypeError(f"{path} is a {type(value).__name__}, which a verdict file cannot hold")
