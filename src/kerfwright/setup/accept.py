"""``[[accept]]`` of a job: findings that the person has looked at and lives with, and why."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kerfwright.basics import Place
from kerfwright.formats import Problems

ACCEPT_KEYS = ("id", "reason")
MOST_ACCEPTED = 200
_LONGEST = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """One finding, by its id, and the reason that is printed with it."""

    id: str
    reason: str
    place: Place  #: in the job file


def read_accepted(problems: Problems, data: Mapping[str, Any]) -> tuple[Accepted, ...]:
    """What the job accepts; errors go to ``problems``."""
    wanted = 'write  id = "..."  and  reason = "..."  below [[accept]]'
    tables = data.get("accept", [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        problems.add(("accept",), "accept is no list of sections", "write [[accept]] above each")
        return ()
    if len(tables) > MOST_ACCEPTED:
        problems.add(("accept",), f"accepts more than {MOST_ACCEPTED} findings", "mend some of it")
    out: list[Accepted] = []
    for index, table in enumerate(tables[:MOST_ACCEPTED]):
        at = ("accept", index)
        problems.unknown_keys(table, at, ACCEPT_KEYS)
        texts = [_text(table.get(key)) for key in ACCEPT_KEYS]
        for key, text in zip(ACCEPT_KEYS, texts, strict=True):
            if not text:
                problems.add((*at, key), f"an accepted finding has no {key}", wanted)
        if any(one.id == texts[0] for one in out):
            problems.add((*at, "id"), f'"{texts[0]}" is accepted twice', "leave one of them out")
        if all(texts):
            out.append(Accepted(id=texts[0], reason=texts[1], place=problems.place((*at, "id"))))
    return tuple(out)


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.isprintable() or len(value) > _LONGEST:
        return ""
    return value.strip()
