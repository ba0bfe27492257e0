"""What changes a job: entries, a program that is brought, undo and redo, findings accepted."""

import contextlib
import re
import shutil
from datetime import UTC, datetime
from pathlib import Path
from secrets import token_hex
from typing import Any

from starlette.requests import Request

from kerfwright.app.errands import run_read
from kerfwright.app.page import reading
from kerfwright.app.page.answers import (
    Refused,
    not_now,
    not_there,
    not_understood,
    plain_refusal,
    too_large,
)
from kerfwright.app.page.edit import accepted_job, changes_of, edited_job, judged
from kerfwright.app.page.entries import row_at
from kerfwright.app.page.shop import Shop
from kerfwright.app.page.ticket import keep_facts, ticket
from kerfwright.basics import Estimate, Finding, KerfwrightError, Stopped
from kerfwright.formats.atomic import write_text
from kerfwright.jobs.worker import run
from kerfwright.program.reader import MOST_BYTES
from kerfwright.workshop import accept_finding, history
from kerfwright.workshop.folder import PROGRAM_SUFFIXES, JobFolder

MOST_REASON = 300
_LONGEST_NAME = 100
#: A program that takes longer to read than this is not for a page. [s]
_READ_WITHIN_S = 600.0


def change_job(shop: Shop, name: str, body: Any) -> dict[str, Any]:
    """Change entries of a job file; all of them or none. Raises ``Refused``."""
    changes = changes_of(body)
    job = shop.job(name)
    labels = [row.label for path, _ in changes if (row := row_at(path)) is not None]
    words = labels[0] if len(labels) == 1 else f"{len(changes)} entries"
    with shop.lock:
        write_job(shop, job, edited_job(text_of(job), changes), f"{words} of {job.name}")
    shop.changed()
    return ticket(shop, name)


def accept(shop: Shop, name: str, body: Any) -> dict[str, Any]:
    """Accept a finding with a reason: in the job file, and in the log. Raises ``Refused``."""
    finding, reason = body.get("finding"), body.get("reason")
    if not isinstance(finding, str) or not isinstance(reason, str):
        raise Refused(422, [plain_refusal("no finding was named", "reload the page")])
    reason = reason.strip()
    if not reason or len(reason) > MOST_REASON or not reason.isprintable():
        told = "say in a line why you go on in spite of it: the reason is printed on the sheet"
        raise Refused(422, [plain_refusal("a finding is accepted with a reason", told)])
    job = shop.job(name)
    shown = shop.shown(name)
    found = next((one for one in shown.verdict["findings"] if one["id"] == finding), None)
    if found is None:
        raise not_there("the last proof has no such finding")
    if found["severity"] == "stop":
        raise not_now("a stop cannot be accepted, only mended", "look at its remedies")
    with shop.lock:
        text = accepted_job(text_of(job), finding, reason)
        write_job(shop, job, text, f"accepting {found['code']} in {job.name}")
        _log_accepted(shop, job, found, reason)
    shop.changed()
    return ticket(shop, name)


def _log_accepted(shop: Shop, job: JobFolder, found: dict[str, Any], reason: str) -> None:
    plain = found["plain"]
    finding = Finding(
        id=found["id"],
        code=found["code"],
        severity=found["severity"],
        words=found["words"],
        value=Estimate(value=plain["value"], low=plain["low"], high=plain["high"]),
        limit=plain["limit"],
        unit=plain["unit"],
    )
    with shop.workshop.log() as log:
        proofs = history(log, job=job.name, most=1)
        if proofs:
            now = datetime.now(UTC)
            accept_finding(log, at=now, proof=proofs[0].id, finding=finding, reason=reason)


def undo(shop: Shop) -> dict[str, Any]:
    """Undo the last change. Raises ``Refused`` (409)."""
    return _back(shop, shop.history.undo)


def redo(shop: Shop) -> dict[str, Any]:
    """Do it again. Raises ``Refused`` (409)."""
    return _back(shop, shop.history.redo)


def _back(shop: Shop, step: Any) -> dict[str, Any]:
    check_writable(shop)
    with shop.lock:
        step()
        for job in shop.workshop.jobs():
            shop.forget_failure(job.name)
    shop.changed()
    return shop.state()


def check_writable(shop: Shop) -> None:
    """Raises ``Refused`` (409) where nothing may be written."""
    if shop.workshop.read_only:
        raise not_now("nothing can be written into this workshop", "open a copy of your own")


def text_of(job: JobFolder) -> str:
    """The text of a job file. Raises ``Refused`` (422)."""
    try:
        return job.job_file.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        return 'kerfwright = "job 1"\n'
    except UnicodeDecodeError:
        raise Refused(
            422,
            [plain_refusal("is not UTF-8 text", "save it from your editor as UTF-8", "job.toml")],
        ) from None


def write_job(shop: Shop, job: JobFolder, text: str, words: str) -> None:
    """Write a job file, once its own reader has judged it. Raises ``Refused`` (409, 422)."""
    check_writable(shop)
    if not shop.inside(job.job_file):
        raise not_now("job.toml does not lie in the workshop", "copy it there")
    judged(job.job_file, text, lambda path: reading.setup_of(shop.workshop, path))
    shop.history.change(words, {f"jobs/{job.name}/job.toml": text})
    shop.forget_failure(job.name)


async def bring_program(shop: Shop, request: Request) -> Path:
    """Stream a program into a folder of its own in the cache. Raises ``Refused`` (413, 422)."""
    check_writable(shop)
    name = program_name(str(request.path_params["file"]))
    said = request.headers.get("content-length", "0")
    if said.isascii() and said.isdigit() and int(said) > MOST_BYTES:
        raise _too_large()
    folder = shop.workshop.folder / ".cache" / "brought" / token_hex(8)
    folder.mkdir(parents=True)
    many = 0
    try:
        with (folder / name).open("xb") as file:
            async for part in request.stream():
                many += len(part)
                if many > MOST_BYTES:
                    raise _too_large()
                file.write(part)
        if not many:
            raise Refused(422, [plain_refusal("the file is empty", "save it again", name)])
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return folder / name


def _too_large() -> Refused:
    return too_large(f"the program has more than {MOST_BYTES // 2**20} MiB")


def program_name(said: str) -> str:
    """The name of a program's file, if it is one and nothing else. Raises ``Refused`` (422)."""
    plain = said.isprintable() and not re.search(r'[/\\:*?"<>|]', said)
    ending = Path(said).suffix.lower() if plain else ""
    if not plain or said.startswith(".") or not 1 < len(said.encode()) <= _LONGEST_NAME:
        raise Refused(422, [plain_refusal("this is no name of a file", "give it a plain name")])
    if ending not in PROGRAM_SUFFIXES:
        told = "a program's name ends in one of " + ", ".join(PROGRAM_SUFFIXES)
        raise Refused(422, [plain_refusal(told, "save it with one of these endings", said)])
    return said


def new_job(shop: Shop, program: Path) -> dict[str, Any]:
    """Read a program that was brought, and make a job of it. Raises ``Refused`` (422)."""
    folder = program.parent
    try:
        facts = run(
            run_read,
            program,
            shop.workshop.machine_file,
            timeout_s=_READ_WITHIN_S,
            stop=shop.closing,
        )
        with shop.lock:
            name = _free_name(shop, program.stem)
            write_text(folder / "job.toml", facts["job_text"])
            target = shop.workshop.folder / "jobs" / name
            target.parent.mkdir(exist_ok=True)
            folder.replace(target)
            shop.history.job_added(f"bringing {program.name}", f"jobs/{name}")
    except Stopped:
        raise not_now("the page is being closed", "open it again") from None
    except KerfwrightError as error:
        raise not_understood(error) from None
    finally:
        with contextlib.suppress(OSError):
            shutil.rmtree(folder)
    job = shop.job(name)
    keep_facts(shop, job, target / program.name, facts, [])
    shop.changed()
    return ticket(shop, name)


def _free_name(shop: Shop, stem: str) -> str:
    plain = re.sub(r"[^\w-]+", "-", stem).strip("-_")[:60] or "job"
    taken = {path.name.lower() for path in (shop.workshop.folder / "jobs").glob("*")}
    name, number = plain, 2
    while name.lower() in taken:
        name, number = f"{plain}-{number}", number + 1
    return name
