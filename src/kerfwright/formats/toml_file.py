"""TOML with places: any value can be traced to its line and column."""

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from kerfwright.basics.errors import InputError, Place

#: A file of ours is a page or two. Larger ones are a mistake or an attack.
LARGEST_BYTES = 1_000_000
#: Finding a value that does not stand on a line of its own takes seconds beyond this size.
LARGEST_SEARCHED = 50_000
DEEPEST = 40
_SENTINEL = "kerfwright-looks-for-this-value"
_NAME = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
#: A dotted name with more parts than that, where a name may begin. Nothing in it is tried twice:
#: the reader of TOML itself takes a time that grows with the square of the parts.
_LONG_DOTTED = re.compile(
    rf"(?:^|[\[{{,])[ \t]*+({_NAME}(?:[ \t]*+\.[ \t]*+{_NAME}){{{DEEPEST}}})", re.M
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TomlFile:
    """Plain values of a TOML file, and the text to find their places in."""

    file: str
    text: str
    data: dict[str, Any]

    def place(self, path: Sequence[str | int]) -> Place:
        """Where the value at ``path`` stands, or the nearest table around it that exists."""
        for length in range(len(path), 0, -1):
            offset = self._line_offset(path[:length])
            if offset is None and len(self.text) <= LARGEST_SEARCHED:
                offset = self._offset(path[:length])
            if offset is not None:
                return place_at(self.file, self.text, offset)
        return Place(file=self.file)

    def error(self, path: Sequence[str | int], problem: str, remedy: str) -> InputError:
        """An error at the value at ``path``."""
        return InputError(self.place(path), problem, remedy)

    def _line_offset(self, path: Sequence[str | int]) -> int | None:
        """Quickly, where ``key = value`` stands on a line of its own below its header."""
        *section, key = path
        if not isinstance(key, str):
            return self._header_offset(path)
        start = 0
        if section:
            header = self._header_offset(section)
            if header is None:
                return None
            start = self.text.find("\n", header) + 1 or len(self.text)
        following = re.compile(r"^[ \t]*\[", re.M).search(self.text, start)
        end = following.start() if following else len(self.text)
        wanted = re.compile(rf"""^[ \t]*["']?{re.escape(key)}["']?[ \t]*=[ \t]*""", re.M)
        found = wanted.search(self.text, start, end)
        return found.end() if found else self._header_offset(path)

    def _offset(self, path: Sequence[str | int]) -> int | None:
        # tomlkit keeps no positions: put a value that stands nowhere else at the path, write the
        # document out, and see where it came to stand. All before it is unchanged.
        try:
            document: Any = tomlkit.parse(self.text)
            holder = document
            for key in path[:-1]:
                holder = holder[key]
            old = holder[path[-1]]
            if isinstance(old, tomlkit.items.Table | tomlkit.items.AoT):
                return self._header_offset(path)
            holder[path[-1]] = _SENTINEL
        except (KeyError, IndexError, TypeError, TOMLKitError):
            return None
        offset = tomlkit.dumps(document).find(_SENTINEL)
        return offset - 1 if offset > 0 else None  # the quote mark before it

    def _header_offset(self, path: Sequence[str | int]) -> int | None:
        name = ".".join(str(key) for key in path if isinstance(key, str))
        count = next((key for key in reversed(path) if isinstance(key, int)), 0)
        offset, seen = 0, 0
        for line in self.text.splitlines(keepends=True):
            bare = line.split("#")[0].strip()
            if bare.startswith("[") and bare.strip("[] \t") == name:
                if seen == count:
                    return offset + line.index("[")
                seen += 1
            offset += len(line)
        return None


def read_toml(path: Path) -> TomlFile:
    """Read a TOML file, or say where and why it cannot be read."""
    file = str(path)
    try:
        with path.open("rb") as stream:
            raw = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise InputError(
            Place(file=file), f"cannot be opened: {error.strerror}", "check the name and the folder"
        ) from error
    if len(raw) > LARGEST_BYTES:
        raise InputError(
            Place(file=file),
            f"is larger than {LARGEST_BYTES // 1000} kB, which no file of this kind is",
            "check that this is the file that you meant",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = error.start - (raw.rfind(b"\n", 0, error.start) + 1) + 1
        raise InputError(
            Place(file=file, line=line, column=column),
            "is not UTF-8 text",
            "save it from your editor as UTF-8 plain text",
        ) from error
    return parse_toml(text, file)


def parse_toml(text: str, file: str) -> TomlFile:
    """``read_toml`` of text already in hand."""
    text = text.replace("\r\n", "\n")
    deepest = _nesting(text)
    if deepest is not None:
        raise InputError(
            place_at(file, text, deepest),
            f"brackets are nested more than {DEEPEST} deep",
            "check for a bracket that is never closed",
        )
    dotted = _LONG_DOTTED.search(text)
    if dotted is not None:
        raise _too_deep(place_at(file, text, dotted.start(1)))
    try:
        data = tomllib.loads(text)
    except ValueError as error:  # its decoding error, and numbers beyond all bounds
        raise _not_toml(text, file, str(error)) from error
    if _deeper(data):
        raise _too_deep(Place(file=file))
    return TomlFile(file=file, text=text, data=data)


def _not_toml(text: str, file: str, said: str) -> InputError:
    where = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", said)
    problem = said[: where.start()] if where else said
    place = Place(file=file)
    if where is not None:
        lines = text.split("\n")
        line, column = int(where[1] or len(lines)), int(where[2] or len(lines[-1]) + 1)
        shown = lines[line - 1] if line <= len(lines) else ""
        place = Place(file=file, line=line, column=column, text=shown)
    return InputError(
        place,
        f"is not TOML here: {problem[:1].lower()}{problem[1:200]}",
        'write  name = "value"  one to a line, each name once, under its [section]',
    )


def place_at(file: str, text: str, offset: int) -> Place:
    """The place of a character offset in a text."""
    start = text.rfind("\n", 0, offset) + 1
    end = text.find("\n", offset)
    return Place(
        file=file,
        line=text.count("\n", 0, offset) + 1,
        column=offset - start + 1,
        text=text[start : end if end >= 0 else len(text)],
    )


def _too_deep(place: Place) -> InputError:
    return InputError(
        place,
        f"names are nested more than {DEEPEST} deep",
        'write  name = "value"  under a [section]; no file of this kind goes deeper than a few',
    )


def _deeper(data: Any) -> bool:
    """Whether values lie deeper than allowed: sections, dotted names and brackets together."""
    level = [data]
    for _ in range(DEEPEST + 1):
        level = [
            inner
            for holder in level
            for inner in (holder.values() if isinstance(holder, dict) else holder)
            if isinstance(inner, dict | list)
        ]
    return bool(level)


def _nesting(text: str) -> int | None:
    depth = 0
    for offset, character in enumerate(text):
        if character in "[{":
            depth += 1
            if depth > DEEPEST:
                return offset
        elif character in "]}":
            depth = max(0, depth - 1)
        elif character == "\n" and depth == 0:
            continue
    return None
