"""Wall and CPU time of a piece of work, and what this machine does at best, taken beside it."""

import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numba import njit

MIB = 2**20
_STREAM = 128 * MIB // 8  # elements of one array: far more than any cache holds
_LINKS = 10_000_000
_BLOCK = 16_384  # bytes
#: Runs a command and prints its exit code, wall and CPU seconds and its largest memory. In a small
#: process of its own: a child's largest memory is never below that of what started it.
_RUN = """
import resource, subprocess, sys, time
begin, quiet = time.perf_counter(), subprocess.DEVNULL
done = subprocess.run(sys.argv[1:], stdout=quiet, stderr=quiet, check=False)
wall, used = time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_CHILDREN)
print(done.returncode, wall, used.ru_utime + used.ru_stime, used.ru_maxrss)
"""


@njit(nogil=True)
def count_newlines(buffer):
    """Line feeds in a text: the floor for reading.

    Sums of 16 bits over short blocks, so that a vector holds as many as can be: about three times
    as fast in cache as the plain loop, and held up by memory alone.
    """
    count = 0
    for start in range(0, buffer.size, _BLOCK):
        block = buffer[start : min(start + _BLOCK, buffer.size)]
        found = np.uint16(0)
        for i in range(block.size):
            found = np.uint16(found + np.uint16(block[i] == 10))
        count += found
    return count


@njit(nogil=True)
def triad(a, b, c, factor):
    """``a = b + factor * c``: the floor for streaming through memory."""
    for i in range(a.size):
        a[i] = b[i] + factor * c[i]


@njit(nogil=True)
def chain(links, factor, added):
    """A multiplication and an addition, each waiting for the one before: the core's own clock."""
    value = 1.0
    for _ in range(links):
        value = value * factor + added
    return value


@dataclass(slots=True, kw_only=True)
class Figure:
    """One thing measured: a time with its ratio to a probe, or else a plain value."""

    name: str
    wall_s: float = 0.0
    cpu_s: float = 0.0
    count: int = 0  # how many of what it dealt with
    of: str = ""
    ratio: float = 0.0  # CPU time over the probe's, each for one of ``count``
    probe: str = ""  # newlines or chain
    value: float | None = None
    unit: str = ""


@dataclass(slots=True, kw_only=True)
class Bench:
    """Measures beside its probes, and keeps both."""

    repeats: int
    text: Any  # (bytes,) uint8: what newlines are counted in
    figures: list[Figure] = field(default_factory=list)
    probes_s: dict[str, list[float]] = field(default_factory=dict)
    memory: bool = True  # whether to take the probes of the memory
    lines: int = field(init=False)

    def __post_init__(self) -> None:
        self.lines = int(np.count_nonzero(self.text == 10))
        count_newlines(self.text[:1])
        chain(1, 0.5, 0.5)
        if self.memory:
            self._memory_probes()

    def _memory_probes(self) -> None:
        """Streams of three arrays of 128 MiB: adding and copying."""
        a, b, c = np.zeros(_STREAM), np.ones(_STREAM), np.ones(_STREAM)
        triad(a[:1], b[:1], c[:1], 2.0)
        self._probe("triad", lambda: triad(a, b, c, 2.0), 5)
        self._probe("copy", lambda: np.copyto(a, b), 5)

    def newlines_s(self) -> float:
        """Counting the newlines of the text, now."""
        return self._probe("newlines", lambda: count_newlines(self.text), 3)

    def link_s(self) -> float:
        """One link of the chain, now."""
        return self._probe("chain", lambda: chain(_LINKS, 0.999, 0.001), 1) / _LINKS

    def add_links(self, seconds: list[float]) -> None:
        """Keep links of the chain that were timed in other processes."""
        self.probes_s.setdefault("chain", []).extend(link * _LINKS for link in seconds)

    def take(
        self, name: str, work: Callable[[], Any], count: int, of: str, repeats: int | None = None
    ) -> Any:
        """Time ``work``, with its probe before and behind it; gives its last result.

        For each of ``count`` the probe is one line's part in counting the newlines of the text
        where ``count`` counts lines, else one link of the chain. The ratio is the median of those
        of the repeats, each with its own probe: what slows the whole machine slows both.
        """
        lines = of == "lines"
        probe = self.newlines_s if lines else self.link_s
        share = count / self.lines if lines else count
        walls, cpus, ratios, result = [], [], [], None
        for _ in range(repeats or self.repeats):
            result = None  # what the last repeat holds must not be there twice
            before = probe()
            wall, cpu = time.perf_counter(), time.process_time()
            result = work()
            walls.append(time.perf_counter() - wall)
            cpus.append(time.process_time() - cpu)
            ratios.append(cpus[-1] / share / (0.5 * (before + probe())))
        self.figures.append(
            Figure(
                name=name,
                wall_s=float(np.median(walls)),
                cpu_s=float(np.median(cpus)),
                count=count,
                of=of,
                ratio=float(np.median(ratios)),
                probe="newlines" if lines else "chain",
            )
        )
        return result

    def tell(self, name: str, value: float, unit: str) -> None:
        """Keep a figure that is no time."""
        self.figures.append(Figure(name=name, value=value, unit=unit))

    def probes(self) -> dict[str, float]:
        """Medians of all probes of this run, as rates that do not depend on their size."""
        middle = {name: float(np.median(found)) for name, found in self.probes_s.items()}
        rates = {}
        if "triad" in middle:
            rates["triad, GB/s"] = 24 * _STREAM / middle["triad"] / 1e9
            rates["copy, GB/s"] = 16 * _STREAM / middle["copy"] / 1e9
        if "newlines" in middle:
            rates["newlines, ms"] = middle["newlines"] * 1e3
            rates["newlines, GB/s"] = self.text.size / middle["newlines"] / 1e9
        if "chain" in middle:
            rates["chain, ns a link"] = middle["chain"] / _LINKS * 1e9
        return rates

    def _probe(self, name: str, work: Callable[[], Any], times: int) -> float:
        best = np.inf
        for _ in range(times):
            begin = time.process_time()
            work()
            best = min(best, time.process_time() - begin)
        self.probes_s.setdefault(name, []).append(best)
        return best


def command_cost(
    words: list[str], settings: Mapping[str, str], codes: tuple[int, ...]
) -> tuple[float, float, float]:
    """Wall and CPU seconds and the largest memory [MiB] of a command of ours that ends so."""
    run = [sys.executable, "-c", _RUN, sys.executable, "-m", "kerfwright", *words]
    told = subprocess.run(run, check=True, stdout=subprocess.PIPE, env=settings).stdout
    code, wall, cpu, kib = (float(word) for word in told.split())
    if code not in codes:
        raise RuntimeError(f"kerfwright {words[0]} ended with exit code {code:.0f}")
    return wall, cpu, kib / 1024.0
