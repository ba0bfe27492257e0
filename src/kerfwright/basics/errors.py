"""Errors: input that cannot be understood, with the place, the problem and a remedy."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where something stands in a file. Lines and columns count from 1."""

    file: str
    line: int = 0  #: 0 when the whole file is meant
    column: int = 0
    text: str = ""  #: the line itself

    def __str__(self) -> str:
        if self.line <= 0:
            return self.file
        return f"{self.file}:{self.line}:{max(self.column, 1)}"


class KerfwrightError(Exception):
    """Anything that Kerfwright refuses to go on with, in words for the person at the bench."""


class InputError(KerfwrightError):
    """One thing in one file that cannot be read as written."""

    def __init__(self, place: Place, problem: str, remedy: str) -> None:
        self.place, self.problem, self.remedy = place, problem, remedy
        super().__init__(place, problem, remedy)

    def __str__(self) -> str:
        words = f"{self.place}: {self.problem}\n"
        if self.place.line > 0 and self.place.text:
            shown, column = _window(self.place.text, max(self.place.column, 1))
            words += f"    {shown}\n    {' ' * (column - 1)}^\n"
        return words + f"  remedy: {self.remedy}"


class InputErrors(KerfwrightError):
    """Every error of a file, gathered before any of them is told."""

    def __init__(self, errors: Sequence[InputError], more: int = 0) -> None:
        if not errors:
            raise ValueError("InputErrors needs at least one error")
        self.errors = tuple(errors)
        self.more = more  #: errors found beyond those kept
        super().__init__(self.errors, more)

    def __str__(self) -> str:
        words = "\n".join(str(error) for error in self.errors)
        if self.more:
            words += f"\n... and {self.more} more like these"
        return words


def plainly(error: KerfwrightError) -> KerfwrightError:
    """The same words and places as an error of this module, whatever room it comes from.

    For another process: an error of a room of its own would have that whole room loaded there.
    """
    told = KerfwrightError(str(error))
    if isinstance(error, InputErrors):
        told = InputErrors([_plain_input(one) for one in error.errors], error.more)
    elif isinstance(error, InputError):
        told = _plain_input(error)
    return told if str(told) == str(error) else KerfwrightError(str(error))


def _plain_input(error: InputError) -> InputError:
    return InputError(error.place, error.problem, error.remedy)


def _window(text: str, column: int, width: int = 120) -> tuple[str, int]:
    """The part of a long line around a column, control characters made harmless."""
    start = max(0, column - 1 - width // 2) if len(text) > width else 0
    shown = text[start : start + width]
    clean = "".join(c if c.isprintable() else " " for c in shown)
    return clean, column - start
