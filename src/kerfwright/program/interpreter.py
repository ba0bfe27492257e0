"""Carries out one line in the order of NISTIR 6556, 3.8. It is the kernel's reference."""

from kerfwright.basics.units import INCH_MM
from kerfwright.kernels import program_state as kernel
from kerfwright.kernels.program_arcs import FARTHEST
from kerfwright.program import compensation, moves, origins
from kerfwright.program.problem import Fault
from kerfwright.program.program import as_words
from kerfwright.program.run import Run
from kerfwright.program.state import ALL_AXES, NO_MOTION, OWN_TOLERANCE
from kerfwright.program.usage import AXES, G4, Doing, doing, path_tolerance_word
from kerfwright.program.words import (
    CENTRES_GROUP,
    LONGEST_DWELL_S,
    Line,
    read_line,
    whole,
    within,
)

_SUSPICIOUS_DWELL_S = 100.0
LARGEST_TOLERANCE_MM = 100.0
#: Kinds of fault that may only follow from a place that a line before left unsure.
_FOLLOWS_PLACE = frozenset(
    ("arc_radius_mismatch", "arc_radius_small", "arc_endpoint", "arc_centre_missing", "crc_gouge")
)
_SYSTEMS = (540, 550, 560, 570, 580, 590, 591, 592, 593)


class Interpreter:
    """Carries out lines on one ``Run``."""

    def __init__(self, run: Run) -> None:
        self.run = run

    def carry_out(self, text: str) -> Fault | None:
        """Carry out one line. A faulty one makes no moves and no events.

        Returns the fault, unless it may only follow from one told before.
        """
        run = self.run
        before, mark, messages = run.state.copy(), run.columns.mark(), len(run.messages)
        run.keep_parameters()
        try:
            line = read_line(text, run.parameters, run.rules)
        except Fault as fault:
            self._after_unreadable()
            return fault
        if line.skipped and run.start.block_delete:
            run.tell("slash_skipped")
            return None
        try:
            self._execute(line, doing(line, run.state, run.rules))
        except Fault as fault:
            run.state = before
            run.columns.back_to(mark)
            del run.messages[messages:]
            run.restore_parameters()
            return self._after_faulty(line, fault)
        if line.skipped:
            run.tell("slash_run")
        for key, shown in line.tolerated.items():
            run.tell(key, shown=shown)
        return None

    def _after_unreadable(self) -> None:
        """See that the lines behind a line that cannot be read are not blamed for it."""
        state = self.run.state
        state.doubt = ALL_AXES
        state.compensation = None
        if state.motion == NO_MOTION:
            state.motion = 10
        if not state.feed > 0.0:
            state.feed = 1.0

    def _after_faulty(self, line: Line, fault: Fault) -> Fault | None:
        """The same for a line that was read: what is plain in it holds for the next lines.

        Nothing of this reaches a ``Program``: with one fault told, none is made.
        """
        state = self.run.state
        turned = 1 << (state.normal + 1) % 3 | 1 << (state.normal + 2) % 3
        follows = fault.kind in _FOLLOWS_PLACE and state.doubt & turned and not state.incremental
        state.compensation = None
        if (explicit := line.g_code(1)) is not None:
            state.motion, state.cycle = explicit, None
        elif fault.kind == "g80_axis_words" and state.motion == NO_MOTION:
            state.motion = 10
        if (distance := line.g_code(3)) is not None:
            state.incremental = distance == 910
        if "F" in line.words and 0.0 < line.words["F"].value <= FARTHEST:
            state.feed = line.words["F"].value
        elif fault.kind == "feed_zero":
            state.feed = 1.0
        if line.g_code(0) is None:
            try:
                state.place = origins.target(self.run, line)
                self._clear_doubt(line)
            except Fault:
                state.doubt = ALL_AXES
        return None if follows else fault

    def _execute(self, line: Line, found: Doing) -> None:
        state = self.run.state
        if line.message is not None:
            message = as_words(line.message.encode("latin-1"))
            self.run.messages.append(message)
            self.run.columns.happens("message", words=message)
        for index, value in line.settings:
            self.run.set_parameter(index, value)
        self._feed_mode(line)
        self._feed_and_units(line)
        self._speed_and_slot(line)
        if 6 in line.m:
            self._change_cutter()
        self._spindle(line)
        self._coolant_and_overrides(line)
        if found.group_0 == G4:
            self._dwell(line)
        self._plane(line)
        compensation.switch(self.run, line)
        origins.length_offset(self.run, line)
        if (system := line.g_code(12)) is not None:
            origins.select(self.run, _SYSTEMS.index(system) + 1, line.g[12].column)
        if (path := line.g_code(13)) is not None:
            state.path = {640: 0, 610: 1, 611: 2}[path]
            if path == 640:
                self._tolerance(line)
        if (centres := line.g_code(CENTRES_GROUP)) is not None:
            state.centres_absolute = centres == 901
        if (distance := line.g_code(3)) is not None:
            state.incremental = distance == 910
            state.said |= kernel.SAID_DISTANCE
        if (retract := line.g_code(10)) is not None:
            state.to_old_z = retract == 980
        origins.group_0(self.run, line, found)
        self._clear_doubt(line)
        if (explicit := line.g_code(1)) is not None:
            if explicit != state.motion:
                state.cycle = None
            state.motion = explicit
            state.code_wanted = False
        if found.motion is not None:
            if state.motion == NO_MOTION:  # axis words that no code came before
                state.motion = found.motion
            if state.code_wanted:
                self.run.tell("motion")
            moves.move(self.run, line, found)
        self._stop(line)

    def _tolerance(self, line: Line) -> None:
        """The path tolerance that G64 brings, or leaves to the machine."""
        state, most = self.run.state, LARGEST_TOLERANCE_MM
        tolerance = OWN_TOLERANCE
        if path_tolerance_word(line):
            tolerance = within(line, "P", 0.0, most / state.unit) * state.unit
            heeded = self.run.rules.tolerance_heeded
            self.run.tell("tolerance" if heeded else "tolerance_ignored")
        if tolerance != state.tolerance:
            state.tolerance = tolerance
            self.run.columns.happens("tolerance", value=tolerance)

    def _clear_doubt(self, line: Line) -> None:
        state = self.run.state
        if not state.doubt:
            return
        for k, letter in enumerate(AXES):
            if letter in line.words and not state.incremental:
                state.doubt &= ~(1 << k)

    def _feed_mode(self, line: Line) -> None:
        mode = line.g_code(5)
        if mode is None:
            return
        inverse = mode == 930
        if inverse != self.run.state.inverse_time:
            self.run.state.feed = 0.0  # a number per minute is no feed, nor the other way about
            self.run.state.feed_before_units = False
        self.run.state.inverse_time = inverse

    def _feed_and_units(self, line: Line) -> None:
        """F and G20, G21. Group 6 comes later in the standard's order than F; F counts in the
        units that hold after the line, and that is told when it makes a difference.
        """
        state = self.run.state
        units = line.g_code(6)
        if "F" in line.words:
            state.feed = within(line, "F", 0.0, FARTHEST)
            state.feed_before_units = False
        if units is None:
            return
        if state.compensation is not None:
            raise Fault(
                "crc_forbidden",
                line.g[6].column,
                "the units cannot change while cutter radius compensation is on",
                "end it with G40",
            )
        state.said |= kernel.SAID_UNITS
        unit = INCH_MM if units == 200 else 1.0
        if unit == state.unit:
            return
        state.unit = unit
        if "F" in line.words:
            self.run.tell("feed_line")
        elif state.feed > 0.0 and not state.inverse_time:
            state.feed_before_units = True
        if self.run.columns.rows:
            self.run.tell("units_late")

    def _speed_and_slot(self, line: Line) -> None:
        if "S" in line.words:
            self.run.state.speed = within(line, "S", 0.0, FARTHEST)
        if "T" in line.words:
            self.run.state.selected = whole(line, "T", 0, self.run.start.slots)

    def _change_cutter(self) -> None:
        state = self.run.state
        state.turning = 0
        self.run.set_spindle()
        state.slot = state.selected
        state.code_wanted = state.motion >= 0
        self.run.columns.happens("cutter", value=state.slot)

    def _spindle(self, line: Line) -> None:
        code = line.m_code(7)
        if code is not None:
            self.run.state.turning = {3: 1, 4: -1, 5: 0}[code]
        self.run.set_spindle()

    def _coolant_and_overrides(self, line: Line) -> None:
        state = self.run.state
        code = line.m_code(8)
        if code is not None:
            coolant = {7: state.coolant | 1, 8: state.coolant | 2, 9: 0}[code]
            if coolant != state.coolant:
                state.coolant = coolant
                self.run.columns.happens("coolant", value=coolant)
        if (overrides := line.m_code(9)) is not None:
            state.overrides = overrides == 48

    def _dwell(self, line: Line) -> None:
        seconds = within(line, "P", 0.0, LONGEST_DWELL_S, needed_by="G4")
        if seconds >= _SUSPICIOUS_DWELL_S:
            self.run.tell("dwell")
        self.run.columns.happens("dwell", value=seconds)

    def _plane(self, line: Line) -> None:
        code = line.g_code(2)
        if code is None:
            return
        state = self.run.state
        normal = 19 - code // 10
        if state.compensation is not None and normal != state.normal:
            raise Fault(
                "crc_plane",
                line.g[2].column,
                "the plane cannot change while cutter radius compensation is on",
                "end it with G40",
            )
        state.normal = normal
        state.said |= kernel.SAID_PLANE

    def _stop(self, line: Line) -> None:
        code = line.m_code(4)
        if code is None:
            return
        if code == 0:
            self.run.columns.happens("stop")
        elif code == 60:
            self.run.columns.happens("stop", words="pallet")
        elif code == 1:
            if self.run.start.optional_stop:
                self.run.columns.happens("optional_stop")
        else:
            self.run.columns.happens("end")
            origins.end(self.run)
            self.run.ended = True
