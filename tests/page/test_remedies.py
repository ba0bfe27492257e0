"""Findings that one lives with, and remedies that are tried and taken into the job."""

import json

import pytest
from small_shop import PROGRAM, wait_until

from kerfwright.app.page.shown import shown_folder
from kerfwright.workshop import history


def prove(page, shop):
    """Prove the job; returns its ticket."""
    page.post("/api/jobs/slot/prove")
    wait_until(lambda: shop.errands.of("slot") is None)
    return page.get("/api/jobs/slot").json()


@pytest.mark.slow
def test_a_remedy_is_tried_in_a_copy_and_taken_into_the_job(page, shop):
    program = shop.workshop.folder / "jobs" / "slot" / "slot.nc"
    program.write_bytes(PROGRAM.replace(b"Z-1 ", b"Z-6.4 "))
    ticket = prove(page, shop)
    verdict = ticket["verdict"]
    deep = next(one for one in verdict["findings"] if one["code"] == "table")
    assert (verdict["verdict"], deep["severity"]) == ("stop", "stop")
    number = next(
        k
        for k, one in enumerate(deep["remedies"])
        if one["can_try"] and one["changes"][0]["path"] == "limits.below_board"
    )
    assert page.get("/api/jobs/slot/tried").status_code == 404
    ask = {"finding": deep["id"], "remedy": number}
    assert page.post("/api/jobs/slot/try", json=ask).status_code == 200
    assert page.get("/api/jobs/slot").json()["standing"] == "proved"
    wait_until(lambda: shop.errands.of("slot") is None)
    tried = page.get("/api/jobs/slot/tried").json()
    assert tried["after"] == "no longer found", tried
    assert tried["cost_words"] == "takes as long"
    assert tried["can_keep"]
    assert list((shop.workshop.folder / ".cache" / "tried").iterdir()) == []
    ticket = page.post("/api/jobs/slot/keep").json()
    allowed = next(row for row in ticket["setup"] if row["path"] == "limits.below_board")
    assert (allowed["typed"], ticket["standing"]) == ("0.40 mm", "stale")
    state = page.post("/api/undo").json()
    assert state["redo"].startswith("a remedy in slot: Or allow 0.40 mm into the spoil board")
    # A stop is mended, never accepted.
    accept = {"finding": deep["id"], "reason": "I know"}
    assert page.post("/api/jobs/slot/accept", json=accept).status_code == 409


@pytest.mark.slow
def test_a_finding_is_accepted_with_a_reason_in_file_and_log(page, shop):
    program = shop.workshop.folder / "jobs" / "slot" / "slot.nc"
    program.write_bytes(PROGRAM.replace(b"F900", b"F60"))
    ticket = prove(page, shop)
    thin = next(one for one in ticket["verdict"]["findings"] if one["severity"] == "caution")
    for reason in ("", " ", "x" * 400, "a\nb"):
        ask = {"finding": thin["id"], "reason": reason}
        assert page.post("/api/jobs/slot/accept", json=ask).status_code == 422
    ask = {"finding": thin["id"], "reason": "it is only a test"}
    answer = page.post("/api/jobs/slot/accept", json=ask)
    assert answer.status_code == 200
    told = {one["id"]: one["accepted"] for one in answer.json()["verdict"]["findings"]}
    assert told[thin["id"]] == "it is only a test"  # at once, before the next proof
    assert list(told.values()).count("it is only a test") == 1
    text = (program.parent / "job.toml").read_text(encoding="utf-8")
    assert text.endswith(f'[[accept]]\nid = "{thin["id"]}"\nreason = "it is only a test"\n')
    with shop.workshop.log() as log:
        [entry] = history(log, job="slot")
    assert [one.reason for one in entry.accepted] == ["it is only a test"]
    # Arrays and words are those of the last proof, on disk whole.
    whole = json.loads((shown_folder(shop.workshop, "slot") / "verdict.json").read_text())
    assert whole["shown"]["made_at"] == ticket["verdict"]["made_at"]
