"""The machine's card for other programs, as JSON: the names of ``machine.results``."""

import json
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from math import isfinite
from typing import Any

import numpy as np

from kerfwright.machine import PUSH_N, FrameMode, MachineModel, MachineResults, NoseGive
from kerfwright.report.give_file import give_as_plain
from kerfwright.report.swing_words import swings_as_plain

VERSION = "machine card 1"


def card_as_plain(machine: MachineModel, results: MachineResults) -> dict[str, Any]:
    """The card as dictionaries, lists, text and numbers, in inside units (mm, N, s, N mm, W)."""
    grid = machine.compliance_at_mm
    return {
        "kerfwright": VERSION,
        "name": machine.name,
        "sha256": machine.sha256,
        "push_n": PUSH_N,
        "axes": {axis.name.lower(): _plain(axis) for axis in results.axes},
        "nose": {nose.name.lower(): _plain(nose) for nose in results.nose},
        "spindle": _plain(machine.spindle) | {"power_w": _plain(results.spindle_power)},
        "controller": _plain(machine.controller),
        "supplies": [_plain(one) for one in results.supplies],
        "table": {
            "size_mm": list(machine.table_mm),
            "at_mm": list(machine.table_at_mm),
            "spoil_board_mm": machine.spoil_board_mm,
            "nose_height_mm": machine.nose_height_mm,
        },
        "compliance": {
            "x_mm": grid[0].tolist(),
            "y_mm": grid[1].tolist(),
            "nose_mm": grid[2].tolist(),
            "mm_per_n": machine.compliance_mm_per_n.tolist(),
        },
        "known": {path: _plain(known) for path, known in machine.known.items()},
        "assumed": list(machine.assumed),
        "draws": results.draws,
        "seed": results.seed,
    }


def card_text(
    machine: MachineModel,
    results: MachineResults,
    modes: Sequence[FrameMode] = (),
    give: NoseGive | None = None,
) -> str:
    """The text of the file: JSON, every number so that it reads back the same."""
    plain = card_as_plain(machine, results)
    plain["swings"] = swings_as_plain(machine, modes)
    if give is not None:
        plain["give"] = give_as_plain(give)
    return json.dumps(plain, indent=1, ensure_ascii=False, allow_nan=False)


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, float) and not isfinite(value):
        return None  # no limit
    return value
