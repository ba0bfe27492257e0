"""Where long work is, on one line of the terminal; a plain line for each stage when piped."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from kerfwright.basics.progress import Progress as Report

if TYPE_CHECKING:  # loaded only where there is a terminal to show it on
    from rich.progress import Progress, TaskID


@contextmanager
def progress_line() -> Iterator[Report]:
    """Give a ``Progress`` that shows itself on standard error."""
    if not sys.stderr.isatty():
        yield _Plain()
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    console = Console(file=sys.stderr)
    if not console.is_terminal:
        yield _Plain()
        return
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(bar_width=30, complete_style="yellow", finished_style="yellow"),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        console=console,
        transient=True,
    ) as bar:
        yield _Bar(bar)


class _Plain:
    def __init__(self) -> None:
        self._stage = ""

    def __call__(self, stage: str, done: float) -> None:  # noqa: ARG002 - a Progress has it
        if stage != self._stage:
            self._stage = stage
            print(f"{stage} ...", file=sys.stderr, flush=True)


class _Bar:
    def __init__(self, bar: "Progress") -> None:
        self._bar, self._stage = bar, ""
        self._task: TaskID | None = None

    def __call__(self, stage: str, done: float) -> None:
        if stage != self._stage or self._task is None:
            if self._task is not None:
                self._bar.remove_task(self._task)
            self._stage, self._task = stage, self._bar.add_task(stage, total=1.0)
        self._bar.update(self._task, completed=min(1.0, max(0.0, done)))
