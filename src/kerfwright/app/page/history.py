"""Changes of the workshop's files, kept on disk so that each can be undone and done again."""

import json
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from secrets import token_hex
from threading import RLock
from typing import Any

from kerfwright.app.page.answers import not_now
from kerfwright.formats.atomic import write_bytes, write_text

FILE = ".undo.json"
KIND = "undo 1"
UNDONE = ".undone"  #: folder of jobs that were added and are taken away again
MOST_CHANGES = 100
MOST_LETTERS = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that the person did: files with their texts before and after, or a job added."""

    words: str
    texts: Mapping[str, tuple[str | None, str | None]]  #: by path from the workshop; None: no file
    added: str = ""  #: folder of a job, from the workshop
    id: str = ""

    @property
    def letters(self) -> int:
        """About how much room it takes."""
        return sum(len(text or "") for pair in self.texts.values() for text in pair)


class History:
    """The changes of one workshop."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = RLock()
        self._done, self._undone = self._load()

    def words(self) -> tuple[str | None, str | None]:
        """What would be undone, and what would be done again."""
        with self._lock:
            return (
                self._done[-1].words if self._done else None,
                self._undone[-1].words if self._undone else None,
            )

    def change(self, words: str, texts: Mapping[str, str | None]) -> None:
        """Write new texts of some files, each whole or not at all; None removes a file."""
        with self._lock:
            pairs = {path: (self._text(path), text) for path, text in texts.items()}
            pairs = {path: pair for path, pair in pairs.items() if pair[0] != pair[1]}
            if pairs:
                self._write({path: after for path, (_, after) in pairs.items()})
                self._note(Change(words=words, texts=pairs, id=token_hex(8)))

    def job_added(self, words: str, folder: str) -> None:
        """Note that a job was added, its folder counted from the workshop."""
        with self._lock:
            self._note(Change(words=words, texts={}, added=folder, id=token_hex(8)))

    def undo(self) -> str:
        """Undo the last change; returns its words. Raises ``Refused`` (409)."""
        with self._lock:
            if not self._done:
                raise not_now("there is nothing to undo", "go on")
            change = self._done[-1]
            if change.added:
                self._move(change.added, f"{UNDONE}/{change.id}")
            else:
                self._swap(change, back=True)
            self._undone.append(self._done.pop())
            self._save()
            return change.words

    def redo(self) -> str:
        """Do the last undone change again. Raises ``Refused`` (409)."""
        with self._lock:
            if not self._undone:
                raise not_now("there is nothing to do again", "go on")
            change = self._undone[-1]
            if change.added:
                self._move(f"{UNDONE}/{change.id}", change.added)
            else:
                self._swap(change, back=False)
            self._done.append(self._undone.pop())
            self._save()
            return change.words

    def _swap(self, change: Change, *, back: bool) -> None:
        now, then = (1, 0) if back else (0, 1)
        for path, pair in change.texts.items():
            if self._text(path) != pair[now]:
                raise not_now(
                    f"{path} was changed elsewhere since, and that would be lost",
                    "change it by hand",
                )
        self._write({path: pair[then] for path, pair in change.texts.items()})

    def _move(self, source: str, to: str) -> None:
        here, there = self._folder / source, self._folder / to
        if not here.is_dir() or there.exists():
            raise not_now(f"{source} is not where it was", "put it back by hand")
        there.parent.mkdir(parents=True, exist_ok=True)
        here.replace(there)

    def _note(self, change: Change) -> None:
        self._done.append(change)
        for gone in self._undone:
            if gone.added:
                shutil.rmtree(self._folder / UNDONE / gone.id, ignore_errors=True)
        self._undone.clear()
        while len(self._done) > MOST_CHANGES or (
            len(self._done) > 1 and sum(one.letters for one in self._done) > MOST_LETTERS
        ):
            del self._done[0]
        self._save()

    def _text(self, path: str) -> str | None:
        try:
            return (self._folder / path).read_bytes().decode("utf-8", "surrogateescape")
        except FileNotFoundError:
            return None

    def _write(self, texts: Mapping[str, str | None]) -> None:
        for path, text in texts.items():
            if text is None:
                (self._folder / path).unlink(missing_ok=True)
            else:
                write_bytes(self._folder / path, text.encode("utf-8", "surrogateescape"))

    def _load(self) -> tuple[list[Change], list[Change]]:
        try:
            whole = json.loads((self._folder / FILE).read_text(encoding="utf-8"))
            if whole["kerfwright"] != KIND:
                return [], []
            return _changes(whole["done"]), _changes(whole["undone"])
        except (OSError, ValueError, KeyError, TypeError):
            return [], []  # what was done stays done; it can no longer be undone here

    def _save(self) -> None:
        whole = {
            "kerfwright": KIND,
            "done": [_plain(one) for one in self._done],
            "undone": [_plain(one) for one in self._undone],
        }
        with suppress(OSError):
            write_text(self._folder / FILE, json.dumps(whole, indent=1) + "\n")


def _plain(change: Change) -> dict[str, Any]:
    return {
        "words": change.words,
        "texts": {path: list(pair) for path, pair in change.texts.items()},
        "added": change.added,
        "id": change.id,
    }


def _changes(plain: list[dict[str, Any]]) -> list[Change]:
    out = []
    for one in plain:
        texts = {str(path): (pair[0], pair[1]) for path, pair in one["texts"].items()}
        paths = [*texts, one["added"], one["id"]]
        if any(".." in Path(path).parts or Path(path).is_absolute() for path in paths):
            raise ValueError("a path that leads out of the workshop")
        out.append(Change(words=one["words"], texts=texts, added=one["added"], id=one["id"]))
    return out
