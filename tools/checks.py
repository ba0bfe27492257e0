"""The steps of ``python3 check.py``: each runs, whatever the one before it said."""

import argparse
import os
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import environment
import front_end
from environment import say

#: What each tier may take on two cores. [s]
TIER_LIMIT_S = {"quick": 120, "plain": 600, "long": 2400, "bench": 2400}
_WORKERS = "2"
# A step that hangs must not hang the whole check; a slow machine is no reason to fail.
_PATIENCE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One command that must end with exit code 0, and what to mend if it does not."""

    mend: str
    command: list[str]
    settings: dict[str, str] = field(default_factory=dict)


def main(root: Path, arguments: list[str]) -> int:
    """Run one tier and return 0 if all of it passed, 1 if not, 2 if it could not begin."""
    tier = _tier(arguments)
    began_s = time.monotonic()
    try:
        python = environment.prepare(root, "check")
    except environment.SetUpError as error:
        say(f"{error}\nmend: the set-up")
        return 2
    failed = _page_failures(root, python)
    with tempfile.TemporaryDirectory(prefix="kerfwright-check-") as scratch:
        steps = list(_steps(tier, python, root, Path(scratch)))
        failed += [step.mend for step in steps if not _passes(step, root, TIER_LIMIT_S[tier])]
    took_s = time.monotonic() - began_s
    if took_s > TIER_LIMIT_S[tier]:
        say(f"took {took_s:.0f} s; on two cores this must not take over {TIER_LIMIT_S[tier]} s")
    say(f"mend: {'; '.join(failed)}" if failed else f"pass ({tier}, {took_s:.0f} s)")
    return 1 if failed else 0


def _page_failures(root: Path, python: Path) -> list[str]:
    """Build the page, check its types and run its tests; without packages it is left out."""
    try:
        front_end.build(root, python)
        if not front_end.check(root, python):
            return ["the page (npm run check, in the folder page)"]
    except front_end.NoPackages as error:
        say(f"{error}\nThe page is left out.")
    except environment.SetUpError as error:
        say(str(error))
        return ["the page (tools/front_end.py)"]
    return []


def _tier(arguments: list[str]) -> str:
    parser = argparse.ArgumentParser(
        prog="check.py",
        description="Checks the project; without an option, all but the long tests.",
    )
    tiers = parser.add_mutually_exclusive_group()
    for tier, words in (
        ("quick", "lint, types and the quick tests, in two minutes"),
        ("long", "the long tests alone"),
        ("bench", "the benchmarks alone"),
    ):
        help_text = words
        tiers.add_argument(
            f"--{tier}", dest="tier", action="store_const", const=tier, help=help_text
        )
    return parser.parse_args(arguments).tier or "plain"


def _steps(tier: str, python: Path, root: Path, scratch: Path) -> Iterator[Step]:
    run = [str(python), "-m"]
    if tier == "bench":
        case = root / "benchmarks" / "performance.py"
        yield Step(mend=f"benchmarks/{case.name}", command=[str(python), str(case)])
        return
    if tier == "long":
        yield _tests(run, "long", "the long tests")
        return
    yield Step(mend="format (ruff format .)", command=[*run, "ruff", "format", "--check", "."])
    yield Step(mend="lint (ruff check .)", command=[*run, "ruff", "check", "."])
    yield Step(mend="types (mypy)", command=[*run, "mypy"])
    imports = str(python.parent / "lint-imports")
    yield Step(mend="imports between rooms (lint-imports)", command=[imports, "--no-logo"])
    # Once, or each test worker would compile the same kernels.
    yield Step(mend="the kernels (kerfwright prepare)", command=[*run, "kerfwright", "prepare"])
    if tier == "quick":
        yield _tests(run, "not long and not slow", "the quick tests")
        return
    # A cache of its own: a warm one would be used in place of what is meant to run.
    off = {"NUMBA_DISABLE_JIT": "1", "NUMBA_CACHE_DIR": str(scratch)}
    yield _tests(run, "compiler_off", "the tests without the compiler", "tests/kernels", off)
    # Last, so that the count of all the tests stands just above the closing line.
    yield _tests(run, "not long", "the tests")


def _tests(
    run: list[str],
    marked: str,
    mend: str,
    place: str = "tests",
    settings: dict[str, str] | None = None,
) -> Step:
    spread = ["-n", _WORKERS, "--dist", "worksteal"]
    # The slowest are named, so that one that wants the mark `slow` or `long` is seen.
    slowest = ["--durations", "8", "--durations-min", "2"]
    command = [*run, "pytest", "-q", *spread, *slowest, "-m", marked, place]
    return Step(mend=mend, command=command, settings=settings or {})


def _passes(step: Step, root: Path, limit_s: float) -> bool:
    shown = " ".join(Path(word).name if Path(word).is_absolute() else word for word in step.command)
    say(f"\n== {shown}")
    # Two test workers share two cores: each gets one thread, of our kernels and of the libraries.
    settings = {
        "KERFWRIGHT_THREADS": "1",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
        "MPLBACKEND": "Agg",
    }
    variables = environment.clean_environment(os.environ) | settings | step.settings
    began_s = time.monotonic()
    try:
        code = subprocess.run(
            step.command, cwd=root, env=variables, timeout=_PATIENCE * limit_s, check=False
        ).returncode
    except subprocess.TimeoutExpired:
        say(f"== ended after {_PATIENCE * limit_s:.0f} s without an answer")
        return False
    except OSError as error:
        say(f"== {step.command[0]} cannot be run: {error.strerror}")
        return False
    took_s = time.monotonic() - began_s
    say(f"== {'passed' if code == 0 else f'failed (exit code {code})'}, {took_s:.1f} s")
    return code == 0
