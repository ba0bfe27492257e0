"""Remedies tried in a copy of the job, and those that are taken into it."""

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kerfwright.app.errands import run_try
from kerfwright.app.page import reading
from kerfwright.app.page.answers import Refused, not_now, not_there, plain_refusal
from kerfwright.app.page.edit import CLAMP_ROW, Typed, edited_job
from kerfwright.app.page.entries import AS_WRITTEN, ROWS, typed_of, value_at
from kerfwright.app.page.errands import Running
from kerfwright.app.page.job_changes import check_writable, text_of, write_job
from kerfwright.app.page.shop import Shop, failure_words
from kerfwright.app.page.shown import shown_folder
from kerfwright.app.page.ticket import ticket
from kerfwright.basics import Change, Stopped
from kerfwright.formats import QuantityError, read_quantity, read_toml
from kerfwright.formats.atomic import write_text
from kerfwright.jobs.try_errand import FeedChange, SpeedChange, TriedProof, TryErrand
from kerfwright.machine import Change as Answer
from kerfwright.machine import answered
from kerfwright.report.figures import duration
from kerfwright.report.tryable import (
    clamp_moved,
    feed_lines,
    feed_share,
    kind_of,
    machine_path,
    screw_at,
    screw_from,
    speed_line,
)
from kerfwright.workshop.folder import JobFolder


def try_one(shop: Shop, name: str, body: Any) -> dict[str, Any]:
    """Begin to try a remedy. Raises ``Refused``."""
    check_writable(shop)
    job = shop.job(name)
    shown = shop.shown(name)
    if not shop.is_fresh(job, shown):
        raise not_now("something was changed since it was proved", "prove it again first")
    found, remedy = _chosen(shown.verdict, body)
    asked = asked_of(job, [Change(**one) for one in remedy["changes"]])
    errand = TryErrand(
        workshop=shop.workshop.folder,
        job=job.name,
        scratch=shop.workshop.folder / ".cache" / "tried",
        job_text=edited_job(text_of(job), asked.job) if asked.job else None,
        machine_text=_machine_text(shop, asked.machine) if asked.machine else None,
        feeds=asked.feeds,
        speeds=asked.speeds,
        code=found["code"],
        threads=shop.threads,
    )
    told = {
        "finding": found["id"],
        "remedy": remedy["words"],
        "before": "; ".join(filter(None, (found["words"], found["number_words"]))),
        "can_keep": not (asked.feeds or asked.speeds),
        "changes": asked.job,
        "machine": asked.machine,
        "made_at": shown.made_at,
    }
    before_s = float(shown.verdict["total_s"])
    shop.begin(
        Running(
            job=job.name,
            what="trying a remedy",
            work=run_try,
            args=(errand,),
            done=lambda tried: _ended(shop, job, told, tried, before_s),
            failed=lambda how, error: _failed(shop, job, told, how, error),
            folders=(errand.scratch,),
        )
    )
    return ticket(shop, name)


def tried(shop: Shop, name: str) -> dict[str, Any]:
    """What came of the last remedy that was tried. Raises ``Refused`` (404)."""
    job = shop.job(name)
    with suppress(OSError, ValueError):
        whole = json.loads(_file(shop, job).read_text(encoding="utf-8"))
        if whole.get("made_at") == shop.shown(name).made_at:
            return dict(whole)
    raise not_there("no remedy of the last proof was tried")


def keep(shop: Shop, name: str) -> dict[str, Any]:
    """Take the remedy that was tried into the job file. Raises ``Refused`` (404, 409, 422)."""
    job = shop.job(name)
    last = tried(shop, name)
    if not last["can_keep"]:
        raise not_now(
            "this is a change of the program", "make it in the software that wrote the program"
        )
    words = f"a remedy in {job.name}: {last['remedy']}"[:200]
    with shop.lock:
        if last["machine"]:
            check_writable(shop)
            machine = shop.workshop.machine_file
            text = _machine_text(shop, [(path, typed) for path, typed in last["machine"]])
            shop.history.change(words, {machine.name: text})
        if last["changes"]:
            text = edited_job(text_of(job), [(path, typed) for path, typed in last["changes"]])
            write_job(shop, job, text, words)
    shop.changed()
    return ticket(shop, name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a remedy changes, each in what it is made in."""

    job: list[Typed]
    machine: list[Typed]
    feeds: tuple[FeedChange, ...]
    speeds: tuple[SpeedChange, ...]


def asked_of(job: JobFolder, changes: list[Change]) -> Asked:
    """The changes of a remedy as the job stands now. Raises ``Refused`` (409)."""
    data = reading.data_of(job.job_file)
    typed: list[Typed] = []
    machine: list[Typed] = []
    feeds: list[FeedChange] = []
    speeds: list[SpeedChange] = []
    for one in changes:
        kind, share = kind_of(one), feed_share(one)
        if kind == "job":
            typed.append((one.path, one.new))
        elif kind == "screw":
            typed.append(("hold.screws", _with_screw(data, screw_from(one), *screw_at(one))))
        elif kind == "clamp":
            typed.append(("clamps", _moved_clamp(data, *clamp_moved(one))))
        elif kind == "machine":
            machine.append((machine_path(one), one.new))
        elif kind == "spindle":
            speeds.append(SpeedChange(line=speed_line(one), old=float(one.old), new=float(one.new)))
        elif kind == "feed" and share is not None:
            first, last = feed_lines(one)
            feeds.append(FeedChange(first=first, last=last, share=share))
        else:
            raise _cannot()
    return Asked(job=typed, machine=machine, feeds=tuple(feeds), speeds=tuple(speeds))


def _with_screw(data: Mapping[str, Any], old: tuple[int, int] | None, x: str, y: str) -> str:
    """The screws of a job as typed, with one more, or with one of them in another place."""
    now = typed_of(ROWS["hold.screws"], value_at(data, "hold.screws"))
    if now == AS_WRITTEN:
        raise _cannot()
    rows = list(filter(None, now.split("\n")))
    if old is None:
        return "\n".join([*rows, f"{x}, {y}"])
    for number, row in enumerate(rows):
        if tuple(round(_length_mm(said)) for said in row.split(",")) == old:
            rows[number] = f"{x}, {y}"
            return "\n".join(rows)
    raise _cannot()


def _moved_clamp(data: Mapping[str, Any], number: int, x_mm: float, y_mm: float) -> str:
    """The clamps of a job with one of them moved, as typed."""
    rows = typed_of(ROWS["clamps"], value_at(data, "clamps")).split("\n")
    row = CLAMP_ROW.match(rows[number]) if number < len(rows) else None
    if row is None:
        raise _cannot()
    place = ", ".join(_shifted(row[axis], mm) for axis, mm in (("x", x_mm), ("y", y_mm)))
    rows[number] = rows[number][: row.start("x")] + place + rows[number][row.end("y") :]
    return "\n".join(rows)


def _shifted(said: str, mm: float) -> str:
    """A length as typed, or so much more in millimetres."""
    return f"{_length_mm(said) + mm:g} mm" if mm else said


def _length_mm(said: str) -> float:
    try:
        length = read_quantity(said.strip(), "length")
    except QuantityError:
        raise _cannot() from None
    if length is None:
        raise _cannot()
    return length.value


def _machine_text(shop: Shop, changes: Sequence[Typed]) -> str:
    """machine.toml with some values changed. Raises ``AnswerError``."""
    path = shop.workshop.machine_file
    answers = [Answer(path=at, typed=typed) for at, typed in changes]
    return answered(read_toml(path).text, answers, path.name)[0]


def _chosen(verdict: dict[str, Any], body: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """The finding, and the remedy by its number from 0."""
    finding, number = body.get("finding"), body.get("remedy")
    found = next((one for one in verdict["findings"] if one["id"] == finding), None)
    if found is None:
        raise not_there("the last proof has no such finding")
    if isinstance(number, bool) or not isinstance(number, int):
        raise Refused(422, [plain_refusal("no remedy was named", "reload the page")])
    if not 0 <= number < len(found["remedies"]):
        raise not_there("this finding has no such remedy")
    remedy = found["remedies"][number]
    if not remedy["can_try"]:
        raise _cannot()
    return found, remedy


def _cannot() -> Refused:
    return not_now("the model cannot try this remedy", "make the change and prove it again")


def _file(shop: Shop, job: JobFolder) -> Path:
    return shown_folder(shop.workshop, job.name).with_name(f"{job.name}.tried.json")


def _ended(
    shop: Shop, job: JobFolder, told: dict[str, Any], found: TriedProof, before_s: float
) -> None:
    more_s = found.time_s - before_s
    cost = "It takes as long."
    if abs(more_s) >= 0.5:
        cost = f"It takes {duration(abs(more_s))} {'longer' if more_s > 0.0 else 'less'}."
    _keep(shop, job, told, found.after or "no longer found", found.sentence, cost)


def _failed(
    shop: Shop, job: JobFolder, told: dict[str, Any], how: str, error: BaseException
) -> None:
    words = failure_words(how, error)
    if words and not isinstance(error, Stopped):
        _keep(shop, job, {**told, "can_keep": False}, "it could not be tried", words, "")
    else:
        shop.changed()


def _keep(
    shop: Shop, job: JobFolder, told: dict[str, Any], after: str, sentence: str, cost: str
) -> None:
    whole = {**told, "after": after, "sentence": sentence, "cost_words": cost}
    with suppress(OSError):
        write_text(_file(shop, job), json.dumps(whole))
    shop.changed()
