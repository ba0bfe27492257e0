"""The shop log: what was proved, what was accepted, and what really happened."""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from sqlite3 import Connection
from typing import TYPE_CHECKING, Literal, cast, get_args

from kerfwright.basics import Finding, KerfwrightError
from kerfwright.workshop.keep_old import next_backup
from kerfwright.workshop.migrations import MIGRATIONS

if TYPE_CHECKING:  # what finds a workshop's files must be there at once: it proves nothing
    from kerfwright.prove import Outcome, Verdict

#: Marks the file as ours in its header, so that a stranger's database is never changed.
APPLICATION_ID = 0x4B657266
WAIT_S = 5.0  #: for another program that is writing

Went = Literal["well", "stalled", "spoiled", "stopped"]


class LogError(KerfwrightError):
    """A shop log that cannot be used, or an entry that it cannot take."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One size of a cut part as it was measured."""

    name: str
    found_mm: float
    u_mm: float | None = None  #: standard uncertainty of the reading
    wanted_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One time that a proved program was really run."""

    id: int
    at: datetime
    went: Went
    took_s: float | None
    sizes: tuple[Size, ...]
    notes: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """A finding that the person decided to live with, and why."""

    at: datetime
    finding: str  #: its id
    code: str
    severity: Literal["caution", "note"]
    words: str
    value: float
    limit: float
    unit: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One proof, with all that came of it."""

    id: int
    at: datetime
    job: str
    outcome: "Outcome"
    sentence: str
    time_s: float
    time_spread_s: tuple[float, float]
    program_file: str
    program_sha256: str
    machine: str
    machine_sha256: str
    code_sha256: str
    tables_sha256: str
    verdict_file: str  #: as given, from the workshop's folder
    cuts: tuple[Cut, ...]
    accepted: tuple[Acceptance, ...]


@contextmanager
def open_log(path: Path) -> Iterator[Connection]:
    """The shop log at ``path``, made if it is not there, brought to the newest version.

    Before an older log is changed it is copied to ``NAME.n.bak``.

    Raises
    ------
    LogError
        If the file is newer than this Kerfwright, or no shop log.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        log = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
    except sqlite3.Error as error:
        raise LogError(f"{path} cannot be opened: {error}") from error
    try:
        with _told(path):
            _prepare(log, path)
        with _told(path):
            yield log
    finally:
        log.close()


def record_proof(
    log: Connection, *, at: datetime, job: str, verdict: "Verdict", verdict_file: str
) -> int:
    """Note a proof that was run; returns its id."""
    made, totals = verdict.provenance, verdict.totals
    return _insert(
        log,
        "proof",
        at=_stamp(at),
        job=job,
        outcome=verdict.outcome,
        sentence=verdict.sentence,
        time_s=totals.time_s,
        time_low_s=totals.time_spread_s[0],
        time_high_s=totals.time_spread_s[1],
        program_file=made.program_file,
        program_sha256=made.program_sha256,
        machine=made.machine,
        machine_sha256=made.machine_sha256,
        code_sha256=made.code_sha256,
        tables_sha256=made.tables_sha256,
        verdict_file=verdict_file,
    )


def record_outcome(
    log: Connection,
    *,
    at: datetime,
    proof: int,
    went: Went,
    took_s: float | None = None,
    sizes: Sequence[Size] = (),
    notes: str = "",
) -> int:
    """Note what really happened when a proved program was run; returns the id of the note.

    Raises
    ------
    LogError
        If there is no such proof, or a number cannot be.
    """
    if went not in get_args(Went):
        raise LogError(f'a job went {", ".join(get_args(Went))}; not "{went}"')
    if took_s is not None and not (isfinite(took_s) and took_s > 0.0):
        raise LogError(f"a job cannot take {took_s:g} s")
    if len({size.name for size in sizes}) < len(sizes):
        raise LogError("two sizes have the same name")
    for size in sizes:
        numbers = (size.found_mm, size.u_mm or 0.0, size.wanted_mm or 0.0)
        if not all(map(isfinite, numbers)) or (size.u_mm or 0.0) < 0.0:
            raise LogError(f'the size "{size.name}" has a number that cannot be')
    with _together(log):
        _find_proof(log, proof)
        cut = _insert(log, "cut", proof=proof, at=_stamp(at), went=went, took_s=took_s, notes=notes)
        for size in sizes:
            _insert(
                log,
                "size",
                cut=cut,
                name=size.name,
                found_mm=size.found_mm,
                u_mm=size.u_mm,
                wanted_mm=size.wanted_mm,
            )
    return cut


def accept_finding(
    log: Connection, *, at: datetime, proof: int, finding: Finding, reason: str
) -> None:
    """Note that the person goes on in spite of a finding; a second reason takes the first's place.

    Raises
    ------
    LogError
        If the finding is a stop, which nobody can accept, no reason is given, or there is no
        such proof.
    """
    if finding.severity == "stop":
        raise LogError(f"a stop cannot be accepted, only mended: {finding.words}")
    if not reason.strip():
        raise LogError("say why the finding is accepted: the reason is printed on the sheet")
    with _together(log):
        _find_proof(log, proof)
        log.execute("DELETE FROM acceptance WHERE proof = ? AND finding = ?", (proof, finding.id))
        _insert(
            log,
            "acceptance",
            proof=proof,
            at=_stamp(at),
            finding=finding.id,
            code=finding.code,
            severity=finding.severity,
            words=finding.words,
            value=finding.value.value,
            limit_value=finding.limit,
            unit=finding.unit,
            reason=reason.strip(),
        )


def history(log: Connection, *, job: str | None = None, most: int = 100) -> tuple[Entry, ...]:
    """Proofs with all that came of them, the newest first; of one job or of all."""
    rows = log.execute(
        "SELECT * FROM proof WHERE ?1 IS NULL OR job = ?1 ORDER BY at DESC, id DESC LIMIT ?2",
        (job, most),
    )
    names = [column[0] for column in rows.description]
    return tuple(_entry(log, dict(zip(names, row, strict=True))) for row in rows.fetchall())


def _entry(log: Connection, row: dict[str, object]) -> Entry:
    low, high = row.pop("time_low_s"), row.pop("time_high_s")
    cuts = log.execute(
        "SELECT id, at, went, took_s, notes FROM cut WHERE proof = ? ORDER BY at, id", (row["id"],)
    ).fetchall()
    accepted = log.execute(
        "SELECT at, finding, code, severity, words, value, limit_value, unit, reason "
        "FROM acceptance WHERE proof = ? ORDER BY at, id",
        (row["id"],),
    ).fetchall()
    values: dict[str, object] = {
        **row,
        "at": datetime.fromisoformat(cast("str", row["at"])),
        "time_spread_s": (low, high),
        "cuts": tuple(
            Cut(
                id=id_,
                at=datetime.fromisoformat(at),
                went=went,
                took_s=took_s,
                sizes=_sizes(log, id_),
                notes=notes,
            )
            for id_, at, went, took_s, notes in cuts
        ),
        "accepted": tuple(
            Acceptance(
                at=datetime.fromisoformat(at),
                finding=finding,
                code=code,
                severity=severity,
                words=words,
                value=value,
                limit=limit,
                unit=unit,
                reason=reason,
            )
            for at, finding, code, severity, words, value, limit, unit, reason in accepted
        ),
    }
    return Entry(**values)  # type: ignore[arg-type]  # the table's columns are the fields


def _sizes(log: Connection, cut: int) -> tuple[Size, ...]:
    rows = log.execute(
        "SELECT name, found_mm, u_mm, wanted_mm FROM size WHERE cut = ? ORDER BY name", (cut,)
    )
    return tuple(
        Size(name=name, found_mm=found_mm, u_mm=u_mm, wanted_mm=wanted_mm)
        for name, found_mm, u_mm, wanted_mm in rows
    )


def _insert(log: Connection, table: str, **values: object) -> int:
    names, marks = ", ".join(values), ", ".join("?" * len(values))
    done = log.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(values.values()))
    return int(done.lastrowid or 0)


def _find_proof(log: Connection, proof: int) -> None:
    if log.execute("SELECT 1 FROM proof WHERE id = ?", (proof,)).fetchone() is None:
        raise LogError(f"the shop log holds no proof of number {proof}")


def _stamp(at: datetime) -> str:
    if at.tzinfo is None:
        raise ValueError("a time in the shop log needs its zone")
    return at.astimezone(UTC).isoformat(timespec="seconds")


def _prepare(log: Connection, path: Path) -> None:
    version = _version(log, path)
    log.execute("PRAGMA foreign_keys = ON")
    with suppress(sqlite3.OperationalError):
        # Refused without waiting while another program is just doing it. The file remembers.
        log.execute("PRAGMA journal_mode = WAL")
    if version == len(MIGRATIONS):
        return
    if version > 0:
        _keep_copy(log, path)
    with _together(log):
        # Another program may have been first while this one waited.
        for number in range(_version(log, path) + 1, len(MIGRATIONS) + 1):
            for statement in MIGRATIONS[number - 1]:
                log.execute(statement)
            log.execute(f"PRAGMA user_version = {number}")
        log.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def _version(log: Connection, path: Path) -> int:
    # In one statement, so that another program's migration is seen whole or not at all.
    version, application, tables = log.execute(
        "SELECT user_version, application_id, (SELECT count(*) FROM sqlite_schema) "
        "FROM pragma_user_version, pragma_application_id"
    ).fetchone()
    if application != APPLICATION_ID and (version, application, tables) != (0, 0, 0):
        raise LogError(
            f"{path} is a database, but no shop log\n  remedy: move it elsewhere; a new log is "
            "begun in its place"
        )
    if version > len(MIGRATIONS):
        raise LogError(
            f"{path} is of version {version}; this Kerfwright knows versions up to "
            f"{len(MIGRATIONS)}\n  remedy: use a newer Kerfwright; the log was not changed"
        )
    return int(version)


def _keep_copy(log: Connection, path: Path) -> None:
    copy = sqlite3.connect(next_backup(path))
    try:
        log.backup(copy)
    finally:
        copy.close()


@contextmanager
def _together(log: Connection) -> Iterator[None]:
    """All of it, or none."""
    log.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        log.execute("ROLLBACK")
        raise
    log.execute("COMMIT")


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """What the database library says, in words, with what to do."""
    try:
        yield
    except sqlite3.Error as error:
        raise LogError(
            f"{path} cannot be used: {error}\n  remedy: close what else uses it; if it is "
            "damaged, rename it, and a new log is begun"
        ) from error
