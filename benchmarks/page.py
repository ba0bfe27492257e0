"""The page ``docs/performance.md``, from what was measured."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

Entry = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What a figure must not go beyond, and what would be splendid. Smaller is better."""

    part: str
    figure: str
    words: str
    must: float | None
    moonshot: float | None = None
    key: str = "ratio"


#: Those of planning: 100 ns a segment where a link of the chain takes 1.64 ns.
TARGETS = (
    Target(part="reading", figure="plain relief", must=40.0, moonshot=12.0,
           words="reading a plain relief on one thread, hash and all, times the counting of its "
           "newlines (moonshot: on two threads)"),
    Target(part="planning", figure="relief", must=61.0,
           words="planning a relief, links of the chain for a segment"),
    Target(part="planning", figure="random polyline", must=None, moonshot=61.0,
           words="planning a random polyline, links of the chain for a segment"),
    Target(part="planning", figure="time over time-optimal, a smooth curve in chords of 0.1 mm",
           must=1.02, moonshot=1.005, key="value", words="time of a smooth curve in chords of 0.1 "
           "mm, over time-optimal by a general library on the same path"),
    Target(part="planning", figure="time over time-optimal, a polyline of sharp corners",
           must=1.02, moonshot=1.005, key="value", words="the same of a polyline of sharp corners"),
    Target(part="planning", figure="limits of the axes exceeded by", must=1e-5, key="value",
           words="limits of the axes exceeded at any piece's end, share"),
    Target(part="removal", figure="ours over plain, CPU, 0.1 mm", must=0.4, moonshot=0.2,
           key="value", words="wood, engagement and force of a relief in cells of 0.1 mm, CPU time "
           "of both threads over that of a plain kernel on one"),
    Target(part="removal", figure="ours over plain, wall, 0.1 mm", must=0.2, moonshot=0.1,
           key="value", words="the same, wall time of two threads over that of the plain kernel"),
    Target(part="chain", figure="whole proof, from the text to the verdict", must=4.0,
           moonshot=2.0, key="wall_s", words="a whole proof of a relief of a million lines in "
           "cells of 0.1 mm, warm [s]"),
    Target(part="chain", figure="largest memory of the command", must=577.0, key="value",
           words="largest memory of that command, pictures and all: 600 MB and 0.15 of a dense "
           "field [MiB]"),
    Target(part="start", figure="start of a command", must=0.6, key="value",
           words="start of a command, warm, until its program is read [s]"),
    Target(part="start", figure="getting ready, nothing compiled", must=12.0, key="value",
           words="getting ready for this computer, the first time [s]"),
    Target(part="browser", figure="first paint", must=1.5, key="value",
           words="the page's first paint [s]"),
    Target(part="browser", figure="first proof of a demo job, from the click to its picture",
           must=5.0, key="value", words="a demo job's first proof from the click to its picture, "
           "warm [s]"),
    Target(part="browser", figure="large relief, from the address to its picture", must=5.0,
           key="value", words="4 million cells and a path of 1 million points from the address to "
           "their picture, drawn by software [s]"),
    Target(part="browser", figure="triangles while it moves", must=150.0, key="value",
           words="triangles of the solid view while it moves [thousand]"),
    Target(part="growth", figure="exponent of reading and planning", must=1.05, key="value",
           words="growth of reading and planning, exponent"),
)  # fmt: skip
_TITLES = {
    "reading": "Reading",
    "planning": "Planning",
    "removal": "Wood taken, with its loads",
    "chain": "Every stage",
    "start": "Before the work begins",
    "growth": "Growth",
    "browser": "The page in a browser",
}
_WORDS = {
    "reading": """\
One thread; text in memory to finished columns, hash and all. A plain relief is lines of the form
`G1 X120.500 Y33.250 Z-1.250`. The mixed program has CR LF, words without a code, line numbers,
small letters without blanks, arcs, remarks of both kinds, places and offsets, and 200 changes to
inches and back, which the interpreter carries out. That is the kernel's reference and gives the
same bits. Where the text fits the processor's cache the newlines are counted up to four times as
fast, and the ratio is as much larger.""",
    "planning": """\
The public `plan` on one thread, with the machine of the demo and corners rounded by 0.01 mm: from
columns to a finished trajectory. The polyline has a true corner at every vertex. Where a time is
below the library's, the library's grid of 0.02 mm is the coarser of the two.""",
    "removal": """\
A finishing relief of 300 x 300 mm by a 3 mm ball, steps and rows of 0.3 mm, after roughing in
terraces of 2 mm, on a board of 1220 x 610 mm. The plain kernel is what one would write first: one
thread, one array, cell by cell, with wood and depths by angle and a force from them. It counts
cells by their centres and knows no walls.""",
    "chain": """\
A relief with short lines (`X120.5Z-1.25`), each stage once, two threads for the cuts; then a whole
proof where kernels are loaded, as the page's server makes it, from the text to the verdict, the
median of three; then the whole command as one types it, on all cores, with its start, its pictures
and its files.""",
    "start": """\
A command that is refused for a slip in the second line of its program, so that it ends once all is
loaded and the program read; the median of five. Then `kerfwright prepare` with an empty cache:
every kernel is compiled.""",
    "growth": """\
Plain reliefs of 0.1 to 10 million lines, each in a process of its own that reads and plans it once,
from a file; and the largest memory that the process took. The exponent is the slope of the
logarithms of CPU time, as links of the chain, over lines: 1 when twice the lines take twice the
time.""",
    "browser": """\
The page in Chromium without a graphics card, against a real server with the demo's workshop and a
relief of 1 million lines; seconds as a person waits them, with nothing left to compile. The proof
of the demo job is made anew, after a change of its board.""",
}
_HEAD = """\
# How fast it is

Written by `benchmarks/performance.py`: change that, not this page. Every time stands beside a probe
of the machine, taken in the same run just before and behind it, and the ratio of the two is what
counts: it moves far less than the times do with the machine, and with what else runs on it. Ratios
are of CPU time. The wall time is given too; where the load (programs that wanted to run) was above
the number of cores, it is longer than it would have been. Medians where a piece is run more than
once. All earlier runs are in `benchmarks/past.jsonl`.

## Targets
"""
_PROBES = """\

| probe | what it does |
|---|---|
| newlines | a compiled loop counts the line feeds of the same text, from the cache if it fits; the best of three |
| chain | a multiplication and an addition, each waiting for the one before, 10 million times |
| triad, copy | three arrays of 128 MiB: a = b + s c (24 bytes an element), and a copy (16) |
"""  # noqa: E501


def page(latest: dict[str, Entry]) -> str:
    """The whole page, from the latest entry of each part."""
    lines = [_HEAD, *_targets(latest), _PROBES]
    for part, title in _TITLES.items():
        if part in latest:
            lines += [f"## {title}\n", _WORDS[part], "", *_figures(latest[part]), ""]
    return "\n".join(lines)


def _targets(latest: dict[str, Entry]) -> Iterator[str]:
    yield "| figure | must | moonshot | measured | |"
    yield "|---|---|---|---|---|"
    for target in TARGETS:
        measured = _find(latest, target)
        if measured is None:
            found, verdict = "not measured", ""
        else:
            found, verdict = f"{measured:.3g}", _verdict(target, measured)
        must, moonshot = (
            "" if limit is None else f"{limit:g}" for limit in (target.must, target.moonshot)
        )
        yield f"| {target.words} | {must} | {moonshot} | {found} | {verdict} |"


def _find(latest: dict[str, Entry], target: Target) -> float | None:
    for figure in latest.get(target.part, {}).get("figures", ()):
        if figure["name"] == target.figure:
            return float(figure[target.key])
    return None


def _verdict(target: Target, measured: float) -> str:
    if target.must is not None and measured > target.must:
        return "**missed**"
    if target.moonshot is not None and measured <= target.moonshot:
        return "moonshot met"
    return "met" if target.must is not None else "moonshot missed"


def _figures(entry: Entry) -> Iterator[str]:
    yield f"{entry['at'][:10]}; {entry['machine']}; load before the run {entry['load_before']:g}."
    yield f"Probes: {'; '.join(_rates(entry))}."
    yield ""
    yield "| | wall | CPU | CPU for each | ratio |"
    yield "|---|---|---|---|---|"
    values = []
    for figure in entry["figures"]:
        if "wall_s" not in figure:
            values.append(figure)
            continue
        each = figure["cpu_s"] / figure["count"]
        yield (
            f"| {figure['name']} | {_time(figure['wall_s'])} | {_time(figure['cpu_s'])} "
            f"| {_time(each)} | {_number(figure['ratio'])} × {figure['probe']} |"
        )
    yield ""
    for figure in values:
        yield f"- {figure['name']}: {_number(figure['value'], 4)} {figure.get('unit', '')}".rstrip()


def _rates(entry: Entry) -> Iterator[str]:
    for name, value in entry["probes"].items():
        probe, unit = name.split(", ")
        yield f"{probe} {value:.3g} {unit}"


def _number(value: float, digits: int = 3) -> str:
    return f"{value:.0f}" if value >= 1000.0 else f"{value:.{digits}g}"


def _time(seconds: float) -> str:
    for size, unit in ((1.0, "s"), (1e-3, "ms"), (1e-6, "µs")):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e9:.3g} ns"
