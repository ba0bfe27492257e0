"""Canned cycles G81 to G89: one line, one or several holes (NISTIR 6556, 3.5.16).

Written for the XY plane; in XZ the depth axis is Y, in YZ it is X.
"""

from dataclasses import dataclass
from math import ceil

from kerfwright.basics.units import MINUTE_S
from kerfwright.program import origins
from kerfwright.program.pieces import Straight
from kerfwright.program.problem import Fault
from kerfwright.program.program import MoveKind
from kerfwright.program.run import Run
from kerfwright.program.state import State, Sticky
from kerfwright.program.usage import name
from kerfwright.program.words import LONGEST_DWELL_S, Line, missing, whole, within

#: How far above the last bottom a pecking cycle stops its rapid move. From memory: the standard
#: leaves the amount open.
ABOVE_BOTTOM_MM = 0.254
MOST_REPEATS = 10_000
MOST_PECKS = 10_000  # of all holes on a line

_WITH_DWELL = frozenset((820, 860, 880, 890))
_PECKING, _TAPPING, _BACK_BORING = 830, 840, 870


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """One hole of a cycle. Places along the depth axis. [mm, s, mm/s]"""

    code: int
    axis: int  #: the depth axis
    retract: float  #: R
    bottom: float
    clear: float  #: where the cutter goes when the hole is done
    feed: float
    dwell_s: float = 0.0
    peck: float = 0.0
    aside: tuple[float, float] = (0.0, 0.0)  #: G87: the step aside, in the order of the plane
    upper: float = 0.0  #: G87: where the boring from below ends


def cycle(run: Run, line: Line, code: int) -> None:
    """Carry out a line on which a canned cycle is in force.

    Raises
    ------
    Fault
        If a word is missing or out of its range, or the state forbids the cycle.
    """
    state = run.state
    _check_state(line, state, code)
    numbers = _numbers(line, state, code)
    axis, old = state.normal, state.place[state.normal]
    repeats = whole(line, "L", 1, MOST_REPEATS) if "L" in line.words else 1
    hole = _hole(line, state, code, numbers, old, repeats)
    before = state.cycle
    if before is not None and state.to_old_z and not before.to_old_z:
        run.tell("old_z")
    if old < hole.retract:
        _along(run, axis, hole.retract)
    for _ in range(repeats):
        _over_hole(run, line, axis)
        _along(run, axis, hole.retract)
        _drill(run, hole)
    state.cycle = Sticky(code=code, numbers=numbers, to_old_z=state.to_old_z)


def _check_state(line: Line, state: State, code: int) -> None:
    column = line.g[1].column if 1 in line.g else line.column("X", "Y", "Z")
    if not any(letter in line.words for letter in "XYZ"):
        raise Fault(
            "axis_missing", column, f"{name(code)} has no X, Y or Z word", "say where the hole is"
        )
    if state.compensation is not None:
        raise Fault(
            "cycle_crc",
            column,
            f"{name(code)} cannot be used while cutter radius compensation is on",
            "end it with G40",
        )
    if state.inverse_time:
        raise Fault(
            "cycle_inverse_time",
            column,
            f"{name(code)} cannot be used with G93 in force",
            "write G94 and F with the feed",
        )
    if not state.feed > 0.0:
        raise Fault("feed_zero", column, "no feed is in force for this hole", "add F with the feed")
    turning = state.turning if state.speed > 0.0 else 0  # at S0 it stands, after M3 too
    if code == _TAPPING and turning != 1:
        raise Fault(
            "cycle_spindle",
            column,
            "G84 needs the spindle to turn clockwise",
            "write S and M3 before it",
        )
    if code == 860 and turning == 0:
        raise Fault(
            "cycle_spindle",
            column,
            "G86 needs the spindle to turn",
            "write S and M3 or M4 before it",
        )


def _numbers(line: Line, state: State, code: int) -> dict[str, float]:
    """The words that stay in force from hole to hole: as written here, or on a line before."""
    depth = "XYZ"[state.normal]
    before = state.cycle
    numbers = dict(before.numbers) if before is not None and before.code == code else {}
    wanted = [depth, "R"]
    if code in _WITH_DWELL:
        wanted.append("P")
        if "P" in line.words:
            within(line, "P", 0.0, LONGEST_DWELL_S)
    if code == _PECKING:
        wanted.append("Q")
        if "Q" in line.words and not line.words["Q"].value > 0.0:
            raise Fault(
                "range",
                line.words["Q"].column,
                f"Q{line.words['Q'].value:g} is no depth for one peck",
                "write Q above 0",
            )
    for letter in wanted:
        if letter in line.words:
            numbers[letter] = line.words[letter].value
        elif letter not in numbers:
            raise missing(line, letter, name(code))
    return numbers


def _hole(
    line: Line, state: State, code: int, numbers: dict[str, float], old: float, repeats: int
) -> Hole:
    axis, unit = state.normal, state.unit
    depth = "XYZ"[axis]
    if state.incremental:
        retract = old + numbers["R"] * unit
        bottom = retract + numbers[depth] * unit
    else:
        retract = numbers["R"] * unit + state.shift[axis]
        bottom = numbers[depth] * unit + state.shift[axis]
    column = line.column("R", depth, "X", "Y", "Z")
    origins.check_reach(retract, "R", column)
    origins.check_reach(bottom, depth, column)
    if retract < bottom:
        raise Fault(
            "cycle_r_below_z",
            column,
            f"R lies {bottom - retract:g} mm below the bottom of the hole",
            f"R is where the feed begins: put it above {depth}",
        )
    hole = Hole(
        code=code,
        axis=axis,
        retract=retract,
        bottom=bottom,
        clear=max(old, retract) if state.to_old_z else retract,
        feed=state.feed * unit / MINUTE_S,
        dwell_s=numbers.get("P", 0.0),
        peck=numbers.get("Q", 0.0) * unit,
    )
    if code == _PECKING and not repeats * (retract - bottom) <= MOST_PECKS * hole.peck:
        holes = "the hole takes" if repeats == 1 else f"{repeats} holes take"
        raise Fault(
            "range",
            line.column("Q", depth),
            f"{holes} more than {MOST_PECKS} pecks",
            "write a larger Q" if repeats == 1 else "write a larger Q or a smaller L",
        )
    return hole if code != _BACK_BORING else _back_boring(line, state, hole)


def _back_boring(line: Line, state: State, hole: Hole) -> Hole:
    a, b = (hole.axis + 1) % 3, (hole.axis + 2) % 3
    for letter in "IJK":
        if letter not in line.words:
            raise missing(line, letter, "G87")
    up = line.words["IJK"[hole.axis]]
    start = hole.bottom if state.incremental else state.shift[hole.axis]
    upper = up.value * state.unit + start
    origins.check_reach(upper, "IJK"[hole.axis], up.column)
    aside = [line.words["IJK"[axis]].value * state.unit for axis in (a, b)]
    for letter, step in zip(("IJK"[a], "IJK"[b]), aside, strict=True):
        origins.check_reach(step, letter, line.column(letter))
    return Hole(
        code=hole.code,
        axis=hole.axis,
        retract=hole.retract,
        bottom=hole.bottom,
        clear=hole.clear,
        feed=hole.feed,
        aside=(aside[0], aside[1]),
        upper=upper,
    )


def _along(run: Run, axis: int, to: float, feed_mm_per_s: float | None = None) -> None:
    """Go along one axis: at rapid, or at a feed."""
    place = list(run.state.place)
    place[axis] = to
    piece = Straight(to=(place[0], place[1], place[2]))
    if feed_mm_per_s is None:
        run.go([piece], MoveKind.RAPID)
    else:
        run.go([piece], MoveKind.LINE, feed_mm_per_s)


def _over_hole(run: Run, line: Line, axis: int) -> None:
    """Rapid in the plane to the next hole, at the height where the cutter is."""
    state = run.state
    to = list(state.place)
    for other in ((axis + 1) % 3, (axis + 2) % 3):
        letter = "XYZ"[other]
        word = line.words.get(letter)
        if word is None:
            continue
        start = state.place if state.incremental else state.shift
        to[other] = word.value * state.unit + start[other]
        origins.check_reach(to[other], letter, word.column)
    run.go([Straight(to=(to[0], to[1], to[2]))], MoveKind.RAPID)


def _drill(run: Run, hole: Hole) -> None:
    """From R over the hole to the end of the cycle."""
    turning = run.state.turning
    if hole.code == _PECKING:
        _peck(run, hole)
        return
    if hole.code == _BACK_BORING:
        _bore_back(run, hole, turning)
        return
    if hole.code == _TAPPING:
        run.columns.happens("sync", value=1.0)
    _along(run, hole.axis, hole.bottom, hole.feed)
    if hole.code in _WITH_DWELL:
        run.columns.happens("dwell", value=hole.dwell_s)
    if hole.code == _TAPPING:
        _spin(run, 0)
        _spin(run, -1)
    elif hole.code in (860, 880):
        _spin(run, 0)
    if hole.code == 880:  # the person takes the cutter out by hand
        run.columns.happens("stop")
    else:
        at_feed = hole.code in (_TAPPING, 850, 890)
        _along(run, hole.axis, hole.clear, hole.feed if at_feed else None)
    if hole.code == _TAPPING:
        run.columns.happens("sync", value=0.0)
        _spin(run, 0)
    _spin(run, turning)


def _peck(run: Run, hole: Hole) -> None:
    """G83: down by Q at a time, out to clear the chips after each."""
    pecks = max(1, ceil((hole.retract - hole.bottom) / hole.peck - 1e-9))
    for count in range(1, pecks + 1):
        bottom = hole.bottom if count == pecks else hole.retract - count * hole.peck
        _along(run, hole.axis, bottom, hole.feed)
        _along(run, hole.axis, hole.clear)
        if count < pecks:
            _along(run, hole.axis, min(bottom + ABOVE_BOTTOM_MM, hole.clear))


def _bore_back(run: Run, hole: Hole, turning: int) -> None:
    """G87: through the hole beside its middle, then bore upwards from below."""
    state, axis = run.state, hole.axis
    middle = list(state.place)
    aside = list(middle)
    aside[(axis + 1) % 3] += hole.aside[0]
    aside[(axis + 2) % 3] += hole.aside[1]

    def go(at: list[float], height: float) -> None:
        to = list(at)
        to[axis] = height
        run.go([Straight(to=(to[0], to[1], to[2]))], MoveKind.RAPID)

    go(aside, hole.retract)
    _spin(run, 0, oriented=True)
    go(aside, hole.bottom)
    go(middle, hole.bottom)
    _spin(run, turning)
    _along(run, axis, hole.upper, hole.feed)
    _along(run, axis, hole.bottom, hole.feed)
    _spin(run, 0, oriented=True)
    go(aside, hole.bottom)
    go(aside, hole.clear)
    go(middle, hole.clear)
    _spin(run, turning)


def _spin(run: Run, turning: int, *, oriented: bool = False) -> None:
    run.state.turning = turning
    if oriented:
        run.state.spindle_rev_per_s = 0.0
        run.columns.happens("spindle", words="orient")
    else:
        run.set_spindle()
