"""Answers of the interview, out of the text of a machine.toml and into it.

What is written is read again by the machine's own reader before it is kept, so an answer is
refused with the same words as in a file.
"""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from kerfwright.basics import InputError, InputErrors, KerfwrightError, Kind, Place
from kerfwright.formats.toml_file import LARGEST_BYTES, TomlFile, parse_toml
from kerfwright.machine.build import parse
from kerfwright.machine.entries import AXES, SECTIONS, Choice, Entry, Number, Numbers
from kerfwright.machine.interview import BLANKS, QUESTIONS, UNKNOWN, Blank
from kerfwright.machine.model import MachineModel

EMPTY = 'kerfwright = "machine 1"\n'
_STROKE = re.compile(r"\s+/\s+")
_NOT_KNOWN = ("", UNKNOWN, "dont know", "don’t know", "unknown", "?")
_BARE = re.compile(r"\s*[-+]?\d[\d\s./-]*\s*(?:(?:±|to)\s*[\d\s./-]+)?")
LONGEST = 200  #: characters of an answer
_DRIVES = ("screw", "belt", "rack")


class AnswerError(InputError):
    """An answer that the machine's reader refuses. ``path`` says which blank."""

    def __init__(self, path: str, typed: str, problem: str, remedy: str) -> None:
        self.path = path
        place = Place(file=path, line=1, column=1, text=typed[:LONGEST])
        super().__init__(place, problem, remedy)

    def __reduce__(self) -> tuple[type, tuple[str, str, str, str]]:
        return AnswerError, (self.path, self.place.text, self.problem, self.remedy)

    def __str__(self) -> str:
        return f"{self.problem}\n  remedy: {self.remedy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What was typed for a path; ``*`` in it stands for X, Y and Z."""

    path: str
    typed: str
    kind: Kind = "measured"
    ref: str = ""  #: where a value is from that no question asks for; "": as written


def spread_out(path: str) -> tuple[str, ...]:
    """The paths that a path with ``*`` stands for."""
    return tuple(path.replace("*", axis) for axis in AXES) if "*" in path else (path,)


def entry_of(path: str) -> Entry | None:
    """The entry at a path, None where there is none."""
    section, _, key = spread_out(path)[0].rpartition(".")
    return SECTIONS.get(section, {}).get(key)


def typed_at(data: Mapping[str, Any], path: str) -> str:
    """What stands in a file at a path as a person would type it; "don't know" where nothing does.

    With ``*``: one answer where X, Y and Z are alike, else three with strokes between.
    """
    each = [_typed(data, one) for one in spread_out(path)]
    return each[0] if len(set(each)) == 1 else " / ".join(each)


def asked(data: Mapping[str, Any]) -> list[Blank]:
    """The blanks that are asked of the machine in a file, in order."""
    return [blank for question in QUESTIONS for blank in question.blanks if is_asked(blank, data)]


def is_asked(blank: Blank, data: Mapping[str, Any]) -> bool:
    """Whether what the file says so far makes a blank worth asking."""
    if blank.only is None:
        return True
    path, words = blank.only
    said = typed_at(data, path)
    if said == UNKNOWN:
        entry = entry_of(path)
        said = entry.options[0] if isinstance(entry, Choice) else said
    return said in words


def answered(text: str, changes: Sequence[Change], file: str) -> tuple[str, MachineModel]:
    """The text with answers in it, and the machine that it describes.

    Parameters
    ----------
    text : str
        A machine.toml; comments and order are kept.
    changes : sequence of Change
        All are taken, or none.
    file : str
        Its name, for errors.

    Raises
    ------
    AnswerError
        If an answer cannot be read, or does not go with the rest.
    InputError, InputErrors
        If the file cannot be read as it stands.
    """
    toml = parse_toml(text, file)
    wanted: dict[str, object] = {}
    for change in changes:
        wanted.update(_values(toml.data, change))
    new = _written(toml, wanted)
    if len(new.encode()) > LARGEST_BYTES:
        raise AnswerError("", "", "the file would become too long", "take notes out of it")
    try:
        return new, parse(parse_toml(new, file))
    except (InputError, InputErrors) as error:
        parse(toml)  # as it stood: an error of the file itself is told as such
        raise _as_answer(error, changes, parse_toml(new, file)) from error


def _values(data: Mapping[str, Any], change: Change) -> dict[str, object]:
    """What to write at which path; None takes it out."""
    entry = entry_of(change.path)
    typed = change.typed.strip()
    if entry is None:
        raise AnswerError(
            change.path, typed, f'"{change.path[:60]}" is no entry of machine.toml', "mend the name"
        )
    if len(typed) > LONGEST or not typed.isprintable():
        raise AnswerError(change.path, typed, "is no plain short text", "write one short line")
    paths = spread_out(change.path)
    parts = _STROKE.split(typed) if len(paths) > 1 else [typed]
    if len(parts) not in (1, len(paths)):
        raise AnswerError(
            change.path,
            typed,
            f"has {len(parts)} answers for X, Y and Z",
            "write one for all, or three with a stroke and spaces between:  a / b / c",
        )
    parts = parts * (len(paths) // len(parts))
    blank = BLANKS.get(change.path) or BLANKS.get(re.sub(r"\.[xyz]\.", ".*.", change.path))
    return {
        path: _value(data, path, entry, part, blank, change)
        for path, part in zip(paths, parts, strict=True)
        if part != _typed(data, path)
    }


def _value(
    data: Mapping[str, Any], path: str, entry: Entry, typed: str, blank: Blank | None,
    change: Change,
) -> object:  # fmt: skip
    """One value as the file holds it: with its origin where the interview knows one."""
    if typed.lower() in _NOT_KNOWN:
        return None if _at(data, path) is None else UNKNOWN
    if isinstance(entry, Choice):
        return _chosen(typed, entry)
    if isinstance(entry, Numbers):
        return [part.strip() for part in typed.split(",")]
    if not isinstance(entry, Number):
        return typed
    if change.ref:
        return {"is": typed, "from": change.kind, "ref": change.ref}
    if blank is not None and blank.unit and _BARE.fullmatch(typed):
        typed = f"{typed} {blank.unit}"
    if entry.dimension == "number" and re.fullmatch(r"\d{1,9}", typed) and blank is None:
        return int(typed)
    if blank is None or not blank.ref:
        return typed
    return {"is": typed, "from": blank.kind, "ref": blank.ref}


def _chosen(typed: str, entry: Choice) -> str:
    """One of the options by its number or the beginning of its word; else as typed."""
    if typed.isdigit() and 1 <= int(typed) <= len(entry.options):
        return entry.options[int(typed) - 1]
    begins = [option for option in entry.options if option.lower().startswith(typed.lower())]
    return begins[0] if len(begins) == 1 else typed


def _at(data: Mapping[str, Any], path: str) -> Any:
    holder: Any = data
    for key in path.split("."):
        if not isinstance(holder, Mapping) or key not in holder:
            return None
        holder = holder[key]
    return holder


def _typed(data: Mapping[str, Any], path: str) -> str:
    value = _at(data, path)
    if isinstance(value, Mapping):
        value = value.get("is")
    if isinstance(value, list):
        return ", ".join(str(item) for item in value)
    if value is None or (isinstance(value, str) and value.strip().lower() in _NOT_KNOWN):
        return UNKNOWN
    return str(value)


def _written(toml: TomlFile, wanted: Mapping[str, object]) -> str:
    """The text with values put in and taken out; comments kept."""
    expected = tomllib.loads(toml.text)
    for path, value in wanted.items():
        _put(expected, path, value, None)
        _leave_what_goes(expected, path, value)
    try:
        document: Any = tomlkit.parse(toml.text)
        for path, value in wanted.items():
            _put(document, path, value, tomlkit)
            _leave_what_goes(document, path, value)
        text = str(tomlkit.dumps(document))
        if tomllib.loads(text) == expected:
            return text
    except (TOMLKitError, ValueError, KeyError, TypeError):
        pass
    # An odd order of sections: written anew, in plain order. The old file is kept by the caller.
    return str(tomlkit.dumps(expected))


def _put(holder: Any, path: str, value: object, kit: Any) -> None:
    *sections, key = path.split(".")
    for section in sections:
        if section not in holder:
            if value is None:
                return
            holder[section] = kit.table() if kit else {}
        holder = holder[section]
    if value is None:
        holder.pop(key, None)
    elif kit and isinstance(value, dict):
        inline = kit.inline_table()
        inline.update(value)
        holder[key] = inline
    else:
        holder[key] = value


def _leave_what_goes(holder: Any, path: str, value: object) -> None:
    """A changed drive takes what described the other one with it; a table, the bar of the feet."""
    parts = path.split(".")
    if path == "frame.moves" and value == "table":
        holder["frame"].pop("cross_bar", None)
    if len(parts) == 3 and parts[2] == "drive" and value in _DRIVES:
        for other in _DRIVES:
            if other != value:
                holder["axes"][parts[1]].pop(other, None)


def _as_answer(error: KerfwrightError, changes: Sequence[Change], new: TomlFile) -> AnswerError:
    """The reader's refusal, put to the blank that it is about."""
    errors = error.errors if isinstance(error, InputErrors) else (error,)
    first = next(one for one in errors if isinstance(one, InputError))
    for change in changes:
        for path in spread_out(change.path):
            if new.place(path.split(".")).line == first.place.line:
                return AnswerError(change.path, change.typed, first.problem, first.remedy)
    last = changes[-1]
    return AnswerError(last.path, last.typed, first.problem, first.remedy)
