"""What a description is made whole with: each value as written, or taken and said."""

from collections.abc import Callable

from kerfwright.basics import Known
from kerfwright.machine.defaults import amount_words, assumed_words, between, table_default
from kerfwright.machine.entries import AXES, Choice, entry_at, number_at, words_at
from kerfwright.machine.read import Written

_MISSES = "common practice; scale by a supplier's 0.1 mm in 300 mm where there are screws"


class Filling:
    """Fills ``Written`` up, value by value, and says what it took."""

    def __init__(self, written: Written) -> None:
        self.written = written
        self.values: dict[str, Known] = {}
        self.choices: dict[str, str] = {}
        self.assumed: list[str] = []

    def choice(self, path: str) -> str:
        """The word chosen at a path, or the usual one, said."""
        if path not in self.choices:
            entry = entry_at(path)
            if not isinstance(entry, Choice):
                raise TypeError(f"{path} holds no choice")
            said = self.written.choices.get(path)
            if said is None and not entry.quiet:
                self.assumed.append(f"{words_at(path)}: not said, taken as {entry.options[0]}")
            self.choices[path] = said or entry.options[0]
        return self.choices[path]

    def value(self, path: str, kind: str = "") -> Known:
        """What is known of a path, or the range of the table for that kind."""
        return self._taken(path, lambda: table_default(path, kind))

    def derived(self, path: str, low: float, high: float, why: str) -> Known:
        """What is known of a path, or a range that follows from other values."""
        return self._taken(path, lambda: between(low, high, why))

    def assumed_words(self) -> tuple[str, ...]:
        """What was taken, axes that share a sentence joined: ``X, Z: friction ...``."""
        axes_of: dict[str, list[str]] = {}
        for sentence in self.assumed:
            axis, parted, rest = sentence.partition(": ")
            if parted and axis.lower() in AXES:
                axes_of.setdefault(rest, []).append(axis)
            else:
                axes_of[sentence] = []
        joined = (
            f"{', '.join(axes)}: {words}" if axes else words for words, axes in axes_of.items()
        )
        return (*joined, *self._geometry_words())

    def _geometry_words(self) -> list[str]:
        """What was taken for the readings of geometry that nobody gave, in one sentence."""
        taken = [
            f"{words_at(path)} {amount_words(path, known)}"
            for path, known in self.values.items()
            if path.startswith("geometry.") and known.kind == "default"
        ]
        return (
            [f"geometry not measured, and taken as ({_MISSES}): {'; '.join(taken)}"]
            if taken
            else []
        )

    def _taken(self, path: str, default: Callable[[], Known]) -> Known:
        if path not in self.values:
            known = self.written.values.get(path)
            if known is None:
                known = default()
                if not number_at(path).quiet:
                    self.assumed.append(assumed_words(path, known))
            self.values[path] = known
        return self.values[path]
