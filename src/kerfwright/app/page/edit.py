"""Typed text into one of our files: its own comments and order stay, its own reader judges."""

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from secrets import token_hex
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from kerfwright.app.page.answers import Refused, plain_refusal, refusals
from kerfwright.app.page.entries import AS_WRITTEN, UNKNOWN, Row, row_at
from kerfwright.basics import KerfwrightError
from kerfwright.formats import read_toml
from kerfwright.formats.atomic import write_text

MOST_CHANGES = 50
MOST_LETTERS = 20_000
CLAMP_ROW = re.compile(
    r"^\s*(?P<name>.+?)\s+(?P<where>at|on table)\s+(?P<x>[^,]+),\s*(?P<y>.+?)"
    r"(?:\s+size\s+(?P<size>.+?))?(?:\s+height\s+(?P<height>.+?))?(?:\s+force\s+(?P<force>.+?))?\s*$"
)
_CLAMP_LIKE = "left at -25 mm, 45 mm size 40 x 30 mm height 18 mm"
_PAIR_LIKE = "12 mm, 12 mm"

Typed = tuple[str, str]  #: the path of an entry, and the text


def changes_of(body: Any) -> list[Typed]:
    """The changes of a question. Raises ``Refused`` (422)."""
    said = body.get("changes") if isinstance(body, dict) else None
    if not isinstance(said, list) or not 1 <= len(said) <= MOST_CHANGES:
        raise Refused(422, [plain_refusal("no change was named", "reload the page")])
    out = []
    for one in said:
        path, typed = (one.get("path"), one.get("typed")) if isinstance(one, dict) else ("", "")
        if not isinstance(path, str) or not isinstance(typed, str) or len(typed) > MOST_LETTERS:
            raise Refused(422, [plain_refusal("this is no text to write", "type it anew")])
        if not all(c.isprintable() or c == "\n" for c in typed):
            raise Refused(422, [plain_refusal("there are unprintable signs in it", "type it anew")])
        out.append((path[:200], typed.replace("\r", "").strip()))
    return out


def edited_job(text: str, changes: Sequence[Typed]) -> str:
    """The text of a job file with some entries changed. Raises ``Refused`` (422)."""
    document = _parsed(text, "job.toml")
    for path, typed in changes:
        row = row_at(path)
        if row is None:
            raise Refused(422, [plain_refusal(f'there is no entry "{path[:60]}"', "reload")])
        if typed != AS_WRITTEN:
            _set(document, row, typed)
    return tomlkit.dumps(document)


def accepted_job(text: str, finding: str, reason: str) -> str:
    """The text of a job file that accepts a finding with a reason."""
    document = _parsed(text, "job.toml")
    tables = document.get("accept")
    if tables is None:
        tables = document["accept"] = tomlkit.aot()
    for table in tables:
        if table.get("id") == finding:
            table["reason"] = reason
            return tomlkit.dumps(document)
    table = tomlkit.table()
    table["id"], table["reason"] = finding, reason
    tables.append(table)
    return tomlkit.dumps(document)


def _parsed(text: str, file: str) -> Any:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise Refused(
            422, [plain_refusal(f"{file} is not TOML: {error}", "mend it in an editor", file)]
        ) from None


def judged(file: Path, text: str, read: Callable[[Path], object]) -> None:
    """Refuse a new text of a file if it is wrong in a way that the old one was not.

    Its own reader looks at a copy beside the file, so that what it names is found.

    Raises ``Refused`` (422).
    """
    before = {(one["problem"], one["remedy"]) for one in _wrong(file, read)}
    copy = file.with_name(f".{file.stem}.{token_hex(6)}.part{file.suffix}")
    try:
        write_text(copy, text)
        wrong = _wrong(copy, read)
    finally:
        copy.unlink(missing_ok=True)
    fresh = [one for one in wrong if (one["problem"], one["remedy"]) not in before]
    for one in fresh:
        one["file"] = one["file"].replace(copy.name, file.name)
        one["problem"] = one["problem"].replace(str(copy), file.name)
    if fresh:
        raise Refused(422, fresh)


def _wrong(file: Path, read: Callable[[Path], object]) -> list[dict[str, Any]]:
    try:
        read_toml(file)
        read(file)
    except KerfwrightError as error:
        return refusals(error)
    return []


def _set(document: Any, row: Row, typed: str) -> None:
    *section, key = row.path.split(".")
    if row.path == "clamps":
        _set_clamps(document, typed)
        return
    if section[:1] == ["slots"] and len(section) == 2:
        _set_stick_out(document, section[1], typed)
        return
    holder = document
    for name in section:
        if name not in holder:
            if not typed:
                return
            holder[name] = tomlkit.table()
        holder = holder[name]
    if not typed:
        if key in holder:
            del holder[key]
        return
    old = holder.get(key)
    if isinstance(old, dict) and "is" in old and typed.lower() != UNKNOWN:
        if str(old["is"]) != typed:
            _retyped(old, typed)
    elif isinstance(old, dict) and "cutter" in old:
        old["cutter"] = typed
    else:
        holder[key] = _value(row, typed)


def _retyped(old: Any, typed: str) -> None:
    """A value typed anew: what it was read off by before says nothing of it any more."""
    old["is"] = typed
    if old.get("from") == "estimated":
        old.pop("from", None)
        old.pop("ref", None)


def _value(row: Row, typed: str) -> Any:
    if row.path == "board.at" and "," in typed:
        return _pair(typed, row.path)
    if row.path == "hold.screws":
        places = tomlkit.array()
        places.multiline(True)
        for line in filter(None, map(str.strip, typed.split("\n"))):
            places.append(_pair(line, row.path))
        return places
    if row.path == "slots.first":
        if not (typed.isascii() and typed.isdigit() and len(typed) < 4):
            raise Refused(422, [plain_refusal(f'"{typed[:60]}" is no slot', "write its number")])
        return int(typed)
    return typed.replace("\n", " ")


def _pair(typed: str, path: str) -> list[str]:
    parts = [part.strip() for part in typed.split(",")]
    if len(parts) != 2 or not all(parts):
        told = f'"{typed[:60]}" is no place: two lengths are wanted'
        raise Refused(422, [plain_refusal(told, f'write it like "{_PAIR_LIKE}"', path)])
    return parts


def _set_stick_out(document: Any, slot: str, typed: str) -> None:
    slots = document.get("slots")
    old = None if slots is None else slots.get(slot)
    if old is None:
        if typed:
            told = f"slot {slot} holds no cutter that could stick out"
            raise Refused(422, [plain_refusal(told, "name the cutter first")])
        return
    if isinstance(old, dict):
        if typed:
            old["stick_out"] = typed
        else:
            old.pop("stick_out", None)
    elif typed:
        table = tomlkit.inline_table()
        table["cutter"], table["stick_out"] = str(old), typed
        slots[slot] = table


def _set_clamps(document: Any, typed: str) -> None:
    old = {str(one.get("name", one.get("clamp", ""))): one for one in document.get("clamps", [])}
    tables = tomlkit.aot()
    for line in filter(None, map(str.strip, typed.split("\n"))):
        match = CLAMP_ROW.match(line)
        if match is None:
            told = f'"{line[:60]}" is no clamp and where it stands'
            raise Refused(422, [plain_refusal(told, f'write it like "{_CLAMP_LIKE}"')])
        tables.append(_clamp(match, old.get(match["name"])))
    if "clamps" in document:
        del document["clamps"]
    if len(tables):
        document["clamps"] = tables


def _clamp(match: re.Match[str], old: Any) -> Any:
    """One clamp; what the file says of how its height was measured stays while the height does."""
    table = tomlkit.table()
    shop = old.get("clamp") if old is not None else None
    if shop is not None:
        table["clamp"] = shop
    if shop is None or (old is not None and "name" in old):
        table["name"] = match["name"]
    table["at" if match["where"] == "at" else "on_table"] = [match["x"].strip(), match["y"].strip()]
    for key in ("size", "height", "force"):
        said = match[key]
        if said is None:
            continue
        before = None if old is None else old.get(key)
        same = isinstance(before, dict) and str(before.get("is")) == said
        table[key] = before if same else said
    return table
