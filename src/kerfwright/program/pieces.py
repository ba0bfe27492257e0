"""Pieces of a path, and the arcs that a program's words describe (NISTIR 6556, 3.5.3)."""

from dataclasses import dataclass
from math import pi, sqrt

from kerfwright.kernels.program_arcs import (
    FARTHEST,
    SAME_POINT_MM,
    centre_by_radius_reference,
    turned_angle_reference,
)
from kerfwright.program.problem import Fault
from kerfwright.program.words import Line

Vector = tuple[float, float, float]
PLANES = {2: "XY", 1: "XZ", 0: "YZ"}  #: by the axis normal to it


@dataclass(frozen=True, slots=True, kw_only=True)
class Straight:
    """A straight piece of path."""

    to: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A circular or helical piece of path."""

    to: Vector
    centre: Vector  #: along the normal: the start
    normal: int  #: axis that it turns about
    sweep_rad: float  #: signed, right-handed about that axis


Piece = Straight | Turn


def length_mm(start: Vector, piece: Piece) -> float:
    """Length of a piece of path that begins at ``start``; along the helix if it is one. [mm]"""
    if isinstance(piece, Straight):
        return sqrt(sum((b - a) * (b - a) for a, b in zip(start, piece.to, strict=True)))
    a, b = (piece.normal + 1) % 3, (piece.normal + 2) % 3
    from_a, from_b = start[a] - piece.centre[a], start[b] - piece.centre[b]
    round_mm = abs(piece.sweep_rad) * sqrt(from_a * from_a + from_b * from_b)
    along = piece.to[piece.normal] - start[piece.normal]
    return sqrt(round_mm * round_mm + along * along)


@dataclass(frozen=True, slots=True, kw_only=True)
class ArcRules:
    """What the state and the rules of reading bring to an arc."""

    normal: int
    turn: float  #: 1 for G3, -1 for G2
    unit: float  #: mm in one unit of the program
    shift: Vector  #: origin of the program's numbers [mm]
    round_mm: float  #: how far start and end radius may differ
    chord_over_mm: float  #: by which half the chord may be longer than the radius
    centres_absolute: bool
    #: by which the start is farther from the centre than the end; not 0 only for the first arc
    #: beside an outline
    start_over_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundArc:
    """An arc, and how far it is from one that is round."""

    piece: Turn
    differ_mm: float = 0.0  #: between start and end radius
    chord_over_mm: float = 0.0  #: by which half the chord is longer than the radius
    by_radius: bool = False


def read_arc(line: Line, start: Vector, to: Vector, rules: ArcRules) -> FoundArc:
    """The arc that the words of a line describe, from ``start`` to ``to``.

    Raises
    ------
    Fault
        If the words describe none.
    """
    normal = rules.normal
    plane, a, b = PLANES[normal], (normal + 1) % 3, (normal + 2) % 3
    if "R" in line.words:
        return _arc_by_radius(line, start, to, rules)
    offsets = "IJK"[a], "IJK"[b]
    stray = "IJK"[normal]
    if not any(letter in line.words for letter in offsets):
        raise Fault(
            "arc_centre_missing",
            line.column(stray),
            f"an arc in the {plane} plane has neither {' nor '.join(sorted(offsets))}, nor R",
            f"give its centre with {' and '.join(sorted(offsets))}, or its radius with R",
        )
    if stray in line.words:
        raise Fault(
            "word_unused",
            line.column(stray),
            f"the {stray} word has no use for an arc in the {plane} plane",
            "leave it out, or choose the plane with G17, G18 or G19",
        )
    from_a, from_b = (_offset(line, axis, start, rules) for axis in (a, b))
    column = line.column(*offsets)
    radius = sqrt(from_a * from_a + from_b * from_b)
    if not radius > SAME_POINT_MM:
        raise Fault(
            "arc_centre_missing",
            column,
            "the centre of the arc is its own start",
            "give the centre with I, J or K counted from the start of the arc",
        )
    centre_a, centre_b = start[a] + from_a, start[b] + from_b
    to_a, to_b = to[a] - centre_a, to[b] - centre_b
    differ = abs(sqrt(to_a * to_a + to_b * to_b) + rules.start_over_mm - radius)
    if differ > rules.round_mm:
        raise Fault(
            "arc_radius_mismatch",
            column,
            f"the arc starts {radius:.4f} mm from its centre and ends {differ:.4f} mm "
            f"{'nearer' if to_a * to_a + to_b * to_b < radius * radius else 'farther'}; "
            f"{rules.round_mm:g} mm is allowed",
            _other_centre(line, start, to, rules),
        )
    sweep = turned_angle_reference(-from_a, -from_b, to_a, to_b, rules.turn)
    return FoundArc(piece=_turn(start, to, rules, (centre_a, centre_b), sweep), differ_mm=differ)


def _offset(line: Line, axis: int, start: Vector, rules: ArcRules) -> float:
    """Centre minus start along an axis. [mm]"""
    word = line.words.get("IJK"[axis])
    if rules.centres_absolute:
        if word is None:
            raise Fault(
                "arc_centre_missing",
                line.column("I", "J", "K"),
                f"the centre of the arc has no {'IJK'[axis]}, and centres are read as places",
                "give both places of the centre, or read the file with centres from the start",
            )
        offset = word.value * rules.unit + rules.shift[axis] - start[axis]
    else:
        offset = 0.0 if word is None else word.value * rules.unit
    if not abs(offset) <= FARTHEST:
        raise Fault(
            "range",
            line.column("IJK"[axis]),
            "the centre of the arc is out of all reach",
            "check the number",
        )
    return offset


def _other_centre(line: Line, start: Vector, to: Vector, rules: ArcRules) -> str:
    """A remedy for an arc that is not round: would the other meaning of I J K make it so?"""
    a, b = (rules.normal + 1) % 3, (rules.normal + 2) % 3
    words = [line.words.get("IJK"[axis]) for axis in (a, b)]
    plain = "check the end point and the centre; give both with one more digit"
    if words[0] is None or words[1] is None:
        return plain
    centre = [
        word.value * rules.unit + (start[axis] if rules.centres_absolute else rules.shift[axis])
        for word, axis in zip(words, (a, b), strict=True)
        if word is not None
    ]
    radii = [
        sqrt((point[a] - centre[0]) ** 2 + (point[b] - centre[1]) ** 2) for point in (start, to)
    ]
    if abs(radii[0] - radii[1]) > rules.round_mm or not radii[0] > SAME_POINT_MM:
        return plain
    if rules.centres_absolute:
        return "the arc is round if I J K count from its start: read the file that way"
    return "the arc is round if I J K are places, not offsets: read the file with absolute centres"


def _arc_by_radius(line: Line, start: Vector, to: Vector, rules: ArcRules) -> FoundArc:
    a, b = (rules.normal + 1) % 3, (rules.normal + 2) % 3
    column = line.column("R")
    if any(letter in line.words for letter in "IJK"):
        raise Fault(
            "arc_format",
            column,
            "the arc has a radius and a centre",
            "leave out R, or leave out I J K",
        )
    chord_a, chord_b = to[a] - start[a], to[b] - start[b]
    if chord_a * chord_a + chord_b * chord_b <= SAME_POINT_MM * SAME_POINT_MM:
        raise Fault(
            "arc_endpoint",
            column,
            "an arc given by its radius ends where it starts",
            "for a full circle give the centre with I, J or K",
        )
    radius = line.words["R"].value * rules.unit
    if not abs(radius) <= FARTHEST:
        raise Fault("range", column, "the radius is out of all reach", "check the R word")
    if abs(radius) <= SAME_POINT_MM:
        raise Fault("range", column, "the radius is 0", "check the R word")
    from_a, from_b, over = centre_by_radius_reference(chord_a, chord_b, radius, rules.turn)
    if over > rules.chord_over_mm:
        half = abs(radius) + over
        raise Fault(
            "arc_radius_small",
            column,
            f"the ends of the arc are {2.0 * half:.4f} mm apart: no circle of radius "
            f"{abs(radius):g} mm goes through both",
            f"the radius must be at least {half:.4f} mm",
        )
    centre_a, centre_b = start[a] + from_a, start[b] + from_b
    sweep = turned_angle_reference(-from_a, -from_b, to[a] - centre_a, to[b] - centre_b, rules.turn)
    piece = _turn(start, to, rules, (centre_a, centre_b), sweep)
    return FoundArc(piece=piece, chord_over_mm=over, by_radius=True)


def _turn(
    start: Vector, to: Vector, rules: ArcRules, centre: tuple[float, float], sweep: float
) -> Turn:
    whole = list(start)
    whole[(rules.normal + 1) % 3], whole[(rules.normal + 2) % 3] = centre
    return Turn(to=to, centre=(whole[0], whole[1], whole[2]), normal=rules.normal, sweep_rad=sweep)


def ill_conditioned(sweep_rad: float) -> bool:
    """Whether an arc given by its radius moves far when its end moves a little (3.5.3.1)."""
    degrees = abs(sweep_rad) * 180.0 / pi
    return 165.0 <= degrees <= 195.0 or degrees > 345.0
