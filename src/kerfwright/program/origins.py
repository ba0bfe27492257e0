"""Origins, G92, length offset and homes: what a program's numbers are counted from.

Parameters that hold lengths are kept in mm (NISTIR 6556 leaves their units open), and count in
the machine's own coordinates: ``StartState.zero_at_mm`` is where the set-up's zero stands in those.
"""

from kerfwright.kernels.program_state import SAID_DISTANCE, SAID_PLANE, SAID_UNITS
from kerfwright.program.pieces import Straight, Vector
from kerfwright.program.problem import Fault
from kerfwright.program.program import After, MoveKind
from kerfwright.program.run import Run
from kerfwright.program.state import State
from kerfwright.program.usage import AXES, G10, G28, G30, G92, Doing, name
from kerfwright.program.words import Line, whole

SYSTEMS = 9
SYSTEM_CODES = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
_ACTIVE, _OFFSET = 5220, 5211
_HOMES = {G28: 5161, G30: 5181}
_ZERO: Vector = (0.0, 0.0, 0.0)


def begin(run: Run) -> Fault | None:
    """Take system, origin and offsets from the parameters; the fault if they name no system."""
    if run.start.zero_at_mm is not None:
        for axis, value in enumerate(run.start.zero_at_mm):
            run.parameters.setdefault(_origin_index(1) + axis, value)
    system = run.parameters[_ACTIVE]
    if system not in range(1, SYSTEMS + 1):
        return Fault(
            "coordinate_system_index",
            1,
            f"parameter {_ACTIVE} is {system:g}: there is no such coordinate system",
            f"set it to a whole number from 1 to {SYSTEMS}",
        )
    run.state.system = int(system)
    run.state.origin = _origin(run, int(system))
    run.state.g92 = _three(run, _OFFSET)
    return None


def select(run: Run, system: int, column: int) -> None:
    """G54 to G59.3 (3.5.13)."""
    _not_compensated(run.state, column, "the coordinate system cannot change")
    run.state.system = system
    run.state.origin = _origin(run, system)
    run.set_parameter(_ACTIVE, float(system))


def length_offset(run: Run, line: Line) -> None:
    """G43 and G49 (3.5.11): the numbers of the place change, the machine stands still."""
    code = line.g_code(8)
    if code is None:
        return
    state = run.state
    length = 0.0
    if code == 430:
        slot = whole(line, "H", 0, run.start.slots, needed_by="G43")
        if slot and slot not in run.start.length_mm:
            run.tell("no_length")
        length = run.start.length_mm.get(slot, 0.0) if slot else 0.0
    by = state.length - length
    state.length, state.length_on = length, code == 430
    if by != 0.0:
        x, y, z = state.place
        state.place = x, y, z + by
        run.columns.jumps.append((run.columns.rows, (0.0, 0.0, by)))


def target(run: Run, line: Line, *, absolute: bool = False) -> Vector:
    """Where the axis words of a line lead; axes that it does not name stay. [mm]

    ``absolute``: the numbers count in the machine's own coordinates, as with G53.
    """
    state = run.state
    to = list(state.programmed)
    zero = _machine_zero(run) if absolute else state.shift
    for axis, letter in enumerate(AXES):
        word = line.words.get(letter)
        if word is None:
            continue
        if state.incremental and not absolute:
            to[axis] = to[axis] + word.value * state.unit
        else:
            to[axis] = word.value * state.unit + zero[axis]
        check_reach(to[axis], letter, word.column)
    return to[0], to[1], to[2]


def check_reach(place_mm: float, letter: str, column: int) -> None:
    """Refuse a place that no machine has."""
    if not abs(place_mm) <= 1e7:
        raise Fault(
            "range",
            column,
            f"the {letter} word leads {abs(place_mm):.3g} mm away",
            "check the number",
        )


def group_0(run: Run, line: Line, found: Doing) -> None:
    """G10, G28, G30 and G92 to G92.3; the others of group 0 belong to dwell and move."""
    if found.group_0 == G10:
        _set_origin(run, line)
    elif found.group_0 in _HOMES:
        _go_home(run, line, found)
    elif found.group_0 in (920, 921, 922, 923):
        _offset(run, line, found.group_0)


def end(run: Run) -> None:
    """M2 and M30: the modes that an ended program leaves behind (3.6.1)."""
    state = run.state
    state.compensation = None  # first: no system can be chosen beside an outline
    select(run, 1, 1)
    state.g92 = _ZERO
    state.normal, state.incremental, state.inverse_time = 2, False, False
    state.motion, state.overrides, state.turning, state.coolant = 10, True, 0, 0
    state.spindle_rev_per_s = 0.0


def after(run: Run) -> After:
    """How everything stands now."""
    state = run.state
    modes = {
        "motion": "none" if state.motion < 0 else name(state.motion),
        "plane": {2: "G17", 1: "G18", 0: "G19"}[state.normal],
        "distance": "G91" if state.incremental else "G90",
        "feed_mode": "G93" if state.inverse_time else "G94",
        "units": "G20" if state.inches else "G21",
        "crc": name(state.compensation.code) if state.compensation else "G40",
        "length_offset": "G43" if state.length_on else "G49",
        "retract": "G98" if state.to_old_z else "G99",
        "coordinate_system": SYSTEM_CODES[state.system - 1],
        "path": ("G64", "G61", "G61.1")[state.path],
        "override": "M48" if state.overrides else "M49",
        "spindle": {0: "stop", 1: "cw", -1: "ccw"}[state.turning],
        "coolant": ("off", "mist", "flood", "mist+flood")[state.coolant],
    }
    return After(
        modes=modes,
        g92_mm=state.g92,
        gauge_z_mm=state.place[2] + state.length,
        parameters={index: value for index, value in run.parameters.items() if value != 0.0},
        messages=tuple(run.messages),
    )


def tell_start(run: Run) -> None:
    """Note what the program used before it said it."""
    at_move, at_arc = run.state.said_at_move, run.state.said_at_arc
    for key, bit, said in (
        ("units", SAID_UNITS, at_move),
        ("distance", SAID_DISTANCE, at_move),
        ("plane", SAID_PLANE, at_arc),
    ):
        if said >= 0 and not said & bit:
            inches = key == "units" and run.start.inches
            run.notes.tell("units_inch" if inches else key, 1)


def units_said(run: Run) -> bool:
    """Whether the units were stated before the first move, or nothing moves."""
    said = run.state.said_at_move
    return said < 0 or bool(said & SAID_UNITS)


def _origin_index(system: int) -> int:
    return 5221 + 20 * (system - 1)


def _three(run: Run, index: int) -> Vector:
    x, y, z = (run.parameters.get(index + axis, 0.0) for axis in range(3))
    return x, y, z


def _origin(run: Run, system: int) -> Vector:
    """Origin of a system in the frame of the set-up. [mm]"""
    zero_x, zero_y, zero_z = run.start.zero_at_mm or _ZERO
    x, y, z = _three(run, _origin_index(system))
    return x - zero_x, y - zero_y, z - zero_z


def _machine_zero(run: Run) -> Vector:
    """Zero of the machine's own coordinates in the frame of the set-up. [mm]"""
    if run.start.zero_at_mm is None:
        run.tell("machine_zero")
        return _ZERO
    x, y, z = run.start.zero_at_mm
    return 0.0 - x, 0.0 - y, 0.0 - z


def _set_origin(run: Run, line: Line) -> None:
    """G10 L2 (3.5.5)."""
    whole(line, "L", 2, 2, needed_by="G10")
    system = whole(line, "P", 1, SYSTEMS, needed_by="G10")
    for axis, letter in enumerate(AXES):
        if letter in line.words:
            word = line.words[letter]
            check_reach(word.value * run.state.unit, letter, word.column)
            run.set_parameter(_origin_index(system) + axis, word.value * run.state.unit)
    if run.start.zero_at_mm is None and any(letter in line.words for letter in AXES):
        run.tell("machine_zero")
    if system == run.state.system:
        _not_compensated(run.state, line.g[0].column, "the origin in use cannot change")
        run.state.origin = _origin(run, system)


def _go_home(run: Run, line: Line, found: Doing) -> None:
    """G28 and G30 (3.5.8): by way of the programmed point, then all axes to the home."""
    code = found.group_0 or G28
    _not_compensated(run.state, line.g[0].column, f"{name(code)} cannot be used")
    zero = _machine_zero(run)
    home = [place + shift for place, shift in zip(_three(run, _HOMES[code]), zero, strict=True)]
    for letter, place in zip(AXES, home, strict=True):
        check_reach(place, f"home's {letter}", line.g[0].column)
    if found.axes:
        run.go([Straight(to=target(run, line))], MoveKind.RAPID)
    run.go([Straight(to=(home[0], home[1], home[2]))], MoveKind.RAPID)


def _offset(run: Run, line: Line, code: int) -> None:
    """G92 to G92.3 (3.5.18)."""
    state = run.state
    _not_compensated(state, line.g[0].column, f"{name(code)} cannot be used")
    if code == G92:
        offset = list(state.g92)
        for axis, letter in enumerate(AXES):
            if letter in line.words:
                word = line.words[letter]
                offset[axis] = state.place[axis] - state.origin[axis] - word.value * state.unit
                check_reach(offset[axis], letter, word.column)
        state.g92 = offset[0], offset[1], offset[2]
    elif code == 923:
        state.g92 = _three(run, _OFFSET)
    else:
        state.g92 = _ZERO
    if code in (G92, 921):
        for axis in range(3):
            run.set_parameter(_OFFSET + axis, state.g92[axis])


def _not_compensated(state: State, column: int, words: str) -> None:
    if state.compensation is not None:
        raise Fault(
            "crc_forbidden",
            column,
            f"{words} while cutter radius compensation is on",
            "end it with G40",
        )
