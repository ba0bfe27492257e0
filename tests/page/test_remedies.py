"""Findings that one lives with, and remedies that are tried and taken into the job."""

import json
from dataclasses import replace

import pytest
from small_shop import JOB, PROGRAM, wait_until

from kerfwright.app.page import reading, remedies
from kerfwright.app.page.answers import Refused
from kerfwright.app.page.edit import edited_job
from kerfwright.app.page.remedies import asked_of
from kerfwright.app.page.shown import shown_folder
from kerfwright.basics import Change, InputError, Remedy
from kerfwright.jobs.try_errand import FeedChange, SpeedChange, TryErrand
from kerfwright.jobs.try_remedy import try_remedy
from kerfwright.report.tryable import why_not
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
    # Places in both units; a mark of the strip is short where there is no room.
    x, y, _ = deep["spot_mm"]
    assert deep["place_words"] == [f"{mm:.1f} mm ({mm / 25.4:.2f} in)" for mm in (x, y)]
    mark = next(one for one in verdict["minutes"] if one["finding"] == deep["id"])
    place = 1 + [one["id"] for one in verdict["findings"]].index(deep["id"])
    assert (mark["short"], mark["words"]) == (str(place), f"look here: {place}, table")
    # What cannot be tried says why not, one way or another.
    for one in (remedy for found in verdict["findings"] for remedy in found["remedies"]):
        assert one["can_try"] or one["why_not"] or "Not tried" in one["model_words"], one
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
    assert tried["cost_words"] == "It takes as long."
    assert tried["can_keep"]
    assert list((shop.workshop.folder / ".cache" / "tried").iterdir()) == []
    ticket = page.post("/api/jobs/slot/keep").json()
    allowed = next(row for row in ticket["setup"] if row["path"] == "limits.below_board")
    assert (allowed["typed"], ticket["standing"]) == ("0.40 mm", "stale")
    state = page.post("/api/undo").json()
    assert state["redo"].startswith(
        "a remedy in slot: Or allow 0.40 mm (0.016 in) into the spoil board"
    )
    # A stop is mended, never accepted.
    accept = {"finding": deep["id"], "reason": "I know"}
    assert page.post("/api/jobs/slot/accept", json=accept).status_code == 409


def change(path, new, old=""):
    return Change(path=path, old=old, new=new)


def test_every_kind_of_remedy_becomes_what_a_person_would_have_typed(shop):
    job = shop.job("slot")
    job.job_file.write_text(
        JOB + '\n[hold]\nscrews = [["2 mm", "2 mm"]]\n\n[[clamps]]\nname = "left"\n'
        'at = ["-1 in", "10 mm"]\nsize = "30 x 20 mm"\nheight = "12 mm"\n',
        encoding="utf-8",
    )
    asked = asked_of(
        job,
        [
            change("hold.screws", '["18 mm", "13 mm"]', "none there"),
            change("clamps.1.at", "6 mm to the left", "as placed"),
            change("slots.1.stick_out", "30 mm", "25 mm"),
            change("x.rapid", "3000 mm/min", "4000 mm/min"),
            change("controller.y.speed_step", "4.0 mm/s", "9 mm/s"),
            change("feed on lines 5 to 6", "× 0.5", "× 1"),
            change("feed on line 7", "900 mm/min", "1200 mm/min"),
            change("S on line 3", "8000", "16000"),
        ],
    )
    assert asked.job == [
        ("hold.screws", "2 mm, 2 mm\n18 mm, 13 mm"),
        ("clamps", "left at -31.4 mm, 10 mm size 30 x 20 mm height 12 mm"),
        ("slots.1.stick_out", "30 mm"),
    ]
    assert asked.machine == [
        ("controller.x.rapid", "3000 mm/min"), ("controller.y.speed_step", "4.0 mm/s"),
    ]  # fmt: skip
    assert asked.feeds == (
        FeedChange(first=5, last=6, share=0.5), FeedChange(first=7, last=7, share=0.75),
    )  # fmt: skip
    assert asked.speeds == (SpeedChange(line=3, old=16000.0, new=8000.0),)
    moved = asked_of(job, [change("hold.screws", "2, 9 mm", "2, 2 mm")])
    assert moved.job == [("hold.screws", "2 mm, 9 mm")]
    with pytest.raises(Refused):
        asked_of(job, [change("hold.screws", "2, 9 mm", "7, 7 mm")])
    # Each of them is a text that its own reader takes.
    text = edited_job(job.job_file.read_text(encoding="utf-8"), asked.job)
    job.job_file.write_text(text, encoding="utf-8")
    clamp = reading.setup_of(shop.workshop, job.job_file).clamps[0]
    assert clamp.at_mm == pytest.approx((-31.4, 10.0))
    assert len(reading.data_of(job.job_file)["hold"]["screws"]) == 2


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ((), "Do it, and prove it again."),
        ((change("hold", "× 2", "as told"),), "Do it, type what is so now"),
        ((change("hold.screws", "within 30 mm", "nearest 80 mm"),), "Do it, type"),
        ((change("slots.1", "3 sharp ones, in turn", "1 cutter"),), "Do it, type"),
        ((change("spindle", "M3", "M4"),), "in the software that wrote the program"),
        ((change("G91", "G90, places", "steps"),), "in the software that wrote the program"),
        ((change("depth on line 7", "× 0.5", "× 1"),), "in the software that wrote the program"),
        ((change("size of tongue in the drawing", "19.1 mm", "19 mm"),), "Change the drawing"),
        ((change("clamps.1.at", "6 mm to the left", "as placed"),), ""),
    ],
)
def test_a_remedy_that_cannot_be_tried_says_what_to_do_instead(changes, words):
    told = why_not(Remedy(words="so", changes=changes))
    assert (words in told) if words else told == ""
    assert why_not(Remedy(words="so", changes=changes, not_tried="it is too heavy")) == ""


@pytest.mark.slow
def test_a_change_of_machine_and_speed_is_tried_in_the_copy_alone(shop):
    job = shop.job("slot")
    before = shop.workshop.machine_file.read_text(encoding="utf-8")
    asked = asked_of(job, [change("z.rapid", "300 mm/min"), change("spindle", "12000", "16000")])
    errand = TryErrand(
        workshop=shop.workshop.folder, job="slot", scratch=shop.workshop.folder / ".cache" / "t",
        job_text=None, machine_text=remedies._machine_text(shop, asked.machine), feeds=(),
        speeds=asked.speeds, code="chip too thin", threads=1,
    )  # fmt: skip
    slower = try_remedy(errand)
    as_it_is = try_remedy(replace(errand, machine_text=None, speeds=()))
    assert slower.time_s > as_it_is.time_s + 0.05
    assert shop.workshop.machine_file.read_text(encoding="utf-8") == before
    assert job.program_file().read_bytes() == PROGRAM
    with pytest.raises(InputError, match="states no speed of 9000"):
        try_remedy(replace(errand, speeds=(SpeedChange(line=0, old=9000.0, new=8000.0),)))


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
    ticket = prove(page, shop)  # and from then on
    found = next(one for one in ticket["verdict"]["findings"] if one["id"] == thin["id"])
    assert found["accepted"] == "it is only a test"
    # Arrays and words are those of the last proof, on disk whole.
    whole = json.loads((shown_folder(shop.workshop, "slot") / "verdict.json").read_text())
    assert whole["shown"]["made_at"] == ticket["verdict"]["made_at"]
