"""What really happened: into the log, learned from, used by the next proof, undone."""

import re

import pytest
from small_shop import wait_until

from kerfwright.commission.learned import read_learned
from kerfwright.workshop import history

#: A part of 24 x 14 mm, cut through around its outside with a 6 mm cutter.
PART = b"""G21 G90 G17
T1 M6
S16000 M3
G0 X5 Y5 Z2
G1 Z-6 F300
G1 X35 F60
G1 Y25
G1 X5
G1 Y5
G0 Z2
M2
"""


def entries(page):
    """The ticket."""
    return page.get("/api/jobs/slot").json()


def went(page, **said):
    """Say what happened."""
    whole = {"went": "well", "took": "", "sizes": [], "line": "", "notes": ""} | said
    return page.post("/api/jobs/slot/went", json=whole)


def span(ticket):
    """The spread of its time. [s]"""
    low, high = ticket["guess"]["time_spread_s"]
    return high - low


@pytest.fixture
def cut(page, shop):
    """The job with a part in it, proved."""
    job = shop.workshop.folder / "jobs" / "slot"
    machine = shop.workshop.machine_file
    open_ones = re.sub(
        r"(?m)^acceleration = .*$", 'acceleration = "don\'t know"', machine.read_text()
    )
    machine.write_text(open_ones)
    (job / "slot.nc").write_bytes(PART)
    text = (job / "job.toml").read_text(encoding="utf-8")
    (job / "job.toml").write_text(text.replace("20 x 15 x 6 mm", "40 x 30 x 6 mm"))
    return prove(page, shop)


def prove(page, shop):
    """Prove it and wait."""
    page.post("/api/jobs/slot/prove")
    wait_until(lambda: shop.errands.of("slot") is None)
    return entries(page)


@pytest.mark.slow
def test_minutes_and_sizes_narrow_what_the_next_proof_says(page, shop, cut):
    guess = cut["guess"]
    size = next(one for one in guess["sizes"] if one["name"] == "part 1, across X")
    assert size["programmed_mm"] == pytest.approx(24.0, abs=0.1)
    for wrong in (
        {"went": "so so"},
        {"took": "long"},
        {"took": "-3 min"},
        {"line": "x"},
        {"sizes": [{"name": "nose", "found": "24 mm"}]},
        {"sizes": [{"name": size["name"], "found": "24"}]},
    ):
        assert went(page, **wrong).status_code == 422, wrong
    # A stall is noted, and its time says nothing.
    answer = went(page, went="stalled", took="20 s", line="6", notes="it hummed")
    [stalled] = answer.json()["went"]
    assert stalled["words"] == "The machine stalled; took 20 s; on line 6; it hummed"
    assert stalled["shrunk"] == []
    assert shop.errands.of("slot") is None
    low, high = guess["time_spread_s"]
    took = low + 0.7 * (high - low)
    found = f"{size['high_mm'] - 0.1 * (size['high_mm'] - size['low_mm']):.3f} mm"
    answer = went(page, took=f"{took:.1f} ± 0.5 s", sizes=[{"name": size["name"], "found": found}])
    assert answer.status_code == 200, answer.json()
    wait_until(lambda: shop.errands.of("slot") is None)
    ticket = entries(page)
    noted = ticket["went"][0]
    assert noted["words"].startswith("Went well; took ")
    names = [one["name"] for one in noted["shrunk"]]
    assert names[:2] == ["time of this program", "part 1, across X"]
    assert [one for one in noted["shrunk"] if one["before"] == one["after"]] == []
    with shop.workshop.log() as log:
        [entry] = history(log, job="slot")
    assert entry.cuts[1].sizes[0].wanted_mm == pytest.approx(size["programmed_mm"])
    assert ticket["standing"] == "stale"
    after = prove(page, shop)
    assert span(after) < 0.7 * span(ticket)
    low, high = after["guess"]["time_spread_s"]
    assert low <= took <= high
    learned = read_learned(shop.workshop.folder / "learned.json")
    assert [run.file for run in learned.runs] == ["jobs/slot/slot.nc"]
    state = page.post("/api/undo").json()
    assert state["redo"] == "what was learned from slot"
    assert read_learned(shop.workshop.folder / "learned.json").runs == ()
    # What was cut stays in the log.
    assert len(entries(page)["went"]) == 2
