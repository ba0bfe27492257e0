"""When a program waits, for how long, and how well that is known."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Known
from kerfwright.machine import MachineModel
from kerfwright.program import Event, Program

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CHANGES = "cutter changes"
SET_Z = "setting Z again"
SWITCH = "switching the hand router"
STOPS = "program stops"
STARTS = "spindle starts"
DWELLS = "dwells"
#: What the person does: left out where only the running machine was timed.
BY_HAND = (CHANGES, SET_Z, SWITCH, STOPS)

_PATHS = {
    CHANGES: "controller.cutter_change_time",
    SET_Z: "controller.set_z_time",
    SWITCH: "controller.router_switch_time",
    STOPS: "controller.stop_time",
    STARTS: "controller.spindle_start_time",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """All waiting of one sort."""

    name: str  #: one of the names above
    path: str  #: in machine.toml; "" for dwells, which the program itself states
    each: Known  #: what one of them takes [s]; of dwells all together
    before_move: IntArray  #: (k,) moves that they stand before, not falling
    seconds: FloatArray  #: (k,) middle of what is known [s]

    @property
    def total_s(self) -> float:
        """All of them together."""
        return float(self.seconds.sum())


def cutter_there(program: Program) -> int | None:
    """Slot of the cutter that is taken to be in the spindle where no set-up says it.

    The first that the program asks for, if it does so before it moves.
    """
    first = next((event for event in program.events if event.kind == "cutter"), None)
    if first is None or first.before_move > 0 or first.value <= 0:
        return None
    return int(first.value)


def waits(
    program: Program, machine: MachineModel, in_spindle: int | None = None
) -> tuple[Waiting, ...]:
    """Every wait of a program, by sort; sorts that do not occur are left out.

    ``in_spindle``: slot of the cutter that is there at the start; to ask for it takes no time.

    A stop without a move between it and a cutter change is part of that change. Where the
    controller ignores cutter changes, such a stop is where the person makes one; without a stop
    nothing is waited for. An optional stop (M1) is taken as switched off. A hand router is switched
    off and on at each change; for the first time before the program runs.
    """
    ignored = machine.controller.cutter_change == "ignores it"
    changes = _changes(program, in_spindle)
    beside_a_change = set(changes.values())
    at: dict[str, list[tuple[int, float]]] = {}

    def add(name: str, before_move: int, seconds: float | None = None) -> None:
        if seconds is None:
            seconds = machine.known[_PATHS[name]].value
        at.setdefault(name, []).append((before_move, seconds))

    def change(before_move: int) -> None:
        add(CHANGES, before_move)
        if machine.controller.cutter_change != "stops, length table":
            add(SET_Z, before_move)
        if machine.spindle.kind == "hand router":
            add(SWITCH, before_move)

    turning = 0.0
    made: set[int] = set()
    for number, event in enumerate(program.events):
        where = event.before_move
        if event.kind == "dwell":
            add(DWELLS, where, event.value)
        elif event.kind == "cutter":
            if number in changes and not ignored:
                change(where)
        elif event.kind == "stop":
            if where not in beside_a_change:
                add(STOPS, where)
            elif ignored and where not in made:
                made.add(where)
                change(where)
        elif event.kind == "spindle":
            if _starts(event, turning) and machine.spindle.follows_program:
                add(STARTS, where)
            turning = event.value
    return tuple(_waiting(name, at[name], machine) for name in (*_PATHS, DWELLS) if name in at)


def _starts(event: Event, turning: float) -> bool:
    return event.value not in (turning, 0.0)


def _changes(program: Program, there: int | None) -> dict[int, int]:
    """Number of each event that is a real change of cutter, and the move that it is before."""
    out = {}
    for number, event in enumerate(program.events):
        if event.kind == "cutter":
            if event.value != there:
                out[number] = event.before_move
            there = int(event.value)
    return out


def _waiting(name: str, at: list[tuple[int, float]], machine: MachineModel) -> Waiting:
    before, seconds = (np.array(column) for column in zip(*at, strict=True))
    if name == DWELLS:
        path = ""
        total = float(seconds.sum())
        each = Known(value=total, kind="datasheet", ref="stated by the program")
    else:
        path = _PATHS[name]
        each = machine.known[path]
    return Waiting(
        name=name,
        path=path,
        each=each,
        before_move=before.astype(np.int64),
        seconds=seconds.astype(np.float64),
    )
