"""``[[parts]]`` and ``[climate]`` of a job: sizes that are wanted, and where the part will live."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, cast, get_args

import numpy as np

from kerfwright.basics import Known
from kerfwright.formats import Problems, QuantityError, read_known
from kerfwright.physics.wood import equilibrium_moisture_percent
from kerfwright.stock import Board, Sawn

PART_KEYS = ("name", "size", "within", "near", "line", "measure", "note")
CLIMATE_KEYS = ("wood_now", "air_now", "wood_later", "air_later", "temperature", "sawn", "note")
MOST_WANTED = 200
#: Kinds of sizes that may be asked for, as a verdict names them.
DEPTH = "depth"
MEASURES = (
    "across X", "across Y", "wall to wall", "gap between walls", "diagonals differ", DEPTH,
)  # fmt: skip
#: Moisture of wood by the air around it is off by about so much: common practice, no source. [%]
AIR_U_PERCENT = 0.7
_ROOM = Known(value=20.0, kind="default", ref="a room: common practice, no source")
_DRY = Known(
    value=9.0, kind="default", ref="wood kept indoors: common practice, no source", low=6.0,
    high=12.0,
)  # fmt: skip

At = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A size that the part is to have."""

    name: str
    meant_mm: float
    low_mm: float  #: from here on it is right
    high_mm: float
    measure: str = ""  #: the kind of size, or any
    near_mm: tuple[float, float] | None = None  #: on the board
    line: int = 0  #: of the program, that cuts it; 0: not said

    @property
    def key(self) -> str:
        """Its name as part of an id."""
        return "-".join("".join(c if c.isalnum() else " " for c in self.name).split()).lower()


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Moisture of the wood when it is cut, and later where the part lives. [%]"""

    now_percent: Known
    later_percent: Known
    sawn: Sawn = "don't know"


def read_wanted(
    problems: Problems, data: Mapping[str, Any], board: Board | None, tolerance_mm: float
) -> tuple[Wanted, ...]:
    """The wanted sizes of a job; errors go to ``problems``."""
    tables = data.get("parts", [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        problems.add(("parts",), "parts is no list of sections", "write [[parts]] above each size")
        return ()
    if len(tables) > MOST_WANTED:
        problems.add(("parts",), f"wants more than {MOST_WANTED} sizes", "leave some out")
    out: list[Wanted] = []
    for index, table in enumerate(tables[:MOST_WANTED]):
        at = ("parts", index)
        problems.unknown_keys(table, at, PART_KEYS)
        name = table.get("name")
        if not isinstance(name, str) or not name.isprintable() or not 0 < len(name.strip()) <= 40:
            problems.add((*at, "name"), "the size has no name", 'write it like name = "tongue"')
            continue
        ends = problems.reading((*at, "size"), partial(_ends, table, tolerance_mm))
        near = problems.reading((*at, "near"), partial(_near, table.get("near"), board))
        line = problems.reading((*at, "line"), partial(_line, table.get("line")))
        measure = problems.reading((*at, "measure"), partial(_measure, table.get("measure")))
        if measure == DEPTH and near is None and "near" not in table:
            problems.add(
                (*at, "measure"), "a depth is asked for, and no place",
                'say where its floor is, like near = ["85 mm", "60 mm"]',
            )  # fmt: skip
        if ends is None:
            continue
        one = Wanted(
            name=name.strip(), meant_mm=ends[0], low_mm=ends[1], high_mm=ends[2],
            measure=measure or "", near_mm=near, line=line or 0,
        )  # fmt: skip
        if any(other.key == one.key for other in out) or not one.key:
            problems.add((*at, "name"), f'there are two "{one.name}"', "give each its own name")
        out.append(one)
    return tuple(out)


def _ends(table: Mapping[str, Any], tolerance_mm: float) -> tuple[float, float, float]:
    remedy = 'write it like size = "19 ± 0.1 mm" or size = "18.9 to 19 mm"'
    if "size" not in table:
        raise QuantityError("how large it is to be is not said", remedy)
    known = read_known(table["size"], "length", "job file")
    if known is None or not 0.0 <= known.value <= 10_000.0:
        raise QuantityError("is no size that a part can have", remedy)
    if known.low is not None and known.high is not None:
        return known.value, known.low, known.high
    if known.u:
        return known.value, *known.interval()
    within = tolerance_mm
    if "within" in table:
        said = read_known(table["within"], "length", "job file")
        if said is None or not 0.0 < said.value <= 50.0:
            raise QuantityError("within is no tolerance", 'write it like within = "0.1 mm"')
        within = said.value
    return known.value, known.value - within, known.value + within


def _near(value: object, board: Board | None) -> tuple[float, float] | None:
    if value is None:
        return None
    remedy = 'write it like near = ["85 mm", "60 mm"], from the left front corner of the board'
    if not isinstance(value, list) or len(value) != 2:
        raise QuantityError("is no place on the board", remedy)
    most = (board.length_mm, board.width_mm) if board is not None else (np.inf, np.inf)
    ends = []
    for one, end in zip(value, most, strict=True):
        known = read_known(one, "length", "job file")
        if known is None or not 0.0 <= known.value <= end:
            raise QuantityError("the place is not on the board", remedy)
        ends.append(known.value)
    return ends[0], ends[1]


def _line(value: object) -> int:
    if value is None:
        return 0
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value < 10**9:
        raise QuantityError("is no line of a program", "write its number, line = 120")
    return value


def _measure(value: object) -> str:
    if value is None:
        return ""
    if not isinstance(value, str) or value not in MEASURES:
        raise QuantityError(
            f'"{str(value)[:40]}" is no kind of size', f"write one of {', '.join(MEASURES)}"
        )
    return value


def read_climate(
    problems: Problems, data: Mapping[str, Any], board: Board | None, assumed: list[str]
) -> Climate | None:
    """Moisture now and later; None where the job has no ``[climate]``."""
    if "climate" not in data:
        return None
    table = problems.section(data, "climate")
    problems.unknown_keys(table, ("climate",), CLIMATE_KEYS)
    room = _value(problems, table, "temperature", "temperature", (-5.0, 60.0)) or _ROOM
    now = _moisture(problems, table, "now", room)
    if now is None and board is not None and "moisture_percent" in board.known:
        now = board.known["moisture_percent"]
    later = _moisture(problems, table, "later", room)
    for name, said in (("when it is cut", now), ("later", later)):
        if said is None:
            assumed.append(f"moisture of the wood {name}: 6 to 12 %, {_DRY.ref}")
    sawn = table.get("sawn", "don't know")
    if sawn not in get_args(Sawn):
        problems.add(
            ("climate", "sawn"), "does not say how the board was sawn",
            'write "flat", "quarter" or "don\'t know"',
        )  # fmt: skip
        sawn = "don't know"
    elif sawn == "don't know" and board is not None and board.wood.kind == "solid":
        assumed.append("how the board was sawn from the log is not known: flat or quarter")
    return Climate(now_percent=now or _DRY, later_percent=later or _DRY, sawn=cast(Sawn, sawn))


def _moisture(problems: Problems, table: Mapping[str, Any], when: str, room: Known) -> Known | None:
    """What a meter read in the wood, or what the air around it makes. [%]"""
    wood = _value(problems, table, f"wood_{when}", "share", (0.0, 0.3))
    air = _value(problems, table, f"air_{when}", "share", (0.0, 0.95))
    if wood is not None and air is not None:
        problems.add(
            ("climate", f"air_{when}"), "moisture is said twice", "leave out that of the air"
        )
    if wood is not None:
        return _mapped(wood, lambda share: 100.0 * share, 0.0)
    if air is None:
        return None
    return _mapped(
        air, lambda share: float(equilibrium_moisture_percent(share, room.value)), AIR_U_PERCENT
    )


def _mapped(known: Known, of: Any, more_u: float) -> Known:
    """A value put through a rising function, its spread too."""
    if known.low is not None and known.high is not None:
        low, high = of(max(known.low, 0.0)) - more_u, of(known.high) + more_u
        return Known(value=0.5 * (low + high), kind=known.kind, ref=known.ref, low=low, high=high)
    low, high = (of(min(max(end, 0.0), 0.95)) for end in known.interval())
    u = float(np.hypot((high - low) / 3.92, more_u))
    return Known(value=of(known.value), kind=known.kind, ref=known.ref, u=u)


def _value(
    problems: Problems, table: Mapping[str, Any], key: str, dimension: str,
    ends: tuple[float, float],
) -> Known | None:  # fmt: skip
    if key not in table:
        return None

    def read() -> Known | None:
        known = read_known(table[key], dimension, "job file")
        if known is not None and not all(
            ends[0] <= one <= ends[1]
            for one in (known.value, known.low or known.value, known.high or known.value)
        ):
            raise QuantityError(f"{key} is beyond all that can be", "check the number and its unit")
        return known

    return problems.reading(("climate", key), read)
