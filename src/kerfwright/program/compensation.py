"""Cutter radius compensation: the cutter beside the outline (NISTIR 6556, 3.5.10 and App. B)."""

from dataclasses import replace
from math import asin, atan2, cos, pi, sin, sqrt

from kerfwright.kernels.program_arcs import SAME_POINT_MM
from kerfwright.program.pieces import ArcRules, Straight, Turn, Vector, read_arc
from kerfwright.program.problem import Fault
from kerfwright.program.run import Run
from kerfwright.program.state import Compensation
from kerfwright.program.words import Line, whole

#: Two directions closer than this meet without a corner. From memory: the standard gives none.
NO_CORNER_RAD = 0.01
_ABOUT_TURN_RAD = 1e-6  # so near to a half turn the way back is taken round the outside

Point = tuple[float, float]


def switch(run: Run, line: Line) -> None:
    """G40, G41 and G42 before the move on their line."""
    code = line.g_code(7)
    if code is None:
        return
    state = run.state
    if code == 400:
        state.compensation = None
        return
    column = line.g[7].column
    if state.compensation is not None:
        raise Fault(
            "crc_already_on",
            column,
            "cutter radius compensation is on already",
            "end it with G40 before it is started anew",
        )
    if state.normal != 2:
        raise Fault(
            "crc_plane", column, "cutter radius compensation works in the XY plane only",
            "write G17 before it",
        )  # fmt: skip
    slot = whole(line, "D", 0, run.start.slots) if "D" in line.words else state.slot
    diameter = run.start.diameter_mm.get(slot) if slot else 0.0
    if diameter is None:
        raise Fault(
            "range", column, f"the diameter of the cutter in slot {slot} is not known",
            "name the cutter in the set-up, or write the path of the cutter's centre",
        )  # fmt: skip
    side = 1 if code == 410 else -1
    state.compensation = Compensation(
        radius=abs(diameter) / 2.0,
        side=side if diameter >= 0.0 else -side,
        code=code,
        outline=(state.place[0], state.place[1]),
    )


def straight(on: Compensation, place: Vector, to: Vector, column: int) -> "Beside":
    """The cutter's way when the outline goes straight to ``to``; ``place`` is the cutter's."""
    point = to[0], to[1]
    across, up = point[0] - on.outline[0], point[1] - on.outline[1]
    distance = sqrt(across * across + up * up)
    if distance <= SAME_POINT_MM:  # up or down only: the cutter stays beside the same point
        beside = replace(on, outline=point)
        return Beside(None, Straight(to=(place[0], place[1], to[2])), beside)
    ahead = across / distance, up / distance
    if on.tangent is None:
        if on.radius > 0.0 and distance <= on.radius:
            raise Fault(
                "crc_gouge", column,
                f"the first move of compensation is {distance:.3f} mm long, "
                f"not more than the cutter's radius of {on.radius:g} mm",
                "begin farther away from the outline",
            )  # fmt: skip
        turn = on.side * asin(on.radius / distance)
        ahead = (
            ahead[0] * cos(turn) - ahead[1] * sin(turn),
            ahead[0] * sin(turn) + ahead[1] * cos(turn),
        )
        run_mm = sqrt(distance * distance - on.radius * on.radius)
        end = place[0] + run_mm * ahead[0], place[1] + run_mm * ahead[1]
        corner = None
    else:
        corner = _corner(on, place, ahead, column)
        end = _beside(on, point, ahead)
    now = replace(on, outline=point, tangent=ahead)
    return Beside(corner, Straight(to=(*end, to[2])), now)


class Beside:
    """What the cutter does for one programmed move: a corner arc, the move, and what is then
    in force.
    """

    def __init__(self, corner: Turn | None, piece: Straight | Turn, now: Compensation) -> None:
        self.corner, self.piece, self.now = corner, piece, now


def arc(on: Compensation, place: Vector, line: Line, to: Vector, rules: ArcRules) -> Beside:
    """The cutter's way when the outline goes along the arc that the words of ``line`` describe.

    The first move of compensation counts I and J from the cutter; its circle, through the
    programmed end, must touch the cutter where it is.
    """
    column = line.column("I", "J", "R")
    outline: Vector = (*on.outline, place[2])
    inwards = rules.turn * on.side * on.radius  # by which the cutter's circle is smaller
    if on.tangent is None:
        outline_arc = _first_arc(on, line, outline, to, replace(rules, start_over_mm=-inwards))
    else:
        outline_arc = read_arc(line, outline, to, rules).piece
    centre = outline_arc.centre
    end_radius = sqrt((to[0] - centre[0]) ** 2 + (to[1] - centre[1]) ** 2)
    if inwards > 0.0 and end_radius <= inwards:
        raise Fault(
            "crc_tool_radius", column,
            f"the arc's radius of {end_radius:.3f} mm is not more than the cutter's of "
            f"{on.radius:g} mm, and the cutter is inside it",
            "take a smaller cutter, or a larger arc",
        )  # fmt: skip
    corner, sweep_rad = None, outline_arc.sweep_rad
    if on.tangent is not None:
        ahead = _tangent(on.outline, centre, rules.turn)
        corner = _corner(on, place, ahead, column)
        if corner is None:  # a bend too small for a corner leaves the cutter beside the start
            sweep_rad -= _turned(centre, _beside(on, on.outline, ahead), place)
    ahead = _tangent((to[0], to[1]), centre, rules.turn)
    end = _beside(on, (to[0], to[1]), ahead)
    piece = Turn(
        to=(*end, to[2]),
        centre=(centre[0], centre[1], place[2]),
        normal=2,
        sweep_rad=sweep_rad,
    )
    return Beside(corner, piece, replace(on, outline=(to[0], to[1]), tangent=ahead))


def _first_arc(on: Compensation, line: Line, start: Vector, to: Vector, rules: ArcRules) -> Turn:
    if "R" in line.words:
        raise Fault(
            "arc_format", line.column("R"),
            "the first move of compensation is an arc given by its radius",
            "give its centre with I and J, or begin with a straight move",
        )  # fmt: skip
    try:
        return read_arc(line, start, to, rules).piece
    except Fault as fault:
        if fault.kind != "arc_radius_mismatch":
            raise
        raise Fault(
            "crc_gouge", fault.column,
            "the first arc of compensation does not touch the cutter where it is",
            f"begin {on.radius:g} mm beside the arc, or with a straight move",
        ) from None  # fmt: skip


def _turned(centre: Vector, start: Point, end: Vector) -> float:
    """The small angle about the centre from one point to another. [rad]"""
    a, b = start[0] - centre[0], start[1] - centre[1]
    c, d = end[0] - centre[0], end[1] - centre[1]
    return atan2(a * d - b * c, a * c + b * d)


def _tangent(point: Point, centre: Vector, turn: float) -> Point:
    """Direction of travel at a point of a circle, of length 1."""
    out_x, out_y = point[0] - centre[0], point[1] - centre[1]
    radius = sqrt(out_x * out_x + out_y * out_y)
    return -turn * out_y / radius, turn * out_x / radius


def _beside(on: Compensation, point: Point, ahead: Point) -> Point:
    """Where the cutter's centre is when the outline is at ``point``."""
    step = on.side * on.radius
    return point[0] - step * ahead[1], point[1] + step * ahead[0]


def _corner(on: Compensation, place: Vector, ahead: Point, column: int) -> Turn | None:
    """The arc round a corner of the outline, if there is one to go round."""
    before = on.tangent or ahead
    cross = before[0] * ahead[1] - before[1] * ahead[0]
    angle = atan2(cross, before[0] * ahead[0] + before[1] * ahead[1])
    if abs(angle) <= NO_CORNER_RAD or on.radius == 0.0:
        return None
    if abs(angle) >= pi - _ABOUT_TURN_RAD:
        angle = -on.side * pi
    if angle * on.side > 0.0:
        raise Fault(
            "crc_concave_corner", column,
            "the outline turns towards the cutter here, into a corner that the cutter cannot reach",
            f"round the corner with an arc of more than {on.radius:g} mm",
        )  # fmt: skip
    end = _beside(on, on.outline, ahead)
    return Turn(to=(*end, place[2]), centre=(*on.outline, place[2]), normal=2, sweep_rad=angle)
