"""``kerfwright describe``: the interview in a terminal, or from a pipe."""

import io
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from kerfwright.app.errands import run_describe
from kerfwright.app.exits import STOPPED_BY_THE_PERSON
from kerfwright.app.outputs import check_file
from kerfwright.app.progress_line import progress_line
from kerfwright.basics import InputError, Place
from kerfwright.jobs.machine_errand import MachineErrand
from kerfwright.jobs.worker import run

if TYPE_CHECKING:  # a command must start at once
    from kerfwright.jobs.interview import Interview

WIDTH = 92
_LONGEST_LINE = 1000
_BEGIN = (
    "Enter keeps what stands in [ ]. don't know is a full answer: the usual range is taken, and "
    "told. back goes back, help tells this again. Ctrl-C stops and keeps what you answered. Inch "
    "or metric, fractions too: 24 3/8 in."
)
_CAUTION = (
    "Pull the plug before you measure or push anything, and keep clear of what can fall. Follow "
    "your local codes, and leave mains wiring to a licensed electrician."
)


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("describe")(describe)


def describe(
    file: Annotated[
        Path, typer.Argument(help="The description to begin from; made if it is not there.")
    ] = Path("machine.toml"),
    out: Annotated[
        Path | None, typer.Option(help="Write the answers here, and leave FILE as it is.")
    ] = None,
) -> None:
    """Ask about your router, a dozen things, and write its machine.toml.

    Answers may be piped in, one to a line. Exit code 0, or 2 for an answer to mend.
    """
    from kerfwright.jobs.interview import begin  # heavy
    from kerfwright.report.machine_card import WORTH

    target = out or file
    check_file(target, "--out" if out is not None else "FILE", "")
    interview = begin(file)
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    print(f"{_wrap(_BEGIN)}\n\n{_wrap(_CAUTION)}")
    try:
        _ask_all(interview)
    except KeyboardInterrupt:
        print(f"\nstopped; {_keep(interview, target, 'what you answered is kept in')}")
        raise typer.Exit(STOPPED_BY_THE_PERSON) from None
    print(f"\n{_keep(interview, target, 'Written:')}")
    if not target.exists():
        return
    with progress_line() as progress:
        card = run(run_describe, MachineErrand(machine=str(target)), on_progress=progress)
    first, *rest = card.words.split("\n\n")
    print(f"\n{_wrap(first)}\n")
    print("".join(f"{part}\n\n" for part in rest if part.startswith(WORTH)), end="")
    print(f"The whole card:  kerfwright machine {target}")


def _ask_all(interview: "Interview") -> None:
    """Every blank in turn; an end of the input leaves the rest as it stands."""
    shown = ""
    while (at := interview.at) is not None:
        question, blank = at
        if question.id != shown:
            shown = question.id
            print(f"\n{interview.number} of {interview.count}  {question.ask}")
            print(_wrap(question.how, "        "))
        wanted = ", ".join(interview.choices) or f"like {blank.example}"
        try:
            typed = _line(f"  {blank.label} ({wanted}) [{interview.typed}]: ")
        except EOFError:
            print()
            return
        if typed.lower() == "back":
            interview.back()
            continue
        if typed.lower() == "help":
            print(f"\n{_wrap(_BEGIN, '    ')}\n{_wrap(question.how, '    ')}")
            continue
        _take(interview, typed)


def _take(interview: "Interview", typed: str) -> None:
    """Give one answer; a refused one is asked again, or ends the command if nobody sits there."""
    try:
        interview.answer(typed)
    except InputError as error:
        if not sys.stdin.isatty():
            raise InputError(
                Place(file="answers", line=interview.lines, column=1, text=typed[:200]),
                error.problem,
                f"{error.remedy}; nothing was written",
            ) from None
        print(f"    not taken: {error.problem}\n    {error.remedy}")
        return
    if interview.understood:
        print(f"    {interview.understood}")


def _line(prompt: str) -> str:
    """One line of a person, or of a pipe."""
    if sys.stdin.isatty():
        return input(prompt).strip()
    print(prompt, end="", flush=True)
    line = sys.stdin.readline(_LONGEST_LINE)
    if not line:
        raise EOFError
    print("".join(c if c.isprintable() else " " for c in line).strip())
    return line.strip()


def _keep(interview: "Interview", target: Path, words: str) -> str:
    """Write the answers; what stood there before is kept beside it."""
    from kerfwright.workshop import replace_keeping_old

    if not interview.answered:
        return "nothing was answered, and nothing was written"
    old = replace_keeping_old(target, interview.text)
    return f"{words} {target}" + (f" (the old one is {old.name})" if old is not None else "")


def _wrap(text: str, indent: str = "") -> str:
    return textwrap.fill(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )
