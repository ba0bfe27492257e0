"""stalls.toml: runs of a motor at rising speeds, and whether it stalled, ran rough or smooth."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, cast, get_args

from kerfwright.basics import Place
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.formats import Problems, QuantityError, TomlFile, read_toml, require_kind
from kerfwright.formats.quantity import Quantity, read_quantity

VERSION = 1
LEAST_RUNS = 4
MOST_RUNS = 300
#: How well a pull is known where nothing is said of it, nineteen times in twenty: common practice,
#: no source.
PULL_WITHIN = 0.1
Ran = Literal["smooth", "rough", "stalled"]
RAN: tuple[Ran, ...] = get_args(Ran)
NO_PULL = ("none", "no", "nothing", "0", "")
_NOT_TRIED = ("", "?", "don't know", "dont know", "don’t know", "unknown", "not tried")
_KEYS = ("axis", "speed", "pull", "ran", "note")
_EXAMPLE = '{ axis = "x", speed = "1200 mm/min", pull = "none", ran = "smooth" }'


@dataclass(frozen=True, slots=True, kw_only=True)
class StallRun:
    """One run of one axis at one speed."""

    axis: Literal["x", "y", "z"]
    speed_mm_per_s: float | None  #: of the carriage, or
    turns_per_s: float | None  #: of the motor
    pull_n: float  #: against the motion, friction and weight of the machine itself not counted
    u_pull_n: float  #: standard uncertainty
    ran: Ran
    place: Callable[[], Place]  #: where it stands in the file; finding it takes a while


@dataclass(frozen=True, slots=True, kw_only=True)
class Stalls:
    """All runs that were tried."""

    file: str
    acceleration_mm_per_s2: float | None  #: set for these runs; None: as in machine.toml
    runs: tuple[StallRun, ...]


def read_stalls(path: Path) -> Stalls:
    """Read stalls.toml. Runs that were not tried yet (``ran`` empty) are left out.

    Raises
    ------
    InputError, InputErrors
        With line, column and remedy for everything that cannot be read, and for fewer runs than
        ``LEAST_RUNS`` of any axis that was tried.
    """
    toml = read_toml(path)
    require_kind(toml, "stalls", VERSION)
    problems = Problems(toml)
    problems.unknown_keys(toml.data, (), ("kerfwright", "acceleration", "run", "note"))
    tables = toml.data.get("run", [])
    if not isinstance(tables, list) or not all(isinstance(one, dict) for one in tables):
        problems.add(("run",), "is no list of runs", f"write each like {_EXAMPLE}")
        tables = []
    elif len(tables) > MOST_RUNS:
        problems.add(
            ("run", MOST_RUNS),
            f"there are {len(tables)} runs, and at most {MOST_RUNS} are fitted at once",
            "keep those near the speeds at which it swings",
        )
        tables = []
    read = [_run(problems, table, number) for number, table in enumerate(tables)]
    runs = tuple(one for one in read if one is not None)
    acceleration = _acceleration(problems, toml)
    problems.tell()
    _enough(toml, runs)
    return Stalls(file=toml.file, acceleration_mm_per_s2=acceleration, runs=runs)


def _enough(toml: TomlFile, runs: tuple[StallRun, ...]) -> None:
    if not runs:
        raise toml.error(
            ("run",) if "run" in toml.data else ("kerfwright",),
            "has no run that says how it went: nothing can be learned from it",
            f"run the axis, and write for each run {_EXAMPLE}",
        )
    for axis in dict.fromkeys(run.axis for run in runs):
        mine = [run for run in runs if run.axis == axis]
        if len(mine) < LEAST_RUNS:
            raise toml.error(
                ("run",),
                f"has {len(mine)} of {axis.upper()}, and at least {LEAST_RUNS} runs of an axis are "
                "needed: fewer say nothing of where a band begins and ends",
                "try more speeds, a turn of the motor a second apart, or take these runs out",
            )


def _acceleration(problems: Problems, toml: TomlFile) -> float | None:
    if "acceleration" not in toml.data:
        return None
    value = toml.data["acceleration"]
    known = problems.reading(("acceleration",), lambda: _read(value, "acceleration", '"200 mm/s2"'))
    if known is not None and not 0.0 < known.value < 1e6:
        problems.add(("acceleration",), "is no acceleration", 'write it like "200 mm/s2"')
    return None if known is None else known.value


def _run(problems: Problems, table: Mapping[str, Any], number: int) -> StallRun | None:
    at = ("run", number)
    problems.unknown_keys(table, at, _KEYS)
    ran = table.get("ran", "")
    if isinstance(ran, str) and ran.strip().lower() in _NOT_TRIED:
        return None
    missing = [key for key in ("axis", "speed") if key not in table]
    for key in missing:
        problems.add(at, f"this run has no {key}", f"write it like {_EXAMPLE}")
    axis = table.get("axis")
    if "axis" in table and axis not in ("x", "y", "z"):
        problems.add((*at, "axis"), f"{_shown(axis)} is no axis", 'write "x", "y" or "z"')
    if ran not in RAN:
        problems.add(
            (*at, "ran"),
            f"{_shown(ran)} does not say how it went",
            f"write one of {', '.join(RAN)}, or leave it empty where it was not tried",
        )
    speed = problems.reading((*at, "speed"), lambda: _speed(table.get("speed")))
    pull = problems.reading((*at, "pull"), lambda: _pull(table.get("pull", "none")))
    if missing or speed is None or pull is None or ran not in RAN or axis not in ("x", "y", "z"):
        return None
    return StallRun(
        axis=cast(Literal["x", "y", "z"], axis),
        speed_mm_per_s=speed[0],
        turns_per_s=speed[1],
        pull_n=pull[0],
        u_pull_n=pull[1],
        ran=cast(Ran, ran),
        place=lambda: problems.place(at),
    )


def _read(value: object, dimension: str, example: str) -> Quantity:
    if not isinstance(value, str):
        raise QuantityError("is not a text in quotes", f"write it like {example}")
    quantity = read_quantity(value, dimension)
    if quantity is None:
        raise QuantityError("a run at an unknown value says nothing", f"write it like {example}")
    return quantity


def _speed(value: object) -> tuple[float | None, float | None]:
    """Of the carriage in mm/s, or of the motor in turns a second."""
    example = '"1200 mm/min" or "8 rev/s"'
    try:
        quantity, of_motor = _read(value, "speed", example), False
    except QuantityError:
        try:
            quantity, of_motor = _read(value, "turning", example), True
        except QuantityError as error:
            raise QuantityError(error.problem, f"write it like {example}") from None
    if not 0.0 < quantity.value < 1e5:
        raise QuantityError("is no speed to run at", f"write it like {example}")
    return (None, quantity.value) if of_motor else (quantity.value, None)


def _pull(value: object) -> tuple[float, float]:
    """The pull against the motion and its standard uncertainty. [N]"""
    if isinstance(value, str) and value.strip().lower() in NO_PULL:
        return 0.0, 0.0
    quantity = _read(value, "force", '"none" or "40 ± 4 N"')
    if not 0.0 <= quantity.value < 1e5:
        raise QuantityError("is no pull against the motion", 'write it like "none" or "40 N"')
    if quantity.low is not None and quantity.high is not None:
        return quantity.value, float((quantity.high - quantity.low) / 12.0**0.5)
    if quantity.u is not None:
        return quantity.value, quantity.u
    return quantity.value, PULL_WITHIN * quantity.value / TWO_SIDED_95


def _shown(value: object) -> str:
    return f'"{value[:40]}"' if isinstance(value, str) else str(value)[:40]
