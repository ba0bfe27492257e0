"""G38.2: straight at feed until the probe makes contact (NISTIR 6556, 3.5.9)."""

from math import dist

from kerfwright.basics.units import MINUTE_S
from kerfwright.program import origins
from kerfwright.program.pieces import Straight, Vector
from kerfwright.program.problem import Fault
from kerfwright.program.program import MoveKind
from kerfwright.program.run import Run
from kerfwright.program.words import Line

LEAST_MM = 0.254  #: shorter moves are refused (0.01 in)
_CONTACT = 5061


def probe(run: Run, line: Line) -> None:
    """Go toward the programmed point, to where the start state says that contact is made.

    Raises
    ------
    Fault
        If the state forbids probing, the point is too near, or contact is never made.
    """
    state = run.state
    column = line.g[1].column if 1 in line.g else line.column("X", "Y", "Z")
    if state.compensation is not None:
        raise Fault(
            "crc_forbidden", column, "cutter radius compensation is on while the probe is used",
            "end it with G40",
        )  # fmt: skip
    if state.inverse_time:
        raise Fault(
            "probe_inverse_time", column, "the probe cannot be used with G93 in force",
            "write G94 and F with the feed",
        )  # fmt: skip
    to = origins.target(run, line)
    if dist(to, state.place) < LEAST_MM:
        raise Fault(
            "probe_too_close", column,
            f"the probing move is {dist(to, state.place):.3f} mm long, less than {LEAST_MM} mm",
            "begin farther away",
        )  # fmt: skip
    if not state.feed > 0.0:
        raise Fault("feed_zero", column, "no feed is in force for this move", "add F with the feed")
    contact = _contact(run, to, column)
    feed = state.feed * state.unit / MINUTE_S
    run.columns.happens("probe", value=feed, at_mm=to)
    run.go([Straight(to=contact)], MoveKind.LINE, feed)
    for axis in range(3):  # as the program would write that place
        run.set_parameter(_CONTACT + axis, (contact[axis] - state.shift[axis]) / state.unit)


def _contact(run: Run, to: Vector, column: int) -> Vector:
    contact = run.start.probe_contact_mm
    if isinstance(contact, str):
        run.tell("probe")
        return to
    place = run.state.place
    if contact is None or dist(place, contact) > dist(place, to) + LEAST_MM:
        raise Fault(
            "probe_no_contact", column, "the probe makes no contact on its way",
            "check where the part is, or let the move go farther",
        )  # fmt: skip
    return contact
