"""Pieces that come loose: told with the line and minute of their last bridge, and what to do."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from kerfwright.basics import Change, Finding, Remedy
from kerfwright.kernels import cutting
from kerfwright.program import MoveKind, Program
from kerfwright.program.changed import CannotChange, Put, Run, Step, of_steps
from kerfwright.prove.again import changed_s
from kerfwright.prove.facts import Facts, at_group
from kerfwright.prove.margins import exact
from kerfwright.prove.pieces import BRIDGE_HIGH_MM, BRIDGE_WIDE_MM, Piece, loose
from kerfwright.prove.remedies import tried
from kerfwright.prove.sweep import sweep, tooling
from kerfwright.trajectory import plan

CODE = "loose piece"
MOST_TOLD = 12
_SKIN_MM = 0.5  #: what is left standing instead, so that nothing comes loose
_ON_IT_S = 0.5  #: cutting on a piece that is loose for less is not worth another order
#: A longer job is not cut a second time to try another order.
MOST_STEPS = 250_000


def pieces(facts: Facts) -> list[Finding]:
    """Each piece that comes loose, in the order in which it does."""
    if not facts.swept.field.through_at.any():
        return []
    found = sorted(loose(facts), key=lambda piece: piece.freed_at)
    return [_finding(facts, piece, len(found)) for piece in found[:MOST_TOLD]]


def _finding(facts: Facts, piece: Piece, many: int) -> Finding:
    swept = facts.swept
    group = max(int(np.searchsorted(swept.first_step, piece.freed_at, side="right")) - 1, 0)
    along = [part.stop - part.start for part in piece.box]
    cell = swept.field.cell_mm
    x, y = piece.middle_mm
    words = (
        f"This line takes the last bridge of a piece of about {along[1] * cell:.0f} x"
        f" {along[0] * cell:.0f} mm: nothing holds it from here on, so it may shift into the cutter"
        " or be thrown"
    )
    if many > MOST_TOLD and piece.freed_at >= 0:
        words += f" ({many} pieces come loose in all; {MOST_TOLD} are told)"
    measure = (piece.area_mm2, 0.0, "mm²")
    finding = at_group(facts, group, CODE, "caution", words, measure, ())
    finding = replace(finding, id=f"{finding.id}-{x:.0f}-{y:.0f}")
    screw = f'["{x:.0f} mm", "{y:.0f} mm"]'
    change = Change(path="hold.screws", old="none there", new=screw)
    remedies = (
        _bridges(facts, piece, finding),
        *cut_last(facts, piece, finding),
        Remedy(
            words=f"Screw or tape it down {x:.0f} mm from the left and {y:.0f} mm from the front,"
            " clear of the path",
            changes=(change,),
            tried=tried(finding, "With a screw or tape there it is held", exact(0.0), None),
            more_s=0.0,
        ),
        Remedy(
            words=f"Or end the last pass {_SKIN_MM:g} mm above the underside, and trim by hand",
            changes=(
                Change(
                    path=f"Z on line {finding.line}",
                    old="through",
                    new=f"{_SKIN_MM:g} mm above the underside",
                ),
            ),
            tried=tried(finding, "Then nothing is cut right through", exact(0.0), None),
            more_s=0.0,
        ),
    )
    return replace(finding, remedies=remedies)


def _bridges(facts: Facts, piece: Piece, finding: Finding) -> Remedy:
    """Three bridges round the piece, where they were tried."""
    if not piece.bridged:
        return Remedy(
            words="Leave three or more bridges round it, and cut them by hand afterwards",
            not_tried="there is no wood near it that is held, which bridges could lead to",
        )
    swept = facts.swept
    places, changes, groups, over_mm = [], [], [], 0.0
    for bridge in piece.bridges:
        group = max(int(np.searchsorted(swept.first_step, bridge.step, side="right")) - 1, 0)
        groups.append(group)
        x, y = bridge.at_mm
        line = facts.group_line(group)
        slot = int(facts.tools.slot[swept.segment[group]])
        wide = facts.setup.slots[slot].diameter_mm
        over_mm = max(over_mm, BRIDGE_WIDE_MM + wide)
        where = f"{x:.0f}, {y:.0f} mm"
        places.append(f"{where} on line {line}")
        changes.append(
            Change(
                path=f"line {line}", old="cut through",
                new=f"lifted {BRIDGE_HIGH_MM:g} mm over {over_mm:.0f} mm at {where}",
            )
        )  # fmt: skip
    return Remedy(
        words=f"Leave {len(places)} bridges, {BRIDGE_WIDE_MM:g} mm wide and {BRIDGE_HIGH_MM:g} mm"
        f" high, at {'; '.join(places)} (from the board's left front corner): lift the cutter over"
        f" {over_mm:.0f} mm of its path there, and cut them by hand",
        changes=tuple(changes),
        tried=tried(finding, "On these bridges it stays with the board", exact(0.0), None),
        more_s=_lifted_s(facts, groups),
    )


def _lifted_s(facts: Facts, groups: list[int]) -> float | None:
    """How much longer it takes to lift and to come down again over each of these places.

    Each is planned as a stop, up and down by half a bridge, at both ends of its move.
    """
    program = facts.program
    if program is None:
        return None
    steps: list[Step] = []
    done = 0
    for move in sorted({int(facts.trajectory.move[facts.swept.segment[k]]) for k in groups}):
        for until in (move, move + 1):
            if until == 0:
                continue
            x, y, z = program.end_mm[until - 1].tolist()
            feed = float(program.feed_mm_per_s[move])
            up = Put(to_mm=(x, y, z + 0.5 * BRIDGE_HIGH_MM), feed_mm_per_s=feed)
            steps += [Run(first=done, end=until), up, Put(to_mm=(x, y, z), feed_mm_per_s=feed)]
            done = until
    return changed_s(facts, [*steps, Run(first=done, end=program.moves)])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stretch:
    """Moves from one way through the air to the next."""

    first: int  #: the move with which it goes there
    end: int  #: the one after it has lifted again


def cut_last(facts: Facts, piece: Piece, finding: Finding) -> Iterator[Remedy]:
    """The stretch that frees the piece moved to the end, where cutting on it goes on after it."""
    seconds, program = _on_it_s(facts, piece), facts.program
    if seconds < _ON_IT_S or program is None:
        return
    words = f"Or cut it free last: {seconds:.0f} s are cut on it after it has come loose"
    stretch = _stretch(facts, program, piece.freed_at)
    if stretch is None:
        yield Remedy(
            words=words, not_tried="line for line it hangs together with what is cut before and"
            " after it, without a lift between",
        )  # fmt: skip
        return
    last = int(np.flatnonzero(program.kind != MoveKind.RAPID)[-1]) + 1
    while last < program.moves and not _clear(facts, program)[last]:
        last += 1
    first_line, last_line = (
        int(program.line[k]) for k in (stretch.first, min(stretch.end, program.moves) - 1)
    )
    words += f"; move lines {first_line} to {last_line} behind line {int(program.line[last - 1])}"
    words += ", with X, Y, Z and F of their own"
    reason = _apart(facts, program, stretch, last)
    after = None if reason else _tried_last(facts, program, piece, stretch, last)
    if after is None:
        reason = reason or "the changed program could not be cut in the computer"
        yield Remedy(words=words, not_tried=reason)
        return
    left, steps = after
    change = Change(
        path=f"lines {first_line} to {last_line}", old="in their place",
        new=f"behind line {int(program.line[last - 1])}",
    )  # fmt: skip
    says = f"Then {left:.1f} s are cut on it after it has come loose"
    found = replace(finding, unit="s", value=exact(seconds), limit=0.0)
    still = exact(left if left > 0.05 else 0.0)
    yield Remedy(
        words=words, changes=(change,), tried=tried(found, says, still, None),
        more_s=changed_s(facts, steps),
    )  # fmt: skip


def _on_it_s(facts: Facts, piece: Piece) -> float:
    """Time that a cutter takes wood at a piece after it has come loose."""
    swept, cell = facts.swept, facts.swept.field.cell_mm
    freed = max(int(np.searchsorted(swept.first_step, piece.freed_at, side="right")) - 1, 0)
    group = np.flatnonzero(facts.cuts)
    group = group[group > freed]
    at = swept.column[group, cutting.X : cutting.Y + 1].astype(np.float64) / cell
    rows, columns = piece.box
    there = (at[:, 0] > columns.start) & (at[:, 0] < columns.stop)
    there &= (at[:, 1] > rows.start) & (at[:, 1] < rows.stop)
    return float(swept.column[group[there], cutting.DURATION].sum(dtype=np.float64))


def _clear(facts: Facts, program: Program) -> np.ndarray:
    """Whether each move starts above the wood. (n,)"""
    top = facts.setup.board.highest_mm - facts.setup.zero_on_board_mm[2]
    return np.asarray(program.from_mm[:, 2] > top)


def _stretch(facts: Facts, program: Program, step: int) -> _Stretch | None:
    """The moves around a step, from a rapid in the air until it is in the air again."""
    swept = facts.swept
    group = max(int(np.searchsorted(swept.first_step, step, side="right")) - 1, 0)
    move = int(facts.trajectory.move[swept.segment[group]])
    clear = np.append(_clear(facts, program), True)
    first = move
    while first > 0 and not clear[first]:
        first -= 1
    # The way to its place belongs to it, the lift before does not.
    while first > 0 and program.kind[first - 1] == MoveKind.RAPID and clear[first - 1]:
        first -= 1
    end = move + 1
    while not clear[end]:
        end += 1
    if not clear[first] or program.kind[first] != MoveKind.RAPID:
        return None
    return _Stretch(first=first, end=min(end, program.moves))


def _apart(facts: Facts, program: Program, stretch: _Stretch, last: int) -> str:
    """Why a stretch cannot be moved behind the last cut; nothing if it can."""
    if stretch.end >= last:
        return "it is the last already; what is cut on it after that is cut in the same stretch"
    mine = slice(stretch.first, stretch.end)
    for column, words in (
        (program.slot, "another cutter is in the spindle at the end"),
        (program.spindle_rev_per_s, "the spindle turns at another speed at the end"),
    ):
        if len(np.unique(np.append(column[mine], column[last - 1]))) > 1:
            return words
    if facts.swept.steps > MOST_STEPS:
        return "the job is too long to be cut a second time here; prove it again with the new order"
    return ""


def _tried_last(
    facts: Facts, program: Program, piece: Piece, stretch: _Stretch, last: int
) -> tuple[float, list[Step]] | None:
    """Seconds still cut on the loose piece in the new order, and that order."""
    steps: list[Step] = [
        Run(first=0, end=stretch.first),
        Run(first=stretch.end, end=last),
        Run(first=stretch.first, end=stretch.end),
        Run(first=last, end=program.moves),
    ]
    try:
        changed = of_steps(program, steps)
    except CannotChange:
        return None
    setup, machine = facts.setup, facts.machine
    trajectory = plan(changed, machine, in_spindle=setup.in_spindle)
    tools = tooling(changed, trajectory, setup, machine)
    swept = sweep(trajectory, tools, setup, machine, facts.swept.field.cell_mm, 1)
    after = Facts(
        trajectory=trajectory, tools=tools, setup=setup, machine=machine, swept=swept,
        line=changed.line[trajectory.move], program=changed,
    )  # fmt: skip
    again = replace(piece, freed_at=piece.freed_in(swept.field))
    return _on_it_s(after, again), steps
