"""The loads of a whole program, stretch by stretch of its path. docs/series.md."""

import contextlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.progress import Progress, silent
from kerfwright.kernels import cutting
from kerfwright.prove.proof import Groups, Proof

VERSION = "series 1"
AT_ONCE = 65_536  #: rows written together
#: Cut up the travel by more than this share is "up", by less than the rest "down".
_MOSTLY = 0.95


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name ends in its unit."""

    name: str
    unit: str
    about: str
    of: Callable[[Groups], NDArray[Any]]


def _kernel(name: str, unit: str, about: str, number: int) -> Column:
    return Column(name, unit, about, lambda groups: groups.column[:, number])


def _three(
    name: str, unit: str, about: str, of: Callable[[Groups], NDArray[Any]]
) -> tuple[Column, ...]:
    def one(axis: int) -> Callable[[Groups], NDArray[Any]]:
        return lambda groups: of(groups)[:, axis]

    tail = f"_{unit}" if unit else ""
    return tuple(
        Column(f"{name}_{letter}{tail}", _UNITS.get(unit, unit), f"{about}, {letter}", one(axis))
        for axis, letter in enumerate("xyz")
    )


_UNITS = {"n": "N", "nmm": "N mm"}


def _slice(first: int) -> Callable[[Groups], NDArray[Any]]:
    return lambda groups: groups.column[:, first : first + 3]


def _side(groups: Groups) -> NDArray[Any]:
    up = groups.column[:, cutting.UP_SHARE]
    side = np.where(up > _MOSTLY, "up", np.where(up < 1.0 - _MOSTLY, "down", "both"))
    return np.where(groups.column[:, cutting.TAKEN] > 0.0, side, "")


def _speed(groups: Groups) -> NDArray[Any]:
    return groups.column[:, cutting.WAY] / groups.column[:, cutting.DURATION]


COLUMNS = (
    _kernel("time_s", "s", "when it begins, from the start of the program", cutting.TIME),
    _kernel("duration_s", "s", "how long it takes", cutting.DURATION),
    Column("line", "", "line of the program, from 1", lambda g: g.line),
    Column("byte", "", "where that line begins in the file, from 0", lambda g: g.byte),
    Column("slot", "", "cutter in the spindle", lambda g: g.slot),
    Column("rapid", "", "whether it is a rapid move", lambda g: g.rapid),
    *_three("at", "mm", "middle of the stretch, of the tip on the board", _slice(cutting.X)),
    *_three("travel", "mm", "from its beginning to its end", lambda g: g.motion_mm),
    _kernel("way_mm", "mm", "length of path", cutting.WAY),
    Column("feed_mm_per_s", "mm/s", "mean speed along the path", _speed),
    _kernel("spindle_rev_per_s", "1/s", "turning speed once the cut has slowed it", cutting.SPEED),
    _kernel("feed_per_tooth_mm", "mm", "along the path, at that speed", cutting.FEED_PER_TOOTH),
    _kernel("chip_mm", "mm", "thickest chip of any flute, runout and all", cutting.THICKEST),
    _kernel("covered_rad", "rad", "arc of the cutter that is in the wood", cutting.COVERED),
    _kernel("width_mm", "mm", "of the cut, once it has followed its give", cutting.WIDTH),
    _kernel("depth_mm", "mm", "highest wood above the tip", cutting.DEPTH),
    _kernel("wall_left_mm", "mm", "height of the wall left of the travel", cutting.LEFT),
    _kernel("wall_right_mm", "mm", "height of the wall right of the travel", cutting.RIGHT),
    _kernel("taken_mm3", "mm³", "wood taken, the path as programmed", cutting.TAKEN),
    Column("side", "", "up or down the travel, or both; empty where nothing is cut", _side),
    _kernel("up_share", "1", "share of the wood cut up the travel", cutting.UP_SHARE),
    *_three("force", "n", "mean force of the wood on the cutter", _slice(cutting.FORCE_X)),
    _kernel("peak_n", "N", "largest force in the plane within a turn", cutting.LARGEST),
    *_three("peak", "n", "largest force within a turn along", _slice(cutting.LARGEST_X)),
    _kernel("power_w", "W", "at the cutter", cutting.POWER),
    *_three(
        "asked", "nmm", "torque asked of each motor at the worst step", _slice(cutting.ASKED_X)
    ),
    *_three("pull_left", "", "share of the motor's pull not used there", _slice(cutting.PULL_X)),
    *_three("give", "mm", "how far the mean force moves the tip", lambda g: g.give_mm),
)


def write_series(path: Path, proof: Proof, progress: Progress = silent) -> Path:
    """Write the loads of a proof as a Parquet file: beside its place, then renamed.

    Raises ``Stopped`` from ``progress``, and leaves nothing behind then.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    groups = proof.groups
    if groups is None:
        raise ValueError("this proof kept no groups")
    rows = len(groups.column)
    first = {column.name: _array(pa, column.of(groups.rows(0, 0))) for column in COLUMNS}
    schema = pa.schema(
        [
            pa.field(
                column.name,
                first[column.name].type,
                nullable=False,
                metadata={"unit": column.unit, "about": column.about},
            )
            for column in COLUMNS
        ],
        metadata=_metadata(proof),
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name[:100]}.{os.getpid()}.series.part")
    try:
        with pq.ParquetWriter(part, schema, compression="zstd") as writer:
            for begin in range(0, rows, AT_ONCE):
                progress("writing the series", begin / rows)
                some = groups.rows(begin, begin + AT_ONCE)
                arrays = [_array(pa, column.of(some)) for column in COLUMNS]
                writer.write_table(pa.Table.from_arrays(arrays, schema=schema))
        progress("writing the series", 1.0)
        part.replace(path)
    finally:
        with contextlib.suppress(FileNotFoundError):
            part.unlink()
    return path


def _array(pa: Any, values: NDArray[Any]) -> Any:
    return pa.array(values.tolist(), pa.string()) if values.dtype.kind == "U" else pa.array(values)


def _metadata(proof: Proof) -> dict[str, str]:
    source = proof.verdict.provenance
    return {
        "kerfwright": VERSION,
        "kerfwright_version": source.kerfwright,
        "code_sha256": source.code_sha256,
        "program_file": source.program_file,
        "program_sha256": source.program_sha256,
        "machine": source.machine,
        "machine_sha256": source.machine_sha256,
        "tables_sha256": source.tables_sha256,
        "cell_mm": f"{source.cell_mm:g}",
    }
