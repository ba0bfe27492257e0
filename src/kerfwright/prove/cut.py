"""Both passes over a program, and how they are kept from one proof to the next."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from kerfwright.prove.keyframes import Keyframe, Keyframes
from kerfwright.prove.run_path import AsRun
from kerfwright.prove.sweep import Swept, Worst
from kerfwright.stock import Board
from kerfwright.stock.field import Field

Arrays = Mapping[str, NDArray[Any]]

_FIELD = (
    "place", "height_mm", "beneath_mm", "top_mm", "made_by", "through_at", "layer", "spans", "lost",
)  # fmt: skip
_SWEPT = ("column", "segment", "first_step", "give_mm", "motion_mm")
_RUN = ("offset_mm", "swing_mm")
_KEYFRAME = ("place", "height_mm", "made_by", "through_at")
_WORST = ("column", "engagement", "velocity", "acceleration")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """The board as programmed with its loads, and as it will be."""

    swept: Swept
    run: AsRun


class Keep(Protocol):
    """A place for arrays from an earlier proof of the very same thing."""

    def get(self) -> Arrays | None:
        """What was put there."""

    def put(self, arrays: Arrays) -> None:
        """Keep it for the next time."""


def arrays_of(cut: Cut) -> dict[str, NDArray[Any]]:
    """A cut as plain arrays."""
    out: dict[str, NDArray[Any]] = {part: getattr(cut.run, part) for part in _RUN}
    for name, field in (("programmed", cut.swept.field), ("as_run", cut.run.field)):
        out |= {f"{name}.{part}": getattr(field, part) for part in _FIELD}
        out[f"{name}.grid"] = np.array(
            [field.cell_mm, field.rows, field.columns, field.floor_mm], np.float64
        )
    out |= {f"swept.{part}": getattr(cut.swept, part) for part in _SWEPT}
    out["swept.steps"] = np.array([cut.swept.steps], np.int64)
    keyframes = cut.swept.keyframes
    when = [(frame.step, frame.slot) for frame in keyframes.frames]
    out["keyframes.when"] = np.array(when, np.int64).reshape(-1, 2)
    out["keyframes.left_out"] = np.array([keyframes.left_out], np.int64)
    for k, frame in enumerate(keyframes.frames):
        out |= {f"keyframe.{k}.{part}": getattr(frame, part) for part in _KEYFRAME}
    for name, worst in cut.swept.worst.items():
        out |= {f"worst.{name}.{part}": getattr(worst, part) for part in _WORST}
        out[f"worst.{name}.way"] = np.array([worst.group, *worst.way_mm, worst.heading_rad])
    return out


def cut_from(arrays: Arrays, board: Board) -> Cut:
    """``arrays_of`` of what was cut from this board, undone."""
    names = [key.split(".")[1] for key in arrays if key.startswith("worst.") and ".way" in key]
    swept = Swept(
        field=_field(arrays, "programmed", board),
        steps=int(arrays["swept.steps"][0]),
        worst={name: _worst(arrays, name) for name in names},
        keyframes=_keyframes(arrays),
        **{part: arrays[f"swept.{part}"] for part in _SWEPT},
    )
    run = AsRun(field=_field(arrays, "as_run", board), **{part: arrays[part] for part in _RUN})
    return Cut(swept=swept, run=run)


def _keyframes(arrays: Arrays) -> Keyframes:
    frames = []
    for k, (step, slot) in enumerate(arrays["keyframes.when"].tolist()):
        parts = {part: arrays[f"keyframe.{k}.{part}"] for part in _KEYFRAME}
        frames.append(Keyframe(step=step, slot=slot, **parts))
    return Keyframes(frames=tuple(frames), left_out=int(arrays["keyframes.left_out"][0]))


def _field(arrays: Arrays, name: str, board: Board) -> Field:
    cell, rows, columns, floor = arrays[f"{name}.grid"].tolist()
    parts: dict[str, Any] = {part: arrays[f"{name}.{part}"] for part in _FIELD}
    return Field(
        cell_mm=cell, rows=int(rows), columns=int(columns), floor_mm=floor, start=board.start,
        **parts,
    )  # fmt: skip


def _worst(arrays: Arrays, name: str) -> Worst:
    group, flat, down, way, heading = arrays[f"worst.{name}.way"].tolist()
    return Worst(
        group=int(group),
        way_mm=(flat, down, way),
        heading_rad=heading,
        **{part: arrays[f"worst.{name}.{part}"] for part in _WORST},
    )
