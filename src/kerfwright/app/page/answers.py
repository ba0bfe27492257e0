"""Answers that are no: input to mend, a state that does not allow it, nothing there."""

from typing import Any

from kerfwright.basics import InputError, InputErrors, KerfwrightError


class Refused(Exception):
    """An answer with a status other than 200 and a plain value."""

    def __init__(self, status: int, value: Any) -> None:
        self.status, self.value = status, value
        super().__init__(status, value)


def not_now(problem: str, remedy: str) -> Refused:
    """409: the state does not allow it."""
    return Refused(409, {"problem": problem, "remedy": remedy})


def not_there(problem: str) -> Refused:
    """404."""
    return Refused(404, {"problem": problem, "remedy": "go back to the list of jobs"})


def too_large(problem: str) -> Refused:
    """413."""
    return Refused(413, {"problem": problem, "remedy": "check that this is the right file"})


def not_understood(error: KerfwrightError) -> Refused:
    """422: what cannot be read, each with its place."""
    return Refused(422, refusals(error))


def refusals(error: KerfwrightError) -> list[dict[str, Any]]:
    """Everything that is wrong, as ``wire.ts`` has it."""
    if isinstance(error, InputErrors):
        out = [_refusal(one) for one in error.errors]
        if error.more:
            out.append(plain_refusal(f"and {error.more} more like these", ""))
        return out
    if isinstance(error, InputError):
        return [_refusal(error)]
    problem, _, remedy = str(error).partition("\n  remedy: ")
    return [plain_refusal(problem, remedy)]


def plain_refusal(problem: str, remedy: str, file: str = "") -> dict[str, Any]:
    """One without a place."""
    return {
        "problem": problem, "remedy": remedy, "file": file, "line": 0, "column": 0, "text": "",
    }  # fmt: skip


def _refusal(error: InputError) -> dict[str, Any]:
    place = error.place
    return {
        "problem": error.problem,
        "remedy": error.remedy,
        "file": place.file.replace("\\", "/").rpartition("/")[2],
        "line": place.line,
        "column": place.column,
        "text": "".join(c if c.isprintable() else " " for c in place.text[:400]),
    }
