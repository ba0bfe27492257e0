"""Remedies tried in a copy of the job, and those that are taken into it."""

import json
from contextlib import suppress
from pathlib import Path
from typing import Any

from kerfwright.app.errands import run_try
from kerfwright.app.page.answers import Refused, not_now, not_there, plain_refusal
from kerfwright.app.page.edit import edited_job
from kerfwright.app.page.errands import Running
from kerfwright.app.page.job_changes import check_writable, text_of, write_job
from kerfwright.app.page.shop import Shop, failure_words
from kerfwright.app.page.shown import shown_folder
from kerfwright.app.page.ticket import ticket
from kerfwright.basics import Stopped
from kerfwright.formats.atomic import write_text
from kerfwright.jobs.try_errand import FeedChange, TriedProof, TryErrand
from kerfwright.report.figures import duration
from kerfwright.report.page_words import FEED, SHARE, is_job_value
from kerfwright.workshop.folder import JobFolder


def try_one(shop: Shop, name: str, body: Any) -> dict[str, Any]:
    """Begin to try a remedy. Raises ``Refused``."""
    check_writable(shop)
    job = shop.job(name)
    shown = shop.shown(name)
    if not shop.is_fresh(job, shown):
        raise not_now("something was changed since it was proved", "prove it again first")
    found, remedy = _chosen(shown.verdict, body)
    changes = remedy["changes"]
    values = [(one["path"], one["new"]) for one in changes if is_job_value(one["path"])]
    feeds = tuple(_feed(one) for one in changes if not is_job_value(one["path"]))
    errand = TryErrand(
        workshop=shop.workshop.folder,
        job=job.name,
        scratch=shop.workshop.folder / ".cache" / "tried",
        job_text=edited_job(text_of(job), values) if values else None,
        feeds=feeds,
        code=found["code"],
        threads=shop.threads,
    )
    told = {
        "finding": found["id"],
        "remedy": remedy["words"],
        "before": "; ".join(filter(None, (found["words"], found["number_words"]))),
        "can_keep": not feeds,
        "changes": values,
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
    with shop.lock:
        text = edited_job(text_of(job), [(path, typed) for path, typed in last["changes"]])
        write_job(shop, job, text, f"a remedy in {job.name}: {last['remedy']}"[:200])
    shop.changed()
    return ticket(shop, name)


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
        raise not_now("the model cannot try this remedy", "make the change and prove it again")
    return found, remedy


def _feed(change: dict[str, str]) -> FeedChange:
    lines, share = FEED.fullmatch(change["path"]), SHARE.fullmatch(change["new"])
    if lines is None or share is None:
        raise not_now("the model cannot try this remedy", "make the change and prove it again")
    first = int(lines[1])
    return FeedChange(first=first, last=int(lines[2] or first), share=float(share[1]))


def _file(shop: Shop, job: JobFolder) -> Path:
    return shown_folder(shop.workshop, job.name).with_name(f"{job.name}.tried.json")


def _ended(
    shop: Shop, job: JobFolder, told: dict[str, Any], found: TriedProof, before_s: float
) -> None:
    more_s = found.time_s - before_s
    cost = "takes as long" if abs(more_s) < 0.5 else f"takes {duration(abs(more_s))} "
    if abs(more_s) >= 0.5:
        cost += "longer" if more_s > 0.0 else "less"
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
