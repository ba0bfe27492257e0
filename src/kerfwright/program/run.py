"""What one reading works on: state, parameters, columns, and what is to be told."""

from collections.abc import Sequence

from kerfwright.basics import Progress
from kerfwright.basics.units import INCH_MM, MINUTE_S
from kerfwright.program.columns import MOST_MOVES, Columns, Manner
from kerfwright.program.dialect import Dialect
from kerfwright.program.notes import Notes
from kerfwright.program.pieces import Piece
from kerfwright.program.problem import Fault
from kerfwright.program.program import MoveKind
from kerfwright.program.start import StartState
from kerfwright.program.state import State

_MOVES_BETWEEN_BREATHS = 5000


class Run:
    """Everything that the lines of one program change. ``state`` is replaced or restored whole."""

    def __init__(
        self,
        rules: Dialect,
        start: StartState,
        columns: Columns,
        notes: Notes,
        progress: Progress,
        size: int,
    ) -> None:
        self.rules, self.start, self.columns, self.notes = rules, start, columns, notes
        self._progress, self._size = progress, max(size, 1)
        self.parameters: dict[int, float] = {5220: 1.0, **start.parameters}
        self.messages: list[str] = []
        self.state = State(
            place=start.start_mm,
            unit=INCH_MM if start.inches else 1.0,
            slot=start.slot_in_spindle,
            selected=start.slot_in_spindle,
            centres_absolute=rules.centres_absolute,
        )
        self.ended = False
        self._changed: list[tuple[int, float]] = []

    def breathe(self) -> None:
        """Tell how far the line in hand is; called often enough to be stopped."""
        self._progress("reading the program", self.columns.byte / self._size)

    def keep_parameters(self) -> None:
        """Take the parameters as they are for what ``restore_parameters`` goes back to."""
        self._changed.clear()

    def set_parameter(self, index: int, value: float) -> None:
        """Set a parameter of the program."""
        self._changed.append((index, self.parameters.get(index, 0.0)))
        self.parameters[index] = value

    def restore_parameters(self) -> None:
        """Undo every setting since ``keep_parameters``."""
        while self._changed:
            index, value = self._changed.pop()
            self.parameters[index] = value

    def tell(self, key: str, worst: float = 0.0, shown: str = "") -> None:
        """Note a thing on the line in hand."""
        self.notes.tell(key, self.columns.line, worst, shown=shown)

    def set_spindle(self) -> None:
        """Tell the spindle what is in force, if that is new."""
        state = self.state
        commanded = state.turning * state.speed / MINUTE_S
        if commanded != state.spindle_rev_per_s:
            state.spindle_rev_per_s = commanded
            self.columns.happens("spindle", value=commanded)

    def go(self, pieces: Sequence[Piece], kind: MoveKind, feed_mm_per_s: float = 0.0) -> None:
        """Append pieces of path, one behind the other, and stand at the end of the last."""
        state = self.state
        manner = Manner(
            feed_mm_per_s=feed_mm_per_s,
            slot=state.slot,
            spindle_rev_per_s=state.spindle_rev_per_s,
            path=state.path,
        )
        for piece in pieces:
            rows, arcs = self.columns.rows, self.columns.arcs
            self.columns.add(kind, piece, state.place, manner)
            state.place = piece.to
            if self.columns.rows % _MOVES_BETWEEN_BREATHS == 0:
                self.breathe()
            if self.columns.rows > rows == 0:
                state.said_at_move = state.said
            if self.columns.arcs > arcs == 0:
                state.said_at_arc = state.said
            if self.columns.rows > MOST_MOVES:
                raise Fault(
                    "too_large",
                    1,
                    f"the program makes more than {MOST_MOVES} moves",
                    "break the job into several programs",
                )
