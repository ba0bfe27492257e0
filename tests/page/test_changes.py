"""Changes of a job through the page: judged by the file's own reader, undone and done again."""

import pytest
from small_shop import JOB, client_of, small_workshop

from kerfwright.app.page import history
from kerfwright.app.page.shop import Shop


def change(page, *changes):
    """Ask for some changes of the job."""
    plain = [{"path": path, "typed": typed} for path, typed in changes]
    return page.post("/api/jobs/slot/change", json={"changes": plain})


def entry(answer, path):
    """One row of the ticket."""
    return next(row for row in answer.json()["setup"] if row["path"] == path)


def job_text(shop):
    """The job file as it is now."""
    return (shop.workshop.folder / "jobs" / "slot" / "job.toml").read_text(encoding="utf-8")


def test_a_change_keeps_comments_and_says_what_was_understood(page, shop):
    answer = change(page, ("board.size", "1 x 3/4 x 1/4 in"), ("limits.below_board", "0.5 mm"))
    assert answer.status_code == 200
    assert entry(answer, "board.size")["words"].startswith("25.40 mm (1.000 in) × 19.05 mm")
    assert entry(answer, "limits.below_board")["typed"] == "0.5 mm"
    assert job_text(shop) == JOB.replace("20 x 15 x 6 mm", "1 x 3/4 x 1/4 in").replace(
        'tolerance = "0.2 mm"\n', 'tolerance = "0.2 mm"\nbelow_board = "0.5 mm"\n'
    )


def test_what_cannot_be_read_changes_nothing_and_says_where(page, shop):
    answer = change(page, ("board.wood", "beech"), ("board.size", "20 x 15 mm"))
    assert answer.status_code == 422
    [refusal] = answer.json()
    assert refusal["problem"] == "the size has no thickness"
    assert (refusal["file"], refusal["line"]) == ("job.toml", 5)
    assert job_text(shop) == JOB
    assert change(page, ("board.colour", "red")).status_code == 422
    assert page.get("/api/state").json()["undo"] is None


def test_a_fault_that_was_there_before_does_not_hold_up_another_change(page, shop):
    broken = JOB.replace('1 = "flat 6 mm"', '1 = "flat 7 mm"')
    (shop.workshop.folder / "jobs" / "slot" / "job.toml").write_text(broken, encoding="utf-8")
    answer = change(page, ("board.wood", "beech"))
    assert answer.status_code == 200
    assert [one["problem"] for one in answer.json()["refused"]] == [
        'there is no "flat 7 mm" in the rack'
    ]
    assert change(page, ("slots.1", "flat 6 mm")).json()["refused"] == []


@pytest.mark.parametrize(
    ("path", "typed", "written"),
    [
        ("slots.1.stick_out", "30 mm", '1 = {cutter = "flat 6 mm", stick_out = "30 mm"}'),
        ("board.at", "120 mm, 80 mm", 'at = ["120 mm", "80 mm"]'),
        ("hold.screws", "2 mm, 2 mm\n18 mm, 13 mm", '    ["2 mm", "2 mm"],\n'),
        ("clamps", "left at -9 mm, 4 mm size 8 x 6 mm height 9 mm", 'size = "8 x 6 mm"'),
        ("slots.first", "1", "first = 1"),
    ],
)
def test_each_kind_of_entry_comes_back_as_it_was_typed(page, shop, path, typed, written):
    answer = change(page, (path, typed))
    assert answer.status_code == 200, answer.json()
    assert entry(answer, path)["typed"] == typed
    assert written in job_text(shop)
    assert change(page, (path, "")).status_code == 200
    assert written not in job_text(shop)


def test_undo_and_redo_survive_a_new_start(page, shop):
    change(page, ("board.wood", "beech"))
    change(page, ("limits.tolerance", "0.3 mm"))
    after = job_text(shop)
    again = Shop(shop.workshop, demo=False, threads=1)
    other = client_of(again)
    try:
        state = other.post("/api/undo").json()
        assert (state["undo"], state["redo"]) == ("Wood of slot", "Right means within of slot")
        other.post("/api/undo")
        assert job_text(shop) == JOB
        assert other.post("/api/undo").status_code == 409
        other.post("/api/redo")
        other.post("/api/redo")
        assert job_text(shop) == after
        assert other.post("/api/redo").status_code == 409
    finally:
        again.close()


def test_undo_does_not_lose_what_was_changed_elsewhere(page, shop):
    change(page, ("board.wood", "beech"))
    file = shop.workshop.folder / "jobs" / "slot" / "job.toml"
    file.write_text(job_text(shop) + "# by hand\n", encoding="utf-8")
    answer = page.post("/api/undo")
    assert answer.status_code == 409
    assert "changed elsewhere" in answer.json()["problem"]
    assert job_text(shop).endswith("# by hand\n")


def test_only_so_many_changes_are_kept(tmp_path, monkeypatch):
    monkeypatch.setattr(history, "MOST_CHANGES", 3)
    workshop = small_workshop(tmp_path / "shop")
    kept = history.History(workshop.folder)
    for number in range(8):
        kept.change(f"change {number}", {"note.txt": f"{number}"})
    many = 0
    while kept.words()[0] is not None:
        kept.undo()
        many += 1
    assert many == 3
    assert (workshop.folder / "note.txt").read_text(encoding="utf-8") == "4"
