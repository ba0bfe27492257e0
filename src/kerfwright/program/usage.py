"""Which words the codes on a line use, and which codes go together (NISTIR 6556, 3.4 and 3.5)."""

from dataclasses import dataclass

from kerfwright.program.dialect import Dialect
from kerfwright.program.problem import Fault
from kerfwright.program.state import NO_MOTION, State
from kerfwright.program.words import G80, Line

AXES = ("X", "Y", "Z")
G4, G10, G28, G30, G53, G92 = 40, 100, 280, 300, 530, 920
AXIS_USERS_OF_GROUP_0 = frozenset((G10, G28, G30, G92))
STRAIGHT = frozenset((0, 10))
ARCS = frozenset((20, 30))
PROBE = 382
CYCLES = frozenset(range(810, 900, 10))

#: Words that a cycle uses beside X Y Z R L.
_CYCLE_WORDS = {820: "P", 830: "Q", 860: "P", 870: "IJK", 880: "P", 890: "P"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Doing:
    """What one line does with its axis words."""

    motion: int | None  #: G code times ten of group 1 that moves on this line
    group_0: int | None
    axes: bool  #: whether it has X, Y or Z


def doing(line: Line, state: State, rules: Dialect) -> Doing:
    """Find out, and refuse words and codes that do not go together.

    Words that no code uses are taken off a line that the machine reads past them.

    Raises
    ------
    Fault
        If an axis word is missing or wanted twice, or a word is used by no code on the line.
    """
    for letter in "ABC":
        if letter in line.words and not rules.skips_unknown:
            raise Fault(
                "rotary_axis",
                line.column(letter),
                f"the machine has no rotary axis {letter}",
                "leave the word out, or make the program for three axes",
            )
    explicit, group_0 = line.g_code(1), line.g_code(0)
    axes = any(letter in line.words for letter in AXES)
    _check_unknown_code(line, explicit, group_0)
    motion = _motion(line, state, explicit, group_0, axes, rules)
    if group_0 == G53:
        if motion is not None and motion not in STRAIGHT:
            raise Fault(
                "g53_mode",
                line.g[0].column,
                "G53 goes with G0 and G1 only",
                "write G0 or G1 on the line",
            )
        if not axes:
            raise Fault(
                "axis_missing",
                line.g[0].column,
                "G53 has no X, Y or Z word",
                "say where to go",
            )
    found = Doing(motion=motion, group_0=group_0, axes=axes)
    _check_axes_there(line, found, explicit)
    _check_all_used(line, found, rules)
    return found


def path_tolerance_word(line: Line) -> bool:
    """Whether the P word of a line belongs to its G64: no other code wants it."""
    others = line.g_code(0) in (G4, G10) or line.g_code(1) in CYCLES
    return line.g_code(13) == 640 and "P" in line.words and not others


def _check_unknown_code(line: Line, explicit: int | None, group_0: int | None) -> None:
    """A G code that is passed over may have been what the axis words belonged to."""
    unknown = line.unknown_g
    if unknown is None or explicit not in (None, G80) or group_0 in AXIS_USERS_OF_GROUP_0:
        return
    if any(letter in line.words for letter in "XYZABCIJKR"):
        raise Fault(
            "g_code_unknown",
            unknown.column,
            "the machine skips this code, but nobody can say what it does with the coordinates"
            " beside it",
            "find out what the code was to do, and write that in codes that the machine has",
        )


def _motion(
    line: Line,
    state: State,
    explicit: int | None,
    group_0: int | None,
    axes: bool,
    rules: Dialect,
) -> int | None:
    taken = group_0 in AXIS_USERS_OF_GROUP_0
    if explicit is not None and explicit != G80:
        if taken:
            raise Fault(
                "axis_conflict",
                line.g[0].column,
                f"{name(explicit)} and {name(line.g[0].code)} both use the axis words of the line",
                "write two lines",
            )
        return explicit
    if not axes or taken:
        return None
    motion = state.motion if explicit is None else G80
    if motion == NO_MOTION and rules.bare_motion is not None:
        line.tolerated["bare"] = name(rules.bare_motion)
        return rules.bare_motion
    if motion in (G80, NO_MOTION):
        first = "no motion code has come yet" if motion == NO_MOTION else "G80 is in force"
        raise Fault(
            "g80_axis_words",
            line.column(*AXES),
            f"an axis word stands here, but {first}",
            "write G0, G1, G2 or G3 on this line",
        )
    return motion


def _check_axes_there(line: Line, found: Doing, explicit: int | None) -> None:
    if found.axes:
        return
    if explicit in STRAIGHT or explicit == PROBE:
        raise Fault(
            "axis_missing",
            line.g[1].column,
            f"{name(line.g[1].code)} has no X, Y or Z word",
            "say where to go, or leave the code out",
        )
    if found.group_0 == G92:
        raise Fault(
            "axis_missing",
            line.g[0].column,
            "G92 has no X, Y or Z word",
            "give the number that the present place is to have",
        )


def _check_all_used(line: Line, found: Doing, rules: Dialect) -> None:
    used = set("FST")
    used.update(AXES if found.axes else ())
    if line.g_code(7) in (410, 420):
        used.add("D")
    if line.g_code(8) == 430:
        used.add("H")
    if found.group_0 == G4:
        used.add("P")
    if found.group_0 == G10:
        used.update("LP")
    if found.motion in ARCS:
        used.update("IJKR")
    if found.motion in CYCLES:
        used.update("RL", _CYCLE_WORDS.get(found.motion or 0, ""))
    if rules.tolerance_words and path_tolerance_word(line):
        used.add("P")
    for letter, word in list(line.words.items()):
        if letter not in used and rules.skips_unknown:
            del line.words[letter]
            line.skip(f"{letter}{word.value:g}")
        elif letter not in used:
            raise Fault(
                "word_unused",
                word.column,
                f"no code on the line uses the {letter} word",
                "leave it out, or write the code that it belongs to",
            )


def name(code: int) -> str:
    """A G code times ten as it is written."""
    return f"G{code / 10:g}"
