"""A program file from its first byte to its end: text in, columns out, every fault gathered."""

import hashlib
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from kerfwright.basics import InputErrors, Place, Progress
from kerfwright.basics.progress import silent
from kerfwright.kernels import program_state as kernel
from kerfwright.kernels.program_lines import blank_lines, count_lines, line_end
from kerfwright.kernels.program_text import read_lines
from kerfwright.program import origins
from kerfwright.program.columns import Columns
from kerfwright.program.dialect import STRICT, Dialect
from kerfwright.program.interpreter import Interpreter
from kerfwright.program.line_ends import wrong_line_end
from kerfwright.program.notes import Notes
from kerfwright.program.problem import Fault, ProgramError
from kerfwright.program.program import Program, as_words
from kerfwright.program.run import Run
from kerfwright.program.start import StartState
from kerfwright.program.state import Shared

#: Larger files are refused: text and columns together would not fit a common computer.
MOST_BYTES = 512 * 2**20
ERRORS_KEPT = 200
#: Reading ends after so many: a file of this kind is no program.
ERRORS_COUNTED = 4_000

_CHUNK = 1 << 20  # bytes that the kernel takes at a time: some 10 ms
_LINES_BETWEEN_PROGRESS = 200
_MOST_ROWS_AT_FIRST = 20_000_000  # some 1 GB, which a large file of blanks would ask for in vain
_MARK = b"\xef\xbb\xbf"
_UTF_16_OR_32 = (b"\xff\xfe", b"\xfe\xff", b"\x00\x00\xfe\xff")
_NO_BLANK = re.compile(rb"[^ \t]")
_PROGRAM_NUMBER = re.compile(r"[ \t]*[Oo:][ \t]*\d[\d \t]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What came of reading, faults or not."""

    program: Program  #: without the lines that are faulty
    errors: tuple[ProgramError, ...]  #: in the order of the file, at most ``ERRORS_KEPT``
    more: int  #: found beyond those
    good_moves: int  #: moves before the first fault
    good_events: int  #: events before the first fault


def read_program(
    path: Path,
    rules: Dialect = STRICT,
    start: StartState | None = None,
    progress: Progress = silent,
) -> Program:
    """Read a program file.

    Raises
    ------
    InputErrors
        All faults of the file, each a ``ProgramError``.
    Stopped
        If ``progress`` raises it.
    """
    return parse_program(load_text(path, progress), str(path), rules, start, progress)


def parse_program(
    text: bytes,
    file: str,
    rules: Dialect = STRICT,
    start: StartState | None = None,
    progress: Progress = silent,
    *,
    kernel_on: bool = True,
) -> Program:
    """Read the text of a program; ``file`` names it in errors.

    ``kernel_on=False`` has every line carried out by the interpreter; the result is the same.
    Raises as ``read_program`` does.
    """
    reading = examine_program(text, file, rules, start, progress, kernel_on=kernel_on)
    if reading.errors:
        raise InputErrors(reading.errors, reading.more)
    return reading.program


def examine_program(
    text: bytes,
    file: str,
    rules: Dialect = STRICT,
    start: StartState | None = None,
    progress: Progress = silent,
    *,
    kernel_on: bool = True,
) -> Reading:
    """``parse_program`` that gives what could be read beside the faults, and raises none."""
    return _Reader(text, file, rules, start or StartState(), progress, kernel_on).read()


def load_text(path: Path, progress: Progress = silent) -> bytes:
    """The bytes of a program file, refused when there are too many."""
    try:
        if not path.is_file():
            raise _file_error(
                str(path),
                "not_text",
                "this is a folder, not a file" if path.is_dir() else "there is no such file",
                "check the name and the folder",
            )
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise _too_large(str(path), size)
        with path.open("rb") as file:
            text = io.BytesIO()  # which hands its bytes out without a copy
            while block := file.read(1 << 22):
                text.write(block)
                done = text.tell()
                if done > MOST_BYTES:
                    raise _too_large(str(path), done)
                progress("loading the program", min(1.0, done / max(size, 1)))
    except OSError as error:
        raise _file_error(
            str(path),
            "not_text",
            f"the file cannot be read: {error.strerror}",
            "check that you may read it",
        ) from error
    return text.getvalue()


def _too_large(file: str, size: int) -> InputErrors:
    return _file_error(
        file,
        "too_large",
        f"the file has {size / 2**20:.0f} MiB; at most {MOST_BYTES // 2**20} MiB are read",
        "break the job into several programs",
    )


def _file_error(file: str, kind: str, problem: str, remedy: str) -> InputErrors:
    return InputErrors([ProgramError(Place(file=file), problem, remedy, kind)])


class _Reader:
    """One reading of one text."""

    def __init__(
        self,
        text: bytes,
        file: str,
        rules: Dialect,
        start: StartState,
        progress: Progress,
        kernel_on: bool,
    ) -> None:
        self.text, self.file, self.rules, self.start = text, file, rules, start
        self.progress, self.kernel_on = progress, kernel_on
        self.buffer = np.frombuffer(text, np.uint8)
        self.notes = Notes()
        self.refused = self._not_text() or wrong_line_end(text, rules.line_ends)
        self.columns = Columns(0 if self.refused else self._guess_rows())
        self.run = Run(rules, start, self.columns, self.notes, progress, len(text))
        self.interpreter = Interpreter(self.run)
        self.shared = Shared(rules)
        self.errors: list[ProgramError] = []
        self.faults = 0
        self.good = (0, 0)
        self.at = 0  # how far into the text it has come
        self.lines = 0  # finished
        self.single_lines = 0  # of those, carried out by the interpreter
        self.percent_line = 0  # of the % that opens the program, 0 for none
        self.begun = False  # whether a line that is not blank has come
        self.ended = False

    def read(self) -> Reading:
        fault = self.refused or origins.begin(self.run)
        if fault is not None:
            self._add(fault, 0, "")
        else:
            self._all_lines(len(_MARK) if self._marked() else 0)
        if not self.errors:
            self.good = self.columns.rows, len(self.columns.events)
        return Reading(
            program=self._program(),
            errors=tuple(self.errors),
            more=self.faults - len(self.errors),
            good_moves=self.good[0],
            good_events=self.good[1],
        )

    def _guess_rows(self) -> int:
        """Rows to begin with: as many lines as the whole file would have if all were like its
        first ones, empty ones left out; too few is put right as it comes.
        """
        sample = self.buffer[:_CHUNK]
        ends = (sample == 10) | (sample == 13)
        lines = np.count_nonzero(ends[1:] & ~ends[:-1]) + 1
        guess = int(lines) * len(self.text) // max(len(sample), 1) * 102 // 100 + 16
        return min(guess, _MOST_ROWS_AT_FIRST)

    def _not_text(self) -> Fault | None:
        remedy = "give the program as plain text, one line for each step"
        if self.text.startswith(_UTF_16_OR_32):
            return Fault("not_text", 1, "the file is text of 16 or 32 bits for a letter", remedy)
        if len(self.text) > MOST_BYTES:
            return Fault("too_large", 1, f"the text has more than {MOST_BYTES} bytes", remedy)
        zero = self.text.find(0)
        if zero >= 0:
            line = count_lines(self.buffer, 0, zero) + 1
            return Fault(
                "not_text", 1, f"the file is no text: line {line} holds a byte of value 0", remedy
            )
        return None

    def _marked(self) -> bool:
        if not (self.rules.byte_order_mark and self.text.startswith(_MARK)):
            return False
        self.notes.tell("mark", 1)
        return True

    def _all_lines(self, at: int) -> None:
        size = len(self.text)
        at = self._blank_lines(at)
        while at < size and not self.ended and self.faults < ERRORS_COUNTED:
            if self.kernel_on and self.begun and self.run.state.plain:
                at, odd = self._plain_lines(at)
                if not odd:
                    continue
            at = self._one_line(at)
        self.at = at
        self._merge_told()
        origins.tell_start(self.run)
        if not self.ended and self.faults < ERRORS_COUNTED:
            self._no_end()
        self.progress("reading the program", 1.0)

    def _blank_lines(self, at: int) -> int:
        """Go to the first line that is not blank; the kernel cannot judge it, for it may be a %."""
        while True:
            stop = min(len(self.text), at + _CHUNK)
            begins, lines = blank_lines(self.buffer, at, stop)
            self.lines += lines
            if lines == 0:
                return at
            at = begins
            self.progress("reading the program", at / len(self.text))

    def _plain_lines(self, at: int) -> tuple[int, bool]:
        """Let the kernel read on; where it stopped, and whether the next line is odd."""
        size = len(self.text)
        shared, columns = self.shared, self.columns
        whole: Any = shared.whole
        shared.give(self.run.state)
        odd = False
        while at < size and not odd:
            columns.make_room()
            whole[kernel.LINE] = self.lines
            whole[kernel.ROW], whole[kernel.ARC] = columns.rows, columns.arcs
            stop = min(size, at + _CHUNK)
            at = read_lines(
                self.buffer, at, stop, whole, shared.real, shared.told, *columns.arrays()
            )
            self.lines = int(whole[kernel.LINE])
            columns.rows, columns.arcs = int(whole[kernel.ROW]), int(whole[kernel.ARC])
            odd = whole[kernel.WHY] == kernel.ODD
            if whole[kernel.WHY] == kernel.DONE:
                self.progress("reading the program", at / size)
        shared.take(self.run.state)
        return at, odd

    def _one_line(self, at: int) -> int:
        """Let the interpreter carry out the line that begins at ``at``; where the next begins."""
        size = len(self.text)
        end = at
        while end < size:
            stop = min(size, end + 64 * _CHUNK)
            end = line_end(self.buffer, end, stop)
            if end < stop:
                break
        text = self.text[at : min(end, at + self.rules.longest_line + 1)].decode("latin-1")
        self.lines += 1
        self.columns.line, self.columns.byte = self.lines, at
        self.single_lines += 1
        if self.single_lines % _LINES_BETWEEN_PROGRESS == 0:
            self.run.breathe()
        blank = _NO_BLANK.search(self.text, at, end) is None  # the text may be cut, the line not
        fault = None if blank else self._carry_out(text)
        if fault is not None:
            self._add(fault, self.lines, text)
        return end + (2 if self.text[end : end + 2] == b"\r\n" else 1)

    def _carry_out(self, text: str) -> Fault | None:
        bare = text.strip(" \t")
        first = not self.begun
        self.begun = True
        if bare[:1] == "%":
            return self._percent(text, bare, first)
        if self.rules.program_number and (match := _PROGRAM_NUMBER.match(text)):
            self.notes.tell("program_number", self.lines)
            text = " " * match.end() + text[match.end() :]
        fault = self.interpreter.carry_out(text)
        self.ended = self.run.ended
        return fault

    def _percent(self, text: str, bare: str, first: bool) -> Fault | None:
        """A line that begins with ``%`` (3.1)."""
        column = text.index("%") + 1
        if bare != "%":
            if not self.rules.percent_anywhere:
                return Fault(
                    "syntax",
                    column,
                    "% does not stand alone on its line",
                    "put the rest on a line of its own",
                )
            self.notes.tell("percent", self.lines)
        if first:
            self.percent_line = self.lines
        elif self.percent_line or self.rules.percent_anywhere:
            if not self.percent_line:
                self.notes.tell("percent_end", self.lines)
            self.ended = True
        else:
            return Fault(
                "stray_percent",
                column,
                "the program has a % here but does not begin with one",
                "remove it, or put a % on the first line",
            )
        return None

    def _no_end(self) -> None:
        if self.percent_line and not self.rules.percent_anywhere:
            fault = Fault(
                "percent_not_closed",
                1,
                f"the program begins with % on line {self.percent_line} and has no second one: "
                "it may have been cut short",
                "see that the file is whole; put % on its last line",
            )
            self._add(fault, 0, "")
        elif not self.rules.end_may_be_missing:
            words = "the file ends without M2 or M30: it may have been cut short"
            fault = Fault(
                "no_program_end",
                1,
                words if self.begun else "the file has no line of a program",
                "see that the file is whole; end it with M2",
            )
            self._add(fault, 0, "")
        else:
            if self.percent_line:
                self.notes.tell("percent_open", self.percent_line)
            self.notes.tell("end", max(self.lines, 1))

    def _add(self, fault: Fault, line: int, text: str) -> None:
        if not self.faults:
            self.good = self.columns.rows, len(self.columns.events)
        self.faults += 1
        if len(self.errors) < ERRORS_KEPT:
            # Faults count bytes, one letter each; the person sees the letters that they stand for.
            shown = as_words(text.encode("latin-1"))
            before = text[: fault.column - 1]
            if shown != text:
                before = before.encode("latin-1").decode("utf-8", "ignore")
            column = len(before) + 1 if line else 0
            place = Place(file=self.file, line=line, column=column, text=shown)
            self.errors.append(ProgramError(place, fault.problem, fault.remedy, fault.kind))

    def _merge_told(self) -> None:
        keys: Sequence[tuple[str, int]] = (
            ("semicolon", kernel.TOLD_SEMICOLON),
            ("number", kernel.TOLD_NUMBER),
            ("round", kernel.TOLD_ROUND),
            ("wide", kernel.TOLD_WIDE),
        )
        for key, row in keys:
            count, line = self.shared.told[row].tolist()
            if count:
                worst = float(self.shared.real[kernel.ROUND_WORST_MM]) if key == "round" else 0.0
                self.notes.tell(key, line, worst, count)
        if self.rules.centres_absolute and self.columns.arcs:
            self.notes.tell("centres", 1)

    def _count_lines(self) -> int:
        """Lines of the file: those read, and those behind the end of the program."""
        lines, size = self.lines, len(self.text)
        for at in range(self.at, size, 64 * _CHUNK):
            lines += count_lines(self.buffer, at, min(at + 64 * _CHUNK, size))
        return lines + (self.at < size and self.text[-1:] not in (b"\n", b"\r"))

    def _sha256(self) -> str:
        taken = hashlib.sha256()
        text = memoryview(self.text)
        for at in range(0, len(text), 16 * _CHUNK):
            taken.update(text[at : at + 16 * _CHUNK])
            self.progress("reading the program", 1.0)
        return taken.hexdigest()

    def _program(self) -> Program:
        after = origins.after(self.run)
        moves, arcs, jumps = self.columns.finish(self.start.start_mm)
        point, kind, feed, line, byte, slot, spindle, path = moves
        columns: dict[str, Any] = {
            "point_mm": point,
            "kind": kind,
            "feed_mm_per_s": feed,
            "line": line,
            "byte": byte,
            "slot": slot,
            "spindle_rev_per_s": spindle,
            "path_mode": path,
        }
        return Program(
            file=self.file,
            text=self.text,
            sha256=self._sha256(),
            dialect=self.rules.name,
            lines=self._count_lines(),
            **columns,
            arcs=arcs,
            events=tuple(self.columns.events),
            notes=self.notes.words(),
            jumps=jumps,
            timed_moves=np.array(self.columns.timed, np.int64),
            after=after,
            unit_mm=None if self.notes.has("units_late") else self.run.state.unit,
            unit_said=origins.units_said(self.run),
        )
