"""``[hold]`` of a job: screws, nails, tape, vacuum and clamps that keep the board in its place."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import sqrt
from typing import Any, Literal

from kerfwright.basics import Known
from kerfwright.basics.units import GRAVITY_MM_PER_S2
from kerfwright.fixture import Clamp
from kerfwright.formats import Problems, QuantityError, read_known, read_size
from kerfwright.stock import Board

HOLD_KEYS = (
    "screws", "screw_holds", "nails", "nail_holds", "tape", "tape_holds", "vacuum", "clamp_force",
    "friction", "note",
)  # fmt: skip
MOST_PLACES = 400
_PATCHES = 8  #: a held area is taken as so many patches each way
_UNKNOWN = ("don't know", "don’t know", "unknown", "?")

GripKind = Literal["screw", "nail", "clamp", "tape", "vacuum"]


def _range(low: float, high: float, ref: str) -> Known:
    """A range of forces; its middle is that of the logarithm."""
    return Known(value=sqrt(low * high), kind="default", ref=ref, low=low, high=high)


#: What is taken where nothing is said, for each screw, nail or clamp [N], or each mm² [MPa].
#: Screw: Wood Handbook equation 8-10 (read in a transcription) gives 2400 N at which a 4 mm screw
#: with 10 mm of thread in MDF tears out; a fifth of that is what one designs with.
#: Nail: its form for smooth nails, 54.12 G^2.5 D L, gives 316 N for 1.2 x 10 mm; a fifth and up.
USUAL: dict[str, Known] = {
    "screw": _range(
        300.0, 1500.0,
        "a 4 mm screw with 10 mm of thread in a spoil board tears out at some 2400 N by the Wood"
        " Handbook's equation 8-10; a fifth of it and up is common practice, no source",
    ),
    "nail": _range(40.0, 200.0, "common practice, no source"),
    "tape": _range(0.02, 0.10, "double-sided tape, from memory; dust halves it"),
    "vacuum": _range(0.03, 0.06, "through a spoil board of MDF, from memory"),
    "clamp": _range(200.0, 1500.0, "done up by hand: common practice, no source"),
}  # fmt: skip
FRICTION = Known(
    value=0.3, kind="default", ref="smooth dry wood on wood, from memory", low=0.2, high=0.5
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """Places that hold alike: each as good as ``force_n``.

    A clamp or vacuum presses the board down, and friction holds it sideways. Screws, nails and
    tape hold sideways and against lifting by themselves.
    """

    kind: GripKind
    at_mm: tuple[tuple[float, float], ...]  #: in the board's frame
    force_n: Known  #: of each place: what it presses with, or the force at which it lets go
    whole: bool = False  #: it holds an area all over, so nothing spans freely there
    area_mm2: float = 0.0  #: of tape, at each place

    @property
    def presses(self) -> bool:
        """Whether it works through friction alone."""
        return self.kind in ("clamp", "vacuum")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """All that holds the board, and the friction under it."""

    grips: tuple[Grip, ...]
    friction: Known
    weight_n: float  #: of the board
    assumed: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether all of the board is held from below."""
        return any(grip.whole for grip in self.grips)


def read_hold(
    problems: Problems, data: Mapping[str, Any], board: Board | None, clamps: Sequence[Clamp]
) -> Hold | None:
    """``[hold]`` and the clamps as one; None where nothing is said of what holds the board.

    Parameters
    ----------
    data : mapping
        The whole job file; errors go to ``problems``.
    board : Board or None
        None if it could not be read: then only errors come out.
    clamps : sequence of Clamp
        Those that stand on the board press it.
    """
    table = problems.section(data, "hold")
    problems.unknown_keys(table, ("hold",), HOLD_KEYS)
    if board is None or not (table or clamps):
        return None
    grips: list[Grip] = []
    words: list[str] = []
    for key, force, kind in (
        ("screws", "screw_holds", "screw"), ("nails", "nail_holds", "nail"),
    ):  # fmt: skip
        if key in table:
            places = _places(problems, table[key], ("hold", key), board)
            held = _force(problems, table, force, "force", kind, words)
            grips += [Grip(kind=kind, at_mm=places, force_n=held)] if places else []  # type: ignore[arg-type]
    grips += _tape(problems, table, board, words)
    grips += _vacuum(problems, table, board, words)
    grips += _clamps(problems, table, board, clamps, words)
    friction = _read(problems, table, "friction", "number")
    if friction is None:
        friction = FRICTION
        words.append(f"friction under the board {_span(friction)} ({friction.ref})")
    return Hold(
        grips=tuple(grips), friction=friction, weight_n=weight_n(board), assumed=tuple(words)
    )


def weight_n(board: Board) -> float:
    """Weight of a board. [N]"""
    volume_m3 = board.length_mm * board.width_mm * board.thickness_mm * 1e-9
    return volume_m3 * board.wood.density_kg_per_m3 * GRAVITY_MM_PER_S2 / 1000.0


def patches(
    left_mm: float, front_mm: float, along_mm: float, across_mm: float
) -> tuple[tuple[float, float], ...]:
    """Middles of the patches of a rectangle."""
    share = [(k + 0.5) / _PATCHES for k in range(_PATCHES)]
    return tuple((left_mm + s * along_mm, front_mm + t * across_mm) for t in share for s in share)


def _tape(
    problems: Problems, table: Mapping[str, Any], board: Board, words: list[str]
) -> list[Grip]:
    if "tape" not in table:
        return []
    value, at = table["tape"], ("hold", "tape")
    strips = []
    whole = isinstance(value, str) and value.strip().lower() == "whole"
    if whole:
        strips = [(0.0, 0.0, board.length_mm, board.width_mm)]
    elif isinstance(value, list) and len(value) <= MOST_PLACES:
        strips = [
            strip for one in value if (strip := problems.reading(at, partial(_strip, one, board)))
        ]
    else:
        problems.add(
            at, "is no place of tape",
            'write tape = "whole", or tape = [{ at = ["10 mm", "20 mm"], size = "50 x 20 mm" }]',
        )  # fmt: skip
    if not strips:
        return []
    stress = _force(problems, table, "tape_holds", "stress", "tape", words)
    return [
        Grip(
            kind="tape", at_mm=patches(*strip), whole=whole,
            force_n=_times(stress, strip[2] * strip[3] / _PATCHES**2),
            area_mm2=strip[2] * strip[3] / _PATCHES**2,
        )
        for strip in strips
    ]  # fmt: skip


def _strip(value: object, board: Board) -> tuple[float, float, float, float]:
    remedy = 'write it like { at = ["10 mm", "20 mm"], size = "50 x 20 mm" }'
    if not isinstance(value, Mapping) or not isinstance(value.get("size"), str):
        raise QuantityError("a strip of tape has no size", remedy)
    x, y = _place(value.get("at"), board)
    sizes, rest = read_size(value["size"])
    if rest or len(sizes) != 2:
        raise QuantityError("a strip of tape is as long as wide: two lengths", remedy)
    return x, y, min(sizes[0], board.length_mm - x), min(sizes[1], board.width_mm - y)


def _vacuum(
    problems: Problems, table: Mapping[str, Any], board: Board, words: list[str]
) -> list[Grip]:
    if "vacuum" not in table:
        return []
    stress = _force(problems, table, "vacuum", "stress", "vacuum", words)
    area = board.length_mm * board.width_mm / _PATCHES**2
    at = patches(0.0, 0.0, board.length_mm, board.width_mm)
    return [Grip(kind="vacuum", at_mm=at, force_n=_times(stress, area), whole=True)]


def _clamps(
    problems: Problems,
    table: Mapping[str, Any],
    board: Board,
    clamps: Sequence[Clamp],
    words: list[str],
) -> list[Grip]:
    """Each clamp presses in the middle of what it covers of the board."""
    usual = None
    grips = []
    for clamp in clamps:
        left, front, right, back = clamp.box_mm
        low = max(left, 0.0), max(front, 0.0)
        high = min(right, board.length_mm), min(back, board.width_mm)
        if low[0] >= high[0] or low[1] >= high[1]:
            continue
        force = clamp.force_n
        if force is None:
            if usual is None:
                usual = _force(problems, table, "clamp_force", "force", "clamp", words)
            force = usual
        at = (0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1]))
        grips.append(Grip(kind="clamp", at_mm=(at,), force_n=force))
    return grips


def _force(
    problems: Problems,
    table: Mapping[str, Any],
    key: str,
    dimension: str,
    kind: str,
    words: list[str],
) -> Known:
    known = _read(problems, table, key, dimension)
    if known is not None:
        return known
    usual = USUAL[kind]
    unit = "kPa" if dimension == "stress" else "N"
    shown = _times(usual, 1000.0) if dimension == "stress" else usual
    each = "the tape holds" if kind == "tape" else f"each {kind} holds"
    each = "the vacuum draws" if kind == "vacuum" else each
    words.append(f"{each} {_span(shown)} {unit} ({usual.ref})")
    return usual


def _read(problems: Problems, table: Mapping[str, Any], key: str, dimension: str) -> Known | None:
    if key not in table:
        return None

    def read() -> Known | None:
        known = read_known(table[key], dimension, "job file")
        if known is not None and not min(known.value, *known.interval()) > 0.0:
            raise QuantityError(f"{key} is not above 0", "check the number and its unit")
        if known is not None and dimension == "number" and known.value > 2.0:
            raise QuantityError("no wood rubs as hard as that", "write it like friction = 0.3")
        return known

    return problems.reading(("hold", key), read)


def _places(
    problems: Problems, value: object, at: tuple[str, str], board: Board
) -> tuple[tuple[float, float], ...]:
    wanted = 'write it like screws = [["12 mm", "15 mm"], ["190 mm", "15 mm"]]'
    if not isinstance(value, list) or len(value) > MOST_PLACES:
        problems.add(at, "is no list of places", wanted)
        return ()
    read = (problems.reading(at, partial(_place, one, board)) for one in value)
    return tuple(place for place in read if place is not None)


def _place(value: object, board: Board) -> tuple[float, float]:
    remedy = 'write it like ["12 mm", "15 mm"], from the left front corner of the board'
    if not isinstance(value, list) or len(value) != 2:
        raise QuantityError("is no place on the board", remedy)
    ends = []
    for one, most in zip(value, (board.length_mm, board.width_mm), strict=True):
        known = read_known(one, "length", "job file")
        if known is None or not 0.0 <= known.value <= most:
            raise QuantityError("a place is not on the board", remedy)
        ends.append(known.value)
    return ends[0], ends[1]


def _times(known: Known, factor: float) -> Known:
    def times(value: float | None) -> float | None:
        return None if value is None else factor * value

    return Known(
        value=factor * known.value, kind=known.kind, ref=known.ref, u=times(known.u),
        low=times(known.low), high=times(known.high),
    )  # fmt: skip


def _span(known: Known) -> str:
    return f"{known.low:g} to {known.high:g}"
