"""A program that is brought: a job of its own, or a refusal with its place; nothing half."""

import pytest
from small_shop import PROGRAM

from kerfwright.app.page import job_changes


def jobs(page):
    """Names of the jobs."""
    return [job["name"] for job in page.get("/api/state").json()["jobs"]]


def left_over(shop):
    """What lies in the cache of programs brought."""
    return list((shop.workshop.folder / ".cache" / "brought").glob("*"))


@pytest.mark.slow
def test_a_program_becomes_a_job_of_what_is_known(page, shop):
    answer = page.put("/api/programs/Shelf%20left.nc", content=PROGRAM)
    assert answer.status_code == 200, answer.json()
    ticket = answer.json()
    assert ticket["name"] == "Shelf-left"
    assert ticket["program"]["slots"] == [1]
    assert ticket["program"]["extents_mm"]["z"] == [-1.0, 2.0]
    typed = {row["path"]: row for row in ticket["setup"]}
    assert typed["board.wood"]["typed"] == "don't know"
    assert typed["board.size"]["typed"] == "16.0 x 11.0 x 3.0 mm"
    assert typed["board.size"]["source"].startswith("estimated, as far as the program reaches")
    # Asked for in plain words, with what there is to choose from.
    assert ticket["refused"] == []
    assert [one["path"] for one in ticket["asks"]] == ["slots.1"]
    assert ticket["asks"][0]["question"] == "Which cutter is in slot 1?"
    assert "flat 6 mm" in ticket["asks"][0]["choices"]
    assert ticket["board"] is None
    answer = page.post(
        "/api/jobs/Shelf-left/change",
        json={"changes": [{"path": "slots.1", "typed": "flat 6 mm"}]},
    )
    assert (answer.json()["refused"], answer.json()["asks"]) == ([], [])
    assert answer.json()["board"]["outline_mm"] != []
    page.post("/api/undo")
    page.post("/api/undo")
    assert jobs(page) == ["slot"]
    page.post("/api/redo")
    assert jobs(page) == ["Shelf-left", "slot"]
    assert left_over(shop) == []


@pytest.mark.slow
def test_a_program_that_cannot_be_read_is_refused_with_its_place(page, shop):
    answer = page.put("/api/programs/slot.nc", content=PROGRAM.replace(b"X16 Y4", b"X1O Y4"))
    assert answer.status_code == 422
    refusal = answer.json()[0]
    assert (refusal["file"], refusal["line"], refusal["text"]) == ("slot.nc", 6, "G1 X1O Y4 F900")
    assert jobs(page) == ["slot"]
    assert left_over(shop) == []


@pytest.mark.parametrize("name", ["..%2fx.nc", ".nc", "x.exe", "a%00.nc", "a%2fb.nc", "x" * 120])
def test_a_name_that_is_none_is_refused(page, shop, name):
    assert page.put(f"/api/programs/{name}", content=b"G0 X1\n").status_code == 422
    assert left_over(shop) == []


def test_a_huge_program_is_refused_while_it_comes_in(page, shop, monkeypatch):
    monkeypatch.setattr(job_changes, "MOST_BYTES", 100_000)

    def endless():
        for _ in range(1000):
            yield b"G1 X1\n" * 1000

    assert page.put("/api/programs/big.nc", content=endless()).status_code == 413
    assert page.put("/api/programs/big.nc", content=b"x" * 100_001).status_code == 413
    assert left_over(shop) == []
    assert jobs(page) == ["slot"]


def test_an_empty_program_is_refused(page, shop):
    assert page.put("/api/programs/none.nc", content=b"").status_code == 422
    assert left_over(shop) == []
