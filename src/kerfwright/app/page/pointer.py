"""What the pointer is on: a place of the board, or a moment of the job; and lines about it."""

from pathlib import Path
from typing import Any

import numpy as np

from kerfwright.app.page.shown import ShownProof
from kerfwright.report.figures import amount, leaning, moment
from kerfwright.report.page_arrays import LINE, NEVER_CUT, TIME, UNTOUCHED, X, Y, Z

MOST_LINES = 2000
_LONGEST_LINE = 400
_BEFORE = 5  #: lines shown before the one that is asked for


def at_place(shown: ShownProof, x_mm: float, y_mm: float) -> dict[str, Any]:
    """What was cut at a place of the board, when, and by which line."""
    maps = shown.maps()
    cell = maps["cell_mm"]
    column = int(np.floor((x_mm - maps["corner_mm"][0]) / cell))
    row = int(np.floor((y_mm - maps["corner_mm"][1]) / cell))
    if not (0 <= row < maps["rows"] and 0 <= column < maps["columns"]):
        return _nothing(x_mm, y_mm)
    height, error, ticks = (
        int(_map(shown, maps, name, kind)[row, column])
        for name, kind in (("height", "<i2"), ("error", "<i2"), ("time", "<u2"))
    )
    z = maps["height"]["zero_mm"] + height * maps["height"]["step_mm"]
    if ticks == NEVER_CUT:
        return _nothing(x_mm, y_mm)
    at_s = ticks * maps["time"]["step_s"]
    words = [f"{amount(max(-z, 0.0), 'mm')} deep"]
    if error != UNTOUCHED:
        words.append(leaning(error * maps["error"]["step_mm"]))
    line = _line_at(shown, at_s)
    words += [f"line {line}", f"at {moment(at_s)}"]
    return _here(words, line, at_s, [x_mm, y_mm, z])


def at_moment(shown: ShownProof, time_s: float) -> dict[str, Any]:
    """Where the cutter is at a moment."""
    moments = shown.moments()
    if not len(moments):
        return _nothing(0.0, 0.0)
    k = int(np.clip(np.searchsorted(moments[:, TIME], time_s, side="right") - 1, 0, None))
    row = moments[k]
    spot = [float(row[axis]) for axis in (X, Y, Z)]
    words = [f"line {int(row[LINE])}", f"at {moment(time_s)}"]
    return _here(words, int(row[LINE]), time_s, spot)


def lines_about(
    shown: ShownProof | None, program: Path, first: int, count: int, at_s: float | None
) -> dict[str, Any]:
    """Lines of the program, with the time when each begins to move."""
    text = _all_lines(program)
    starts = shown.line_starts() if shown is not None else np.empty(0)
    if at_s is not None and shown is not None:
        first = max(_line_at(shown, at_s) - _BEFORE, 1)
    first = min(max(first, 1), max(len(text), 1))
    some = text[first - 1 : first - 1 + min(max(count, 1), MOST_LINES)]
    times: list[float | None] = []
    for number in range(first, first + len(some)):
        start = float(starts[number]) if number < len(starts) else float("nan")
        times.append(None if np.isnan(start) else round(start, 3))
    return {"first": first, "total": len(text), "text": some, "time_s": times}


_kept: list[tuple[Path, tuple[int, int], list[str]]] = []


def _all_lines(program: Path) -> list[str]:
    """The lines of a program; those of the last one asked for are kept."""
    state = program.stat()
    mark = (state.st_mtime_ns, state.st_size)
    for path, known, lines in _kept:
        if path == program and known == mark:
            return lines
    raw = program.read_bytes().replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    lines = [
        "".join(c if c.isprintable() or c == "\t" else " " for c in one[:_LONGEST_LINE])
        for one in raw.decode("utf-8", "replace").removesuffix("\n").split("\n")
    ]
    _kept[:] = [(program, mark, lines)]
    return lines


def _line_at(shown: ShownProof, time_s: float) -> int:
    moments = shown.moments()
    if not len(moments):
        return 0
    k = int(np.clip(np.searchsorted(moments[:, TIME], time_s, side="right") - 1, 0, None))
    return int(moments[k, LINE])


def _map(shown: ShownProof, maps: dict[str, Any], name: str, kind: str) -> Any:
    path = shown.array_file(name)
    if path is None:
        raise FileNotFoundError(name)
    shape = (maps["rows"], maps["columns"])
    return np.memmap(path, dtype=kind, mode="r", shape=shape)


def _nothing(x_mm: float, y_mm: float) -> dict[str, Any]:
    return _here(["not touched"], 0, None, [x_mm, y_mm, 0.0])


def _here(words: list[str], line: int, time_s: float | None, spot: list[float]) -> dict[str, Any]:
    return {"words": words, "line": line, "time_s": time_s, "spot_mm": spot}
