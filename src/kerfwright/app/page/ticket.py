"""One job as the page shows it: its program, its set-up, its last proof."""

import json
import re
from contextlib import suppress
from pathlib import Path
from typing import Any

from kerfwright.app.errands import run_read
from kerfwright.app.page import reading
from kerfwright.app.page.answers import plain_refusal, refusals
from kerfwright.app.page.entries import entries_of
from kerfwright.app.page.errands import Running
from kerfwright.app.page.shop import Shop
from kerfwright.app.page.shown import read_shown, shown_folder
from kerfwright.app.page.went import went_of
from kerfwright.basics import InputError, KerfwrightError, Stopped
from kerfwright.basics.sources import code_sha256
from kerfwright.formats.atomic import write_text
from kerfwright.setup import NO_CUTTER, Setup
from kerfwright.workshop import planted_in
from kerfwright.workshop.folder import JobFolder

_SLOT = re.compile(r"slots\.\d+")


def ticket(shop: Shop, name: str) -> dict[str, Any]:
    """A job. Raises ``Refused`` (404)."""
    job = shop.job(name)
    shown = read_shown(shop.workshop, job.name)
    refused: list[dict[str, Any]] = []
    setup = None
    try:
        setup = reading.setup_of(shop.workshop, job.job_file)
    except KerfwrightError as error:
        refused += refusals(error)
    facts = _facts(shop, job, refused)
    wanted = [] if facts is None else facts["slots"]
    entries = entries_of(shop.workshop, job, setup, wanted)
    asks = _asks(entries, wanted)
    if asks:  # asked for in plain words: no need to be told of the file as well
        refused = [one for one in refused if one["problem"] != NO_CUTTER]
    failure = shop.failure(job.name)
    if failure and not refused:
        refused.append(plain_refusal(failure, ""))
    return {
        "name": job.name,
        "note": reading.note_of(job),
        "standing": shop.standing(job, shown),
        "program": None if facts is None else _program(facts),
        "refused": refused,
        "asks": asks,
        "setup": entries,
        "board": None if setup is None else board_facts(setup, facts),
        "verdict": None if shown is None else _with_reasons(shown.verdict, setup),
        "planted": [one.words for one in planted_in(job)],
        "went": went_of(shop, job),
        "guess": None if shown is None else shown.guess(),
    }


def _asks(entries: list[dict[str, Any]], wanted: list[int]) -> list[dict[str, Any]]:
    """Cutters that must be named: those called for, or else the one that is in the spindle."""
    slots = {one["path"]: one for one in entries if _SLOT.fullmatch(one["path"])}
    if wanted:
        called = [(f"slots.{number}", f"slot {number}") for number in wanted]
    elif any(one["typed"] for one in slots.values()):
        called = []
    else:
        called = [(path, "the spindle") for path in list(slots)[:1]]
    return [
        {
            "path": path,
            "question": f"Which cutter is in {where}?",
            "choices": slots[path]["choices"],
        }
        for path, where in called
        if path in slots and not slots[path]["typed"]
    ]


def _with_reasons(verdict: dict[str, Any], setup: Setup | None) -> dict[str, Any]:
    """The last verdict; what has been accepted since is told at once, before the next proof."""
    since = {} if setup is None else {one.id: one.reason for one in setup.accepted}
    findings = [
        one if one["severity"] == "stop" or one["accepted"] or one["id"] not in since
        else {**one, "accepted": since[one["id"]]}
        for one in verdict["findings"]
    ]  # fmt: skip
    return {**verdict, "findings": findings}


def _facts(shop: Shop, job: JobFolder, refused: list[dict[str, Any]]) -> dict[str, Any] | None:
    """What was read of the program; where it was not yet, that begins now."""
    try:
        program = job.program_file()
    except InputError as error:
        refused += refusals(error)
        return None
    if not shop.inside(program):
        refused.append(plain_refusal("the program does not lie in the workshop", "copy it there"))
        return None
    kept = _kept(shop, job, program)
    if kept is None:
        begin_reading(shop, job, program)
        return None
    refused += kept["refused"]
    return None if kept["facts"] is None else {**kept["facts"], "file": program.name}


def facts_file(shop: Shop, job: JobFolder) -> Path:
    """Where what was read of a program is kept."""
    return shown_folder(shop.workshop, job.name).with_name(f"{job.name}.program.json")


def _key(shop: Shop, program: Path) -> list[str]:
    files = (program, shop.workshop.machine_file)
    return [program.name, *(shop.hashes.of(path) for path in files), code_sha256()]


def _kept(shop: Shop, job: JobFolder, program: Path) -> dict[str, Any] | None:
    with suppress(OSError, ValueError, KeyError, TypeError):
        kept = json.loads(facts_file(shop, job).read_text(encoding="utf-8"))
        if kept["key"] == _key(shop, program):
            return {"facts": kept["facts"], "refused": kept["refused"]}
    return None


def keep_facts(
    shop: Shop,
    job: JobFolder,
    program: Path,
    facts: dict[str, Any] | None,
    refused: list[dict[str, Any]],
) -> None:
    """Keep what was read of a program, until it or the machine changes."""
    whole = {"key": _key(shop, program), "facts": facts, "refused": refused}
    with suppress(OSError):
        write_text(facts_file(shop, job), json.dumps(whole))


def begin_reading(shop: Shop, job: JobFolder, program: Path) -> None:
    """Read a program beside everything else; the pages are told when it is done."""

    def ended(facts: dict[str, Any] | None, refused: list[dict[str, Any]]) -> None:
        keep_facts(shop, job, program, facts, refused)
        shop.changed()

    def failed(_: str, error: BaseException) -> None:
        if isinstance(error, KerfwrightError):
            ended(None, refusals(error))
        elif not isinstance(error, Stopped):
            ended(None, [plain_refusal(f"the program could not be read: {error}", "")])

    shop.readings.add(
        Running(
            job=job.name,
            what="reading",
            work=run_read,
            args=(program, shop.workshop.machine_file),
            done=lambda facts: ended(facts, []),
            failed=failed,
        )
    )


def _program(facts: dict[str, Any]) -> dict[str, Any]:
    return {
        key: facts[key] for key in ("file", "lines", "moves", "size_words", "extents_mm", "slots")
    }


def board_facts(setup: Setup, facts: dict[str, Any] | None) -> dict[str, Any]:
    """The board in plan, with what stands on it and the reach of the path."""
    board = setup.board
    zero = setup.zero_on_board_mm
    outline = [] if facts is None else facts["outline_mm"]
    screws = [
        [float(x), float(y)]
        for grip in (setup.hold.grips if setup.hold is not None else ())
        if grip.kind in ("screw", "nail")
        for x, y in grip.at_mm
    ]
    return {
        "size_mm": [board.length_mm, board.width_mm, board.thickness_mm],
        "wood": board.wood.name,
        "grain_rad": board.grain_rad,
        "zero_mm": list(zero),
        "clamps": [
            {
                "name": clamp.name,
                "corners_mm": _corners(clamp.at_mm, clamp.size_mm),
                "height_mm": clamp.height_mm.value,
            }
            for clamp in setup.clamps
        ],
        "screws_mm": screws,
        "outline_mm": [[x + zero[0], y + zero[1]] for x, y in outline],
    }


def _corners(at: tuple[float, float], size: tuple[float, float]) -> list[list[float]]:
    (x, y), (a, b) = at, size
    return [[x, y], [x + a, y], [x + a, y + b], [x, y + b]]
