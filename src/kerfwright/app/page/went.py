"""What really happened when a job was cut: into the shop log, and learned from."""

import re
from datetime import UTC, datetime
from typing import Any, cast, get_args

from kerfwright.app.errands import run_learn
from kerfwright.app.page.answers import Refused, not_now, plain_refusal
from kerfwright.app.page.errands import Running
from kerfwright.app.page.shop import Shop, failure_words
from kerfwright.basics import KerfwrightError
from kerfwright.commission.learned import NAME, Learned, read_learned
from kerfwright.commission.sizes import READ_U_MM
from kerfwright.commission.timed import READ_S, READ_SHARE
from kerfwright.formats import QuantityError
from kerfwright.formats.quantity import Quantity, read_quantity
from kerfwright.jobs.learn_errand import LearnErrand
from kerfwright.report.figures import amount, clean, duration
from kerfwright.workshop import Cut, Size, Went, history, record_outcome
from kerfwright.workshop.folder import JobFolder

_WENT = {
    "well": "Went well",
    "stalled": "The machine stalled",
    "spoiled": "The part was spoiled",
    "stopped": "Stopped by hand",
}
#: Only these were run to their end, so only their time says anything.
_TO_THE_END = ("well", "spoiled")
MOST_SIZES = 20
MOST_NOTES = 1000
_CLOCK = re.compile(r"\s*(\d{1,3})\s*(?:h|:)\s*(\d{1,2})\s*")


def went_of(shop: Shop, job: JobFolder) -> list[dict[str, Any]]:
    """All that was noted of a job, the newest first."""
    if shop.workshop.read_only or not (shop.workshop.folder / "log.sqlite").is_file():
        return []
    try:
        with shop.workshop.log() as log:
            cuts = [cut for entry in history(log, job=job.name) for cut in entry.cuts]
        learned = read_learned(shop.workshop.folder / NAME)
    except KerfwrightError:
        return []  # their own words come when something is to be written there
    cuts.sort(key=lambda cut: (cut.at, cut.id), reverse=True)
    return [_told(cut, learned) for cut in cuts]


def note_went(shop: Shop, name: str, body: Any) -> None:
    """Note what happened, and begin to learn from it. Raises ``Refused`` (404, 409, 422)."""
    job = shop.job(name)
    program = shop.program(job)
    shown = shop.shown(name)
    guess = shown.guess()
    went = body.get("went")
    if went not in get_args(Went):
        raise _wrong("say how it went", "choose one of: " + ", ".join(get_args(Went)))
    took = _took(_text(body, "took"))
    sizes = _sizes(body.get("sizes", []), guess)
    notes = _notes(body)
    if shop.errands.of(job.name) is not None:
        raise not_now("this job is being worked on", "wait for it, or stop it")
    with shop.lock, shop.workshop.log() as log:
        proofs = history(log, job=job.name, most=1)
        if not proofs:
            raise not_now("the shop log holds no proof of this job", "prove it again")
        cut = record_outcome(
            log,
            at=datetime.now(UTC),
            proof=proofs[0].id,
            went=cast(Went, went),
            took_s=None if took is None else took.value,
            sizes=[
                Size(name=n, found_mm=found, u_mm=u, wanted_mm=_wanted(guess, n))
                for n, found, u in sizes
            ],
            notes=notes,
        )
    timed = took if went in _TO_THE_END else None
    # What was proved is what was cut; a program that was changed since cannot be timed any more.
    same = program is not None and shop.hashes.of(program) == shown.inputs["program"]
    if program is None or not (sizes or (timed is not None and same)):
        shop.changed()
        return
    _begin(
        shop,
        job,
        LearnErrand(
            workshop=shop.workshop.folder,
            program=program,
            cut=cut,
            took_s=timed.value if timed is not None and same else None,
            took_u_s=_clock_u_s(timed) if timed is not None else 1.0,
            sizes=tuple(sizes),
            guess=guess,
        ),
    )


def _begin(shop: Shop, job: JobFolder, errand: LearnErrand) -> None:
    def ended(answer: dict[str, Any]) -> None:
        with shop.lock:
            shop.history.change(f"what was learned from {job.name}", {NAME: answer["text"]})
        shop.changed()

    shop.begin(
        Running(
            job=job.name,
            what="learning from it",
            work=run_learn,
            args=(errand,),
            done=ended,
            failed=lambda how, error: shop.told(job.name, failure_words(how, error)),
        )
    )


def _told(cut: Cut, learned: Learned) -> dict[str, Any]:
    shrunk = [dict(one) for one in learned.shrunk.get(str(cut.id), ())]
    return {"at": cut.at.isoformat(), "words": _words(cut), "shrunk": shrunk}


def _words(cut: Cut) -> str:
    words = _WENT[cut.went]
    if cut.took_s is not None:
        words += f"; took {duration(cut.took_s)}"
    for size in cut.sizes:
        words += f"; {size.name} {amount(size.found_mm, 'mm')}"
    return clean(f"{words}; {cut.notes}" if cut.notes else words)


def _text(body: Any, key: str) -> str:
    said = body.get(key, "")
    if not isinstance(said, str) or len(said) > MOST_NOTES:
        raise _wrong("this is no text to write", "type it anew")
    return said.strip()


def _took(said: str) -> Quantity | None:
    """Seconds by the clock: ``1 h 50``, ``1:50``, ``110 min``; None where nobody looked."""
    if not said:
        return None
    clock = _CLOCK.fullmatch(said)
    try:
        took = read_quantity(f"{clock[1]} h {clock[2]} min" if clock else said, "time")
    except QuantityError as error:
        raise _wrong(error.problem, 'write it like "1 h 50", or leave it empty') from None
    if took is not None and not 1.0 <= took.value <= 1e7:
        raise _wrong(f'"{said[:60]}" is no time that a job takes', 'write it like "1 h 50"')
    return took


def _clock_u_s(took: Quantity) -> float:
    """Standard uncertainty of a time read off a clock."""
    if took.u is not None:
        return max(took.u, 0.1)
    if took.low is not None and took.high is not None:
        return max(float((took.high - took.low) / 12.0**0.5), 0.1)
    return (READ_S + READ_SHARE * took.value) / 1.96


def _sizes(said: Any, guess: dict[str, Any]) -> list[tuple[str, float, float]]:
    """Name, found and standard uncertainty of each size. [mm]"""
    known = {one["name"] for one in guess["sizes"]}
    if not isinstance(said, list) or len(said) > MOST_SIZES:
        raise _wrong("these are no sizes", "reload the page")
    out: list[tuple[str, float, float]] = []
    for one in said:
        name, found = (one.get("name"), one.get("found")) if isinstance(one, dict) else ("", "")
        if name not in known or any(name == other for other, _, _ in out):
            raise _wrong("this size is not one of the proof's", "reload the page")
        if not isinstance(found, str):
            raise _wrong("this is no text to write", "type it anew")
        if not found.strip():
            continue
        try:
            size = read_quantity(found, "length")
        except QuantityError as error:
            raise _wrong(f"{name}: {error.problem}", error.remedy) from None
        if size is not None:
            out.append((str(name), size.value, max(size.u or READ_U_MM, 0.001)))
    return out


def _wanted(guess: dict[str, Any], name: str) -> float:
    return next(float(one["programmed_mm"]) for one in guess["sizes"] if one["name"] == name)


def _notes(body: Any) -> str:
    line, notes = _text(body, "line"), _text(body, "notes")
    if line and not (line.isascii() and line.isdigit()):
        raise _wrong(f'"{line[:20]}" is no line of a program', "write its number")
    return "; ".join(filter(None, (f"on line {line}" if line else "", notes)))


def _wrong(problem: str, remedy: str) -> Refused:
    return Refused(422, [plain_refusal(problem, remedy)])
