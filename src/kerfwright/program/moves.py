"""Motion of one line: straight moves, arcs, and the hand-over to cycles and probing."""

from collections.abc import Sequence

from kerfwright.basics.units import MINUTE_S
from kerfwright.kernels.program_arcs import FARTHEST
from kerfwright.program import compensation, cycles, origins, probing
from kerfwright.program.dialect import STRICT
from kerfwright.program.pieces import (
    ArcRules,
    Piece,
    Straight,
    ill_conditioned,
    length_mm,
    read_arc,
)
from kerfwright.program.problem import Fault
from kerfwright.program.program import MoveKind
from kerfwright.program.run import Run
from kerfwright.program.state import round_limits
from kerfwright.program.usage import ARCS, G53, PROBE, STRAIGHT, Doing
from kerfwright.program.words import Line


def move(run: Run, line: Line, found: Doing) -> None:
    """Carry out what group 1 does on a line."""
    if found.motion in STRAIGHT:
        _straight(run, line, found)
    elif found.motion in ARCS:
        _arc(run, line, found)
    elif found.motion == PROBE:
        probing.probe(run, line)
    elif found.motion is not None:
        cycles.cycle(run, line, found.motion)


def feed_mm_per_s(run: Run, line: Line, pieces: Sequence[Piece]) -> float:
    """Feed of the pieces that one line of G1, G2 or G3 makes (3.5.19).

    Raises
    ------
    Fault
        If there is none in force, or with G93 none on the line.
    """
    state = run.state
    column = line.g[1].column if 1 in line.g else line.column("X", "Y", "Z")
    if not state.inverse_time:
        if not state.feed > 0.0:
            raise Fault(
                "feed_zero", column, "no feed is in force for this move", "add F with the feed"
            )
        if state.feed_before_units:
            run.tell("feed_units")
        return state.feed * state.unit / MINUTE_S
    if "F" not in line.words:
        raise Fault(
            "feed_inverse_missing",
            column,
            "with G93 in force every line of G1, G2 and G3 needs F",
            "add F: one divided by the minutes that the move is to take",
        )
    if not state.feed > 0.0:
        raise Fault("feed_zero", column, "the move would take for ever", "write F above 0")
    whole, start = 0.0, state.place
    for piece in pieces:
        whole += length_mm(start, piece)
        start = piece.to
    if not whole * state.feed <= FARTHEST:
        raise Fault("range", column, "the move would be far too fast", "check the F word")
    return whole * state.feed / MINUTE_S


def cut(run: Run, line: Line, pieces: Sequence[Piece]) -> None:
    """Append pieces of path at feed."""
    feed = feed_mm_per_s(run, line, pieces)
    rows = run.columns.rows
    run.go(pieces, MoveKind.LINE, feed)
    if run.state.inverse_time:
        run.columns.timed.extend(range(rows, run.columns.rows))


def _straight(run: Run, line: Line, found: Doing) -> None:
    """G0 and G1 (3.5.1, 3.5.2), also to a place in the machine's coordinates (G53, 3.5.12)."""
    state = run.state
    column = line.g[1].column if 1 in line.g else line.column("X", "Y", "Z")
    absolute = found.group_0 == G53
    if absolute and state.compensation is not None:
        raise Fault(
            "crc_forbidden",
            line.g[0].column,
            "G53 cannot be used while cutter radius compensation is on",
            "end it with G40",
        )
    to = origins.target(run, line, absolute=absolute)
    pieces: list[Piece] = [Straight(to=to)]
    if state.compensation is not None:
        beside = compensation.straight(state.compensation, state.place, to, column)
        pieces = [beside.piece]
        if beside.corner is not None:
            pieces.insert(0, beside.corner)
        state.compensation = beside.now
    if found.motion == 10:
        cut(run, line, pieces)
        return
    if len(pieces) > 1:  # a corner arc has no rapid: it is taken at the feed in force
        cut(run, line, pieces[:1])
    run.go(pieces[-1:], MoveKind.RAPID)


def _arc(run: Run, line: Line, found: Doing) -> None:
    """G2 and G3 (3.5.3)."""
    state = run.state
    to = origins.target(run, line)
    _check_end_point(run, line)
    strict_mm, loose_mm = round_limits(state, run.rules)
    rules = ArcRules(
        normal=state.normal,
        turn=1.0 if found.motion == 30 else -1.0,
        unit=state.unit,
        shift=state.shift,
        round_mm=loose_mm,
        chord_over_mm=run.rules.chord_over_mm,
        centres_absolute=state.centres_absolute,
    )
    if state.compensation is not None:
        beside = compensation.arc(state.compensation, state.place, line, to, rules)
        pieces = [beside.piece] if beside.corner is None else [beside.corner, beside.piece]
        state.compensation = beside.now
        cut(run, line, pieces)
        return
    arc = read_arc(line, state.place, to, rules)
    if arc.differ_mm > strict_mm:
        run.tell("round", arc.differ_mm)
    if arc.chord_over_mm > STRICT.chord_over_mm:
        run.tell("chord", 2.0 * arc.chord_over_mm)
    elif arc.by_radius and ill_conditioned(arc.piece.sweep_rad):
        run.tell("shaky")
    cut(run, line, [arc.piece])


def _check_end_point(run: Run, line: Line) -> None:
    """An arc needs a word of its plane for its end, unless a whole circle may go without."""
    normal = run.state.normal
    in_plane = "XYZ"[(normal + 1) % 3], "XYZ"[(normal + 2) % 3]
    if any(letter in line.words for letter in in_plane):
        return
    offsets = "IJK"[(normal + 1) % 3], "IJK"[(normal + 2) % 3]
    code = line.g.get(1)
    alone = code is not None and run.rules.full_circle_alone and "R" not in line.words
    if alone and any(letter in line.words for letter in offsets):
        run.tell("circle")
        return
    raise Fault(
        "axis_missing",
        code.column if code else line.column("X", "Y", "Z"),
        f"the arc has no end: neither {' nor '.join(sorted(in_plane))}",
        "give the end point, for a full circle too",
    )
