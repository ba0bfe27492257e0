"""The shop log: what goes in comes out, old logs are brought up, nothing is half-done."""

import sqlite3
import threading
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from kerfwright.workshop import (
    Acceptance,
    Cut,
    LogError,
    Size,
    accept_finding,
    history,
    open_log,
    record_outcome,
    record_proof,
)
from kerfwright.workshop import shop_log as shop_log_module

NOON = datetime(2024, 6, 1, 12, 0, tzinfo=UTC)
VERSION_1 = Path(__file__).with_name("log_version_1.sql")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "log.sqlite"


def record(log, verdict, job="bat-box", at=NOON):
    file = f"jobs/{job}/verdict.json"
    return record_proof(log, at=at, job=job, verdict=verdict, verdict_file=file)


def schema(log):
    rows = log.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name")
    return {name: " ".join(sql.split()) for name, sql in rows}


def test_what_goes_in_comes_out(path, verdict, finding):
    sizes = (
        Size(name="groove", found_mm=19.11, u_mm=0.02, wanted_mm=19.1),
        Size(name="tongue", found_mm=19.02),
    )
    with open_log(path) as log:
        proof = record(log, verdict)
        cut = record_outcome(
            log,
            at=NOON + timedelta(hours=3),
            proof=proof,
            went="well",
            took_s=6600.0,
            sizes=sizes,
            notes="tight",
        )
        accept_finding(log, at=NOON, proof=proof, finding=finding(), reason=" slow by hand ")
    with open_log(path) as log:
        (entry,) = history(log)
    assert entry.cuts == (
        Cut(
            id=cut,
            at=NOON + timedelta(hours=3),
            went="well",
            took_s=6600.0,
            sizes=sizes,
            notes="tight",
        ),
    )
    assert entry.accepted == (
        Acceptance(
            at=NOON,
            finding="pull-z-1",
            code="pull left z",
            severity="caution",
            words="the Z motor has little pull left",
            value=0.08,
            limit=0.1,
            unit="share",
            reason="slow by hand",
        ),
    )
    assert (entry.at, entry.job, entry.outcome) == (NOON, "bat-box", "care")
    assert entry.time_spread_s == (5700.0, 7512.0)
    assert entry.program_sha256 == "a" * 64
    assert entry.verdict_file == "jobs/bat-box/verdict.json"


def test_history_is_newest_first_by_true_time_and_by_job(path, verdict):
    east = timezone(timedelta(hours=5))
    with open_log(path) as log:
        record(log, verdict, "a", NOON)
        record(log, verdict, "b", datetime(2024, 6, 1, 16, 0, tzinfo=east))  # 11:00 UTC
        record(log, verdict, "a", NOON + timedelta(minutes=1))
        assert [entry.job for entry in history(log)] == ["a", "a", "b"]
        assert [entry.at.minute for entry in history(log, job="a")] == [1, 0]
        assert [entry.job for entry in history(log, most=1)] == ["a"]
        assert history(log, job="none of these") == ()


def test_a_version_1_log_is_brought_up_and_kept(path, finding):
    old = sqlite3.connect(path)
    old.executescript(VERSION_1.read_text(encoding="utf-8"))
    old.close()
    with open_log(path) as log:
        (entry,) = history(log)
        accept_finding(log, at=NOON, proof=entry.id, finding=finding(), reason="known")
        brought_up = schema(log)
        assert log.execute("PRAGMA user_version").fetchone() == (2,)
    assert entry.cuts[0].sizes == (Size(name="tongue", found_mm=19.02, u_mm=0.02, wanted_mm=19.0),)
    with open_log(path.with_name("new.sqlite")) as log:
        assert schema(log) == brought_up  # an old log and a new one are the same in the end
    kept = sqlite3.connect(path.with_name("log.sqlite.1.bak"))
    assert kept.execute("PRAGMA user_version").fetchone() == (1,)
    assert kept.execute("SELECT count(*) FROM proof").fetchone() == (1,)
    kept.close()
    with open_log(path):
        pass
    assert not path.with_name("log.sqlite.2.bak").exists()


def test_a_migration_that_fails_changes_nothing(path, monkeypatch):
    old = sqlite3.connect(path)
    old.executescript(VERSION_1.read_text(encoding="utf-8"))
    before = schema(old)
    old.close()
    broken = (
        shop_log_module.MIGRATIONS[0],
        ("CREATE TABLE half (x INTEGER) STRICT", "CREATE TABLE nonsense ("),
    )
    monkeypatch.setattr(shop_log_module, "MIGRATIONS", broken)
    with pytest.raises(LogError, match="cannot be used"), open_log(path):
        pass
    left = sqlite3.connect(path)
    assert schema(left) == before
    assert left.execute("PRAGMA user_version").fetchone() == (1,)
    left.close()


def test_a_newer_log_is_refused_and_not_changed(path):
    with open_log(path) as log:
        log.execute("PRAGMA user_version = 99")
    before = path.read_bytes()
    with pytest.raises(LogError, match=r"is of version 99.*\n.*newer Kerfwright"), open_log(path):
        pass
    assert path.read_bytes() == before


def test_a_strangers_database_and_a_damaged_file_are_refused(path):
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE music (title TEXT)")
    other.commit()
    other.close()
    with pytest.raises(LogError, match="is a database, but no shop log"), open_log(path):
        pass
    path.write_bytes(b"this is no database, but long enough to be one" * 30)
    with pytest.raises(LogError, match="cannot be used: file is not a database"), open_log(path):
        pass
    path.unlink()
    path.mkdir()
    with pytest.raises(LogError, match="cannot be"), open_log(path):
        pass


def test_all_tables_are_strict_and_keys_are_kept(path, verdict):
    with open_log(path) as log:
        tables = log.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'")
        strict = {name: flag for name, flag in tables if not name.startswith("sqlite_")}
        assert strict == {"proof": 1, "cut": 1, "size": 1, "acceptance": 1}
        assert log.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert log.execute("PRAGMA foreign_keys").fetchone() == (1,)
        proof = record(log, verdict)
        record_outcome(log, at=NOON, proof=proof, went="well")
        with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
            log.execute("DELETE FROM proof")
        with pytest.raises(sqlite3.IntegrityError, match="cannot store TEXT"):
            log.execute("UPDATE proof SET time_s = 'soon'")


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"proof": 7}, "holds no proof of number 7"),
        ({"went": "fine"}, 'not "fine"'),
        ({"took_s": 0.0}, "cannot take 0 s"),
        ({"took_s": float("nan")}, "cannot take nan s"),
        ({"sizes": [Size(name="a", found_mm=1.0)] * 2}, "the same name"),
        ({"sizes": [Size(name="a", found_mm=float("inf"))]}, '"a" has a number that cannot be'),
        ({"sizes": [Size(name="a", found_mm=1.0, u_mm=-1.0)]}, '"a" has a number that cannot be'),
    ],
)
def test_an_outcome_that_cannot_be_is_refused_whole(path, verdict, values, words):
    with open_log(path) as log:
        proof = record(log, verdict)
        whole = {"at": NOON, "proof": proof, "went": "well", **values}
        with pytest.raises(LogError, match=words):
            record_outcome(log, **whole)
        assert log.execute("SELECT count(*) FROM cut").fetchone() == (0,)
        record_outcome(log, at=NOON, proof=proof, went="well")  # the log is still in order


def test_acceptance_needs_a_reason_and_never_takes_a_stop(path, verdict, finding):
    with open_log(path) as log:
        proof = record(log, verdict)
        with pytest.raises(LogError, match="a stop cannot be accepted, only mended"):
            accept_finding(log, at=NOON, proof=proof, finding=finding("stop"), reason="I must")
        with pytest.raises(LogError, match="say why"):
            accept_finding(log, at=NOON, proof=proof, finding=finding(), reason="  ")
        with pytest.raises(LogError, match="no proof of number 8"):
            accept_finding(log, at=NOON, proof=8, finding=finding(), reason="x")
        for reason in ("first", "second"):
            accept_finding(log, at=NOON, proof=proof, finding=finding(), reason=reason)
        ((accepted,),) = [entry.accepted for entry in history(log)]
    assert accepted.reason == "second"


def test_a_time_without_zone_is_refused(path, verdict):
    with open_log(path) as log, pytest.raises(ValueError, match="needs its zone"):
        record(log, verdict, at=datetime(2024, 6, 1))  # noqa: DTZ001 - what is tested


def test_many_may_write_at_once(path, verdict):
    def write():
        with open_log(path) as log:
            for _ in range(10):
                record(log, verdict)

    threads = [threading.Thread(target=write) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with open_log(path) as log:
        assert len(history(log)) == 40
