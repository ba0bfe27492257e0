"""From Prove to the verdict and back: arrays, stream, stop, a worker that dies, a change after."""

import asyncio
import json
import os
import signal
import time

import numpy as np
import pytest
from small_shop import client_of, wait_until

from kerfwright.app.page import shop as shop_module
from kerfwright.app.page.errands import Running
from kerfwright.app.page.shop import Shop
from kerfwright.app.page.shown import shown_folder
from kerfwright.app.page.stream import Stream
from kerfwright.basics import Stopped
from kerfwright.jobs.show_errand import VERDICT


def wait_to_be_ended(*_, progress):
    """An errand that goes on until it is told to stop."""
    while True:
        progress("cutting in the computer", 0.5)
        time.sleep(0.01)


def die(*_, progress):
    """An errand whose process is killed."""
    progress("cutting in the computer", 0.2)
    os.kill(os.getpid(), signal.SIGKILL)


def line_of(client, name="slot"):
    """A job in the state."""
    return next(job for job in client.get("/api/state").json()["jobs"] if job["name"] == name)


def array(client, path, kind):
    """A raw array, little-endian."""
    answer = client.get(f"/api/jobs/slot/{path}")
    assert answer.status_code == 200, answer.text
    return np.frombuffer(answer.content, kind)


@pytest.mark.slow
def test_a_proof_answers_with_words_and_arrays(proved):
    ticket = proved.get("/api/jobs/slot").json()
    assert ticket["standing"] == "proved"
    verdict = ticket["verdict"]
    assert line_of(proved)["sentence"] == verdict["sentence"]
    assert "ear protection" in verdict["cautions"]
    assert "safe" not in json.dumps(ticket).lower()
    maps = proved.get("/api/jobs/slot/maps").json()
    shape = (maps["rows"], maps["columns"])
    height = array(proved, "maps/height", "<i2").reshape(shape)
    depth = maps["height"]["zero_mm"] + maps["height"]["step_mm"] * height.astype(float)
    assert depth.min() == pytest.approx(-1.0, abs=1e-3)  # the program cuts 1 mm deep
    assert depth.max() == pytest.approx(0.0, abs=1e-3)
    ticks = array(proved, "maps/time", "<u2").reshape(shape)
    cut = ticks != maps["time"]["never"]
    assert (cut == (depth < -0.5)).mean() > 0.97  # a sloped rim is one cell wide
    error = array(proved, "maps/error", "<i2").reshape(shape)
    assert ((error != maps["error"]["untouched"]) <= cut).all()
    path = array(proved, "path", "<f4").reshape(-1, 4)
    assert path[-1, :3].tolist() == [16.0, 11.0, 2.0]
    assert (np.diff(path[:, 3]) >= 0.0).all()
    assert path[-1, 3] == pytest.approx(verdict["total_s"], rel=0.2)


@pytest.mark.slow
def test_the_pointer_finds_line_and_moment(proved):
    here = proved.get("/api/jobs/slot/at?x=10&y=4").json()
    assert here["line"] == 6  # G1 X16 Y4
    assert here["words"][0] == "1.00 mm (0.039 in) deep"
    then = proved.get(f"/api/jobs/slot/at?time_s={here['time_s']}").json()
    assert then["line"] == 6
    # The front of a 6 mm cutter takes the wood: its middle is still a radius away.
    assert then["spot_mm"] == pytest.approx([7.0, 4.0, -1.0], abs=1.0)
    lines = proved.get(f"/api/jobs/slot/lines?at_s={here['time_s']}&count=9").json()
    assert lines["text"][6 - lines["first"]] == "G1 X16 Y4 F900"
    assert lines["time_s"][6 - lines["first"]] < here["time_s"]
    assert proved.get("/api/jobs/slot/at?x=1&y=14").json()["words"] == ["not touched"]
    assert proved.get("/api/jobs/slot/at?x=nan&y=1").status_code == 400
    assert proved.get("/api/jobs/slot/maps?made_at=earlier").status_code == 409
    assert proved.get("/api/jobs/slot/maps/height?keyframe=7").status_code == 404


@pytest.mark.slow
def test_the_example_is_proved_unasked_unless_its_proof_is_kept_or_the_person_changed_it(proved):
    again = Shop(proved.shop.workshop, demo=True, threads=1, example="slot")
    begun = []
    again.prove = begun.append
    client = client_of(again)
    kept = shown_folder(again.workshop, "slot") / VERDICT
    whole = kept.read_text()
    try:
        assert client.get("/api/state").json()["opens"] == "slot"
        again.prove_example()
        assert begun == []
        change = {"changes": [{"path": "limits.tolerance", "typed": "0.1 mm"}]}
        client.post("/api/jobs/slot/change", json=change)
        again.prove_example()
        assert begun == []
        client.post("/api/undo")
        other = json.loads(whole)
        other["inputs"]["code"] = "of an earlier version"
        kept.write_text(json.dumps(other))
        again.prove_example()
        assert begun == ["slot"]
        kept.unlink()
        again.prove_example()
        assert begun == ["slot", "slot"]
        again.example = "taken away by the person"
        again.prove_example()
        assert begun == ["slot", "slot"]
    finally:
        kept.write_text(whole)
        again.close()


@pytest.mark.slow
def test_a_proof_survives_a_new_start_and_is_stale_after_a_change(proved):
    again = Shop(proved.shop.workshop, demo=False, threads=1)
    client = client_of(again)
    try:
        assert line_of(client)["standing"] == "proved"
        change = {"changes": [{"path": "limits.tolerance", "typed": "0.1 mm"}]}
        ticket = client.post("/api/jobs/slot/change", json=change).json()
        assert (ticket["standing"], ticket["verdict"]["verdict"]) == ("stale", "clear")
        client.post("/api/undo")
        assert line_of(client)["standing"] == "proved"
    finally:
        again.close()


def test_stop_ends_a_proof_within_a_second(page, shop, monkeypatch):
    monkeypatch.setattr(shop_module, "run_show", wait_to_be_ended)
    page.post("/api/jobs/slot/prove")
    assert page.post("/api/jobs/slot/prove").status_code == 409
    wait_until(lambda: (errand := shop.errands.of("slot")) and errand.share > 0.0)
    line = line_of(page)
    assert (line["standing"], line["errand"]["what"]) == ("proving", "proving")
    began = time.monotonic()
    assert page.post("/api/jobs/slot/stop").status_code == 200
    wait_until(lambda: shop.errands.of("slot") is None)
    assert time.monotonic() - began < 1.5
    assert line_of(page)["standing"] == "not proved"
    assert page.post("/api/jobs/slot/stop").status_code == 409


@pytest.mark.skipif(os.name == "nt", reason="there are no signals")
def test_a_worker_that_dies_is_told_in_words(page, shop, monkeypatch):
    monkeypatch.setattr(shop_module, "run_show", die)
    page.post("/api/jobs/slot/prove")
    wait_until(lambda: line_of(page)["standing"] == "failed")
    assert "memory ran out" in line_of(page)["sentence"]
    page.post("/api/jobs/slot/change", json={"changes": [{"path": "note", "typed": "again"}]})
    assert line_of(page)["standing"] == "not proved"


def test_what_waits_is_stopped_at_once_and_closing_ends_all(shop, monkeypatch):
    monkeypatch.setattr(shop_module, "run_show", wait_to_be_ended)
    ended = []
    for job in ("one", "two"):
        shop.errands.add(
            Running(
                job=job,
                what="proving",
                work=wait_to_be_ended,
                args=(),
                done=ended.append,
                failed=lambda how, error, job=job: ended.append((job, how, type(error))),
            )
        )
    wait_until(lambda: shop.errands.of("one").share > 0.0)
    shop.errands.stop("two")
    assert ended == [("two", "stopped", Stopped)]
    began = time.monotonic()
    shop.close()
    assert time.monotonic() - began < 1.8
    assert ended[1:] == [("one", "stopped", Stopped)]


def test_two_pages_hear_the_same_and_both_streams_end(shop):
    async def listen():
        heard = []
        async for text in shop.stream.listen(shop.state()):
            heard.append(text)
            ready.release()
        return heard

    async def both():
        pages = [asyncio.create_task(listen()) for _ in range(2)]
        for _ in pages:
            await ready.acquire()
        await asyncio.to_thread(shop.changed)
        for _ in pages:
            await ready.acquire()
        shop.stream.close()
        return await asyncio.wait_for(asyncio.gather(*pages), 5.0)

    ready = asyncio.Semaphore(0)
    one, other = asyncio.run(both())
    assert one == other
    kinds = [text.splitlines()[0] for text in one]
    assert kinds == ["event: state", "event: state", "event: gone"]
    versions = [json.loads(text.splitlines()[1][6:])["version"] for text in one[:2]]
    assert versions == [0, 1]


def test_a_page_that_does_not_read_is_let_go():
    async def slow():
        stream = Stream()
        listening = stream.listen({})
        await anext(listening)
        for number in range(1000):
            stream.tell("errand", {"n": number})
        await asyncio.sleep(0.05)
        return [text async for text in listening]

    assert len(asyncio.run(slow())) <= 200


def test_an_unproved_job_has_no_maps(page):
    for tail in ("maps", "maps/height", "path", "series", "at?x=1&y=1"):
        assert page.get(f"/api/jobs/slot/{tail}").status_code == 409
    assert page.get("/api/jobs/slot/maps/path").status_code in (404, 409)
    assert page.get("/api/jobs/slot/lines").json()["total"] == 9
