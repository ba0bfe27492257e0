"""A program's motions and events as plain entries, in the order in which they happen.

The entries are those of the test vectors: lengths in mm, feeds in mm/min, angles in degrees.
"""

from collections.abc import Iterator
from math import cos, degrees, hypot, sin
from typing import Any

from kerfwright.basics.units import MINUTE_S
from kerfwright.program.pieces import PLANES
from kerfwright.program.program import Event, MoveKind, Program

Entry = dict[str, Any]


def entries(program: Program, moves: int | None = None, events: int | None = None) -> list[Entry]:
    """The first ``moves`` moves and the first ``events`` events of a program; None: all of them.

    Entries: ``rapid`` and ``feed`` with ``to`` and ``f``; ``arc`` also with ``plane``, ``center``,
    ``dir``, ``radius``, ``sweep_deg``, ``mid`` and ``length``; ``probe`` with the programmed end;
    ``dwell``, ``spindle``, ``tool``, ``coolant``, ``sync``, ``stop``. A move whose time was given
    (G93) has ``time_s`` in place of ``f``. Each has the ``line`` that it comes from.
    """
    count = program.moves if moves is None else moves
    happened = program.events if events is None else program.events[:events]
    found: list[Entry] = []
    waiting = 0
    for index, motion in enumerate(_motions(program, count)):
        probing = False
        while waiting < len(happened) and happened[waiting].before_move <= index:
            event = happened[waiting]
            _add_event(found, event)
            # The probing move itself is in that entry, unless the probe was in contact already.
            probing = event.kind == "probe" and event.line == motion["line"]
            waiting += 1
        if not probing:
            found.append(motion)
    for event in happened[waiting:]:
        _add_event(found, event)
    return found


def _motions(program: Program, count: int) -> Iterator[Entry]:
    start = program.from_mm
    timed = set(program.timed_moves.tolist())
    arc_of = {move: row for row, move in enumerate(program.arcs.move.tolist())}
    for index in range(count):
        entry: Entry = {"type": "rapid", "to": program.end_mm[index].tolist()}
        length = None
        if program.kind[index] == MoveKind.ARC:
            entry["type"] = "arc"
            entry.update(_arc(program, arc_of[index], start[index].tolist(), entry["to"]))
            length = entry["length"]
        elif program.kind[index] == MoveKind.LINE:
            entry["type"] = "feed"
        if entry["type"] != "rapid":
            feed = float(program.feed_mm_per_s[index])
            if index in timed:
                if length is None:
                    length = hypot(*(program.end_mm[index] - start[index]).tolist())
                entry["time_s"] = length / feed
            else:
                entry["f"] = feed * MINUTE_S
        entry["line"] = int(program.line[index])
        yield entry


def _arc(program: Program, row: int, start: list[float], to: list[float]) -> Entry:
    arcs = program.arcs
    normal = int(arcs.normal[row])
    a, b = (normal + 1) % 3, (normal + 2) % 3
    centre: list[float] = arcs.centre_mm[row].tolist()
    sweep = float(arcs.sweep_rad[row])
    from_a, from_b = start[a] - centre[a], start[b] - centre[b]
    radius = hypot(from_a, from_b)
    mid = list(start)
    mid[a] = centre[a] + from_a * cos(0.5 * sweep) - from_b * sin(0.5 * sweep)
    mid[b] = centre[b] + from_a * sin(0.5 * sweep) + from_b * cos(0.5 * sweep)
    mid[normal] = 0.5 * (start[normal] + to[normal])
    return {
        "plane": PLANES[normal],
        "center": [None if axis == normal else centre[axis] for axis in range(3)],
        "dir": "ccw" if sweep > 0.0 else "cw",
        "radius": radius,
        "sweep_deg": degrees(abs(sweep)),
        "mid": mid,
        "length": hypot(radius * sweep, to[normal] - start[normal]),
    }


def _add_event(found: list[Entry], event: Event) -> None:
    entry: Entry
    if event.kind == "probe":
        entry = {"type": "probe", "to": list(event.at_mm or ()), "f": event.value * MINUTE_S}
    elif event.kind == "dwell":
        entry = {"type": "dwell", "seconds": event.value}
    elif event.kind == "spindle":
        state = event.words or ("cw" if event.value > 0.0 else "ccw" if event.value else "stop")
        entry = {"type": "spindle", "state": state}
        if event.value:
            entry["rpm"] = abs(event.value) * MINUTE_S
    elif event.kind == "cutter":
        entry = {"type": "tool", "slot": int(event.value)}
    elif event.kind == "coolant":
        states = ("off", "mist", "flood", "mist+flood")
        entry = {"type": "coolant", "state": states[int(event.value)]}
    elif event.kind == "sync":
        entry = {"type": "sync", "state": "on" if event.value else "off"}
    elif event.kind in ("stop", "optional_stop"):
        kind = "optional" if event.kind == "optional_stop" else event.words or "program"
        entry = {"type": "stop", "kind": kind}
    else:
        return  # messages stand in ``after``; what the end does by itself is not listed
    entry["line"] = event.line
    found.append(entry)
