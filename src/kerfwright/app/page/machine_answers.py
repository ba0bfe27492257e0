"""The machine at the page: its card, changes of it, and what a change would do."""

import json
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from kerfwright.app.page.answers import Refused, not_now
from kerfwright.app.page.reading import Mark, mark_of
from kerfwright.app.page.shop import Shop
from kerfwright.app.page.shown import read_shown
from kerfwright.formats import read_toml
from kerfwright.jobs.show_errand import DEMAND
from kerfwright.machine import QUESTIONS, Change, answered, spread_out, words_at

if TYPE_CHECKING:
    from kerfwright.jobs.pinned_card import PinnedCard

MOST_CHANGES = 60
MOST_LETTERS = 200
_one_at_a_time = Lock()


def machine_card(shop: Shop) -> dict[str, Any]:
    """``GET api/machine``. Raises ``KerfwrightError`` where the file cannot be read."""
    return _card(shop).as_plain(last_demand(shop))


def machine_changed(shop: Shop, body: dict[str, Any]) -> dict[str, Any]:
    """``POST api/machine/change``: all of it is kept, or nothing. Raises ``AnswerError``."""
    changes = _changes(body)
    if shop.workshop.read_only:
        raise not_now(
            "nothing can be written into this workshop", "make a copy of it in a folder of yours"
        )
    with shop.lock:
        path = shop.workshop.machine_file
        toml = read_toml(path)
        text, _ = answered(toml.text, changes, path.name)
        shop.history.change(_told(changes), {path.name: text})
    shop.changed()
    return machine_card(shop)


def machine_tried(shop: Shop, body: dict[str, Any]) -> dict[str, Any]:
    """``POST api/machine/what_if``: nothing is kept. Raises ``AnswerError``."""
    return _card(shop).tried(_changes(body), last_demand(shop))


def machine_at(shop: Shop, x_mm: float, y_mm: float, height: float, along: float) -> dict[str, Any]:
    """``GET api/machine/at``: what the pointer is on."""
    return _card(shop).at(x_mm, y_mm, _third(height), _third(along))


def last_demand(shop: Shop) -> dict[str, Any] | None:
    """What the newest proof asked of the motors; None where nothing was proved."""
    newest: tuple[str, Path, str] | None = None
    for job in shop.workshop.jobs():
        shown = read_shown(shop.workshop, job.name)
        if shown is not None and (newest is None or shown.made_at > newest[0]):
            newest = shown.made_at, shown.folder, job.name
    if newest is None:
        return None
    try:
        demand = json.loads((newest[1] / DEMAND).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return {**demand, "words": f"dots: what {newest[2]}, proved last, asks of the motor"}


def _card(shop: Shop) -> "PinnedCard":
    path = shop.workshop.machine_file
    with _one_at_a_time:
        return _pinned(path, mark_of(path))


@lru_cache(maxsize=4)
def _pinned(path: Path, mark: Mark) -> "PinnedCard":  # noqa: ARG001
    from kerfwright.jobs.pinned_card import pin_card  # heavy: not before the socket is open

    return pin_card(path)


def _third(number: float) -> int:
    """One of three: a height, or X, Y, Z."""
    return min(max(round(number), 0), 2)


def _changes(body: dict[str, Any]) -> list[Change]:
    said = body.get("changes")
    if not isinstance(said, list) or not 1 <= len(said) <= MOST_CHANGES:
        raise _bad()
    changes = []
    for one in said:
        if not isinstance(one, dict):
            raise _bad()
        path, typed = one.get("path"), one.get("typed")
        if not isinstance(path, str) or not isinstance(typed, str) or len(path) > MOST_LETTERS:
            raise _bad()
        changes.append(Change(path=path, typed=typed))
    return changes


def _bad() -> Refused:
    return Refused(
        400, {"problem": "this is no question of the page's", "remedy": "reload the page"}
    )


def _told(changes: list[Change]) -> str:
    """A change in words, for what would be undone."""
    paths = {change.path for change in changes}
    question = next((q for q in QUESTIONS if paths <= {b.path for b in q.blanks}), None)
    if question is not None:
        return f"the answer to: {question.ask}"
    if len(paths) == 1:
        return f"the machine's {words_at(spread_out(changes[0].path)[0])}"
    return f"{len(paths)} values of the machine"
