"""Measures how fast Kerfwright is, remembers it, and writes ``docs/performance.md``.

Run as ``python benchmarks/performance.py [PART ...]``. Every figure stands beside a probe of the
machine taken in the same run, so that a slower machine, or one that others use as well, gives
about the same ratios. Times are recorded in ``benchmarks/past.jsonl``; the page shows the latest of
each part.
"""

import argparse
import json
import os
import platform
import sys
from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tools"))

from browser import measure_browser  # noqa: E402
from chain import measure_chain  # noqa: E402
from growth import measure_growth  # noqa: E402
from measure import Bench  # noqa: E402
from page import page  # noqa: E402
from planning import measure_planning  # noqa: E402
from reading import measure_reading  # noqa: E402
from removal import measure_removal  # noqa: E402
from start import measure_start  # noqa: E402

LINES = 1_000_000
PAST, PAGE = ROOT / "benchmarks" / "past.jsonl", ROOT / "docs" / "performance.md"
#: In the order in which they run.
PARTS: dict[str, Callable[[int], Bench]] = {
    "reading": measure_reading,
    "planning": measure_planning,
    "removal": measure_removal,
    "chain": measure_chain,
    "start": measure_start,
    "growth": measure_growth,
    "browser": measure_browser,
}


def main(arguments: list[str]) -> int:
    """Measure the parts that are asked for, print, remember, write the page."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of {', '.join(PARTS)}; or all")
    parser.add_argument("--lines", type=int, default=LINES, help=f"instead of {LINES}")
    parser.add_argument("--dry", action="store_true", help="print only: write no file")
    parser.add_argument("--page", action="store_true", help="only write the page anew")
    options = parser.parse_args(arguments)
    if options.page:
        PAGE.write_text(page(_latest()), encoding="utf-8")
        return 0
    if unknown := set(options.parts) - set(PARTS):
        parser.error(f"no such part: {', '.join(sorted(unknown))}")
    if options.lines != LINES and not options.dry:
        parser.error("the record is kept for the usual length: other lengths go with --dry")
    for name, measure in PARTS.items():
        if name in options.parts or not options.parts:
            entry = _entry(name, measure, options.lines)
            _show(entry)
            if not options.dry:
                with PAST.open("a", encoding="utf-8") as past:
                    past.write(json.dumps(entry) + "\n")
    if not options.dry:
        PAGE.write_text(page(_latest()), encoding="utf-8")
    return 0


def _entry(name: str, measure: Callable[[int], Bench], lines: int) -> dict[str, Any]:
    began, load = datetime.now(UTC), os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0
    bench = measure(lines)
    return {
        "part": name,
        "at": began.isoformat(timespec="seconds"),
        "machine": _machine(),
        "load_before": round(load, 2),
        "python": platform.python_version(),
        "lines": lines,
        "probes": {probe: _short(value) for probe, value in bench.probes().items()},
        "figures": [
            {
                key: _short(value) if isinstance(value, float) else value
                for key, value in asdict(figure).items()
                if value not in (None, "", 0)
            }
            for figure in bench.figures
        ],
    }


def _machine() -> str:
    """The class of the machine in plain words; nothing that tells which one it is."""
    system = {"Darwin": "macOS"}.get(platform.system(), platform.system())
    words = [f"{os.cpu_count()} cores", platform.machine(), system]
    cpus = Path("/proc/cpuinfo")
    if cpus.is_file():
        mhz = [
            float(line.split(":")[1])
            for line in cpus.read_text(encoding="utf-8").splitlines()
            if line.startswith("cpu MHz")
        ]
        if mhz:
            words.append(f"nominally {mhz[0] / 1000:.1f} GHz")
    return ", ".join(words)


def _latest() -> dict[str, dict[str, Any]]:
    """The last entry of each part. Those from before there were parts are kept, and not shown."""
    entries = [json.loads(line) for line in PAST.read_text(encoding="utf-8").splitlines()]
    return {entry["part"]: entry for entry in entries if "part" in entry}


def _short(value: float) -> float:
    return float(f"{value:.4g}")


def _show(entry: dict[str, Any]) -> None:
    print(f"\n{entry['part']}, {entry['lines']} lines; probes: {entry['probes']}")
    for figure in entry["figures"]:
        if "wall_s" in figure:
            print(f"{figure['name']:52} {figure['wall_s']:8.3f} s wall {figure['cpu_s']:8.3f} s CPU"
                  f"{figure['ratio']:10.1f} x {figure['probe']}")  # fmt: skip
        else:
            print(f"{figure['name']:52} {figure['value']:8.4g} {figure.get('unit', '')}")


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
