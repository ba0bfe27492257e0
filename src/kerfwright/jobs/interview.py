"""The interview, blank by blank: where it is, what was answered, what was understood."""

from pathlib import Path

from kerfwright.formats import read_toml
from kerfwright.formats.toml_file import parse_toml
from kerfwright.machine import (
    EMPTY,
    QUESTIONS,
    UNKNOWN,
    Blank,
    Change,
    Choice,
    Question,
    answered,
    entry_of,
    is_asked,
    spread_out,
    typed_at,
)
from kerfwright.report.known_words import known_words


def begin(file: Path) -> "Interview":
    """An interview about the machine in a file; about one of which nothing is known without it.

    Raises
    ------
    InputError, InputErrors
        If the file is there and cannot be read.
    """
    text = read_toml(file).text if file.exists() else EMPTY
    return Interview(text, str(file))


class Interview:
    """What was answered so far, as the text of a machine.toml."""

    def __init__(self, text: str, file: str) -> None:
        self.text, self._machine = answered(text, (), file)
        self.answered = 0  #: answers that changed something
        self.lines = 0  #: answers given, refused ones included
        self.understood = ""  #: what the last answer came to, in words
        self._file = file
        self._data = parse_toml(text, file).data
        self._all = [(q, blank) for q in QUESTIONS for blank in q.blanks]
        self._at = self._next(-1, 1)

    @property
    def at(self) -> tuple[Question, Blank] | None:
        """The blank to be filled in now; None when all are."""
        return self._all[self._at] if self._at < len(self._all) else None

    @property
    def number(self) -> int:
        """Of the question, from 1."""
        return QUESTIONS.index(self._here()[0]) + 1

    @property
    def count(self) -> int:
        """Of questions."""
        return len(QUESTIONS)

    @property
    def typed(self) -> str:
        """What stands at the blank."""
        return self.typed_at(self._here()[1].path)

    def typed_at(self, path: str) -> str:
        """What stands at a path."""
        return typed_at(self._data, path)

    @property
    def choices(self) -> list[str]:
        """What can be chosen, numbered; empty where something is to be typed."""
        entry = entry_of(self._here()[1].path)
        options = entry.options if isinstance(entry, Choice) else ()
        return [f"{number} {option}" for number, option in enumerate(options, start=1)]

    def answer(self, typed: str) -> None:
        """Take an answer and go on; ``Enter`` keeps what stands.

        Raises
        ------
        AnswerError
            If it is refused: nothing has changed then.
        """
        path = self._here()[1].path
        self.lines += 1
        self.understood = ""
        if typed:
            text, machine = answered(self.text, [Change(path=path, typed=typed)], self._file)
            self.answered += text != self.text
            self.text, self._machine = text, machine
            self._data = parse_toml(text, self._file).data
            self.understood = self._words(path, typed)
        self._at = self._next(self._at, 1)

    def back(self) -> None:
        """To the blank before this one."""
        self.lines += 1
        self._at = max(self._next(self._at, -1), 0)

    def _here(self) -> tuple[Question, Blank]:
        if self.at is None:
            raise IndexError("every blank is filled in")
        return self.at

    def _next(self, at: int, way: int) -> int:
        at += way
        while 0 <= at < len(self._all) and not is_asked(self._all[at][1], self._data):
            at += way
        return at

    def _words(self, path: str, typed: str) -> str:
        """What is taken, in metric and inch, where that is not just what was typed."""
        known = self._machine.known.get(spread_out(path)[0])
        if known is None or "*" in path:
            return ""
        words = known_words(path, known)
        if self.typed_at(path) == UNKNOWN:
            return f"taken: {words}"
        return "" if words == typed else f"read as {words}"
