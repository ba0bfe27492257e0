"""The machine's card for the page: what is in it, what a try changes, what the pointer says."""

import json
import re

import numpy as np
import pytest

from kerfwright.formats.toml_file import parse_toml
from kerfwright.jobs.pinned_card import pin_card
from kerfwright.machine import AnswerError, Change, answered, frame_modes
from kerfwright.machine.build import parse
from kerfwright.report.engineers_terms import _TERMS
from kerfwright.workshop import demo_folder


@pytest.fixture(scope="module")
def card():
    return pin_card(demo_folder() / "machine.toml")


@pytest.fixture(scope="module")
def plain(card):
    return card.as_plain()


def change(path, typed):
    return [Change(path=path, typed=typed)]


def test_it_is_plain_json_in_the_shop_s_words(plain):
    text = json.dumps(plain, allow_nan=False)
    assert plain["sentence"].startswith("Pushed with 45 N along X")
    assert not re.search(r"\bsafe|\bNone\b|\bnan\b", text)
    blanks = [b for q in plain["questions"] for b in q["blanks"]]
    assert plain["known"] == sum(b["known"] for b in blanks if b["asked"])
    lead = next(b for b in blanks if b["path"] == "axes.x.screw.lead")
    assert lead["words"] == "12.7 mm (0.5 in)"
    assert lead["source"] == "measured: one turn of the screw, caliper"
    assert all(one["words"] and one["buys"] for one in plain["narrows_most"])


def test_the_engineer_s_terms_are_of_figures_that_there_are(plain):
    labels = {fact["label"] for fact in plain["facts"]}
    # "moves at all" is told only of an axis that may not move.
    assert set(_TERMS) - labels == {"moves at all"}
    backlash = next(f for f in plain["facts"] if f["label"] == "play at reversal")
    assert backlash["engineer"] == "backlash (docs/models/drive.md)"


def test_the_drawing_s_spindle_reaches_the_ends_of_its_travel(plain):
    drawing = plain["drawing"]
    collet = next(p for p in drawing["parts"] if p["name"] == "collet")
    reach = next(p for p in drawing["parts"] if p["kind"] == "travel")
    assert np.allclose(np.mean(collet["plan_mm"], axis=0), 0.0, atol=0.01)
    assert collet["shift"] == [1, 1, 1]
    assert np.max(reach["plan_mm"], axis=0).tolist() == drawing["travel_mm"][:2]
    assert min(z for _, z in collet["front_mm"]) == drawing["nose_height_mm"]


def test_a_try_keeps_nothing_and_says_what_it_would_change(card):
    tried = card.tried(change("frame.beam.depth", "120 mm"))
    verdicts = {one["label"]: one["verdict"] for one in tried["against"]}
    assert verdicts["give along X"] == "better"
    assert verdicts["X, top speed"] == "same"
    by = {one["label"]: one["by"] for one in tried["against"]}
    assert re.fullmatch(r"\d+ % less", by["give along X"])
    assert by["X, top speed"] == ""
    assert tried["drawing"] != card.as_plain()["drawing"]
    worse = card.tried(change("axes.*.driver.current", "1 A peak"))["against"]
    assert {o["label"]: o["verdict"] for o in worse}["X pushes, at a crawl"] == "worse"
    with pytest.raises(AnswerError, match="no unit"):
        card.tried(change("frame.beam.depth", "120"))


def test_every_stop_of_every_lever_can_be_tried(card, plain):
    for lever in plain["levers"]:
        assert lever["stops"][lever["now"]]["changes"] == []
        for stop in (lever["stops"][0], lever["stops"][-1]):
            changes = [Change(**one) for one in stop["changes"]]
            if changes:
                answered(card.toml.text, changes, "machine.toml")


def test_a_band_that_was_tried_is_told_and_bends_the_curve(card, plain):
    assert plain["swings_words"].startswith("Nobody tried yet at which speeds X, Y, Z swing")
    typed = {"from": "4 rev/s", "to": "6 rev/s", "lose": "50 %"}
    tried = card.tried([
        Change(path=f"axes.x.motor.swings_{key}", typed=words) for key, words in typed.items()
    ])  # fmt: skip
    assert tried["swings_words"].startswith("Nobody tried yet at which speeds Y, Z swing")
    x = tried["axes"][0]
    at = int(np.argmin(np.abs(np.array(x["speed"]) - 5.0 * 12.7 * 60.0)))
    before = plain["axes"][0]["torque"]["value"]
    assert x["torque"]["value"][at] == pytest.approx(0.5 * before[at], rel=0.05)
    assert x["torque"]["value"][-1] == pytest.approx(before[-1], rel=1e-3)
    assert any("Swings at middle speeds, as tried: loses 50 %" in words for words in x["limits"])


def test_what_lets_go_stands_on_one_scale(card, plain):
    opens, results = plain["opens"], card.pinned.results
    rows = {row["label"]: row for row in opens["rows"]}
    assert [row["value"] for row in opens["rows"]] == sorted(r["value"] for r in opens["rows"])
    assert all(row["low"] <= row["value"] <= row["high"] for row in opens["rows"])
    assert rows["wheels, the nose pushed along X"]["value"] == results.nose[0].pressed.value
    assert rows["nut of Y, thrust along Y"]["value"] == results.axes[1].nut_opens.value
    assert opens["most"] == max(row["high"] for row in opens["rows"])
    # Plywood uprights 3 % damper: as far apart as the card says, against what the preload follows.
    keeps = 1.0 - results.damp_grows.value / results.damp_follows.value
    assert results.damp_keeps.value == pytest.approx(max(keeps, 0.0))
    assert "of their preload" in opens["damp"]
    bare = change("rails.wheel", "ball carriage")
    other = card.tried(bare)["opens"]
    assert not any(row["label"].startswith("wheels") for row in other["rows"])
    assert other["damp"] == ""


def test_the_second_scale_is_the_push_that_a_torque_gives(card, plain):
    for axis, model in zip(plain["axes"], card.pinned.machine.axes, strict=True):
        ticks = axis["thrust_ticks"]
        assert len(ticks) >= 3
        for tick in ticks:
            pushes = 1e3 * tick["torque"] * model.motors - model.drag_torque_nmm
            pushes = pushes / model.raising_mm - model.friction_n - model.weight_n
            assert pushes == pytest.approx(tick["thrust"], abs=1e-6)


def test_the_pointer_reads_what_the_map_holds(card, plain):
    give = plain["give"]
    here = card.at(610.0, 410.0, 0, 1)
    words = here["words"]
    assert 0.8 < sum(part["share"] for part in here["parts"]) <= 1.0
    told = float(re.search(r"it gives ([\d.]+) mm", words[1])[1])
    assert told == pytest.approx(give["give_mm"][0][1][-1][-1], abs=0.005)
    assert "Z down" in words[0]
    assert "hangs" in words[3]


def test_a_single_soft_drive_swings_as_mass_on_spring():
    """f = sqrt(k / m) / 2 pi (any textbook): all else is made far stiffer than the X drive."""
    stiff = (
        '[frame]\nmoves_along = "x"\njoint_stiffness = "1e7 N/mm"\nmount_stiffness = "1e7 N/mm"\n'
        '[frame.beam]\nmaterial = "carbon steel"\nwidth = "300 mm"\n'
        'depth = "300 mm"\nwall = "150 mm"\n'
        '[frame.upright]\nmaterial = "carbon steel"\nthickness = "200 mm"\n'
        'width = "400 mm"\nheight = "120 mm"\n'
        '[frame.z_plate]\nmaterial = "carbon steel"\nthickness = "100 mm"\nwidth = "300 mm"\n'
        '[rails]\nwheel = "ball carriage"\nstud_stiffness = "9e7 N/mm"\n'
        '[axes.x]\nmotors = 2\nmoving_mass = "20 kg"\nbearing_stiffness = "200 N/mm"\n'
        '[axes.y]\nmoving_mass = "8 kg"\n[axes.z]\nmoving_mass = "4 kg"\n'
    )  # fmt: skip
    machine = parse(parse_toml('kerfwright = "machine 1"\n' + stiff, "m.toml"))
    first = frame_modes(machine)[0]
    k = machine.x.stiffness_n_per_mm * 1000.0
    assert first.hertz == pytest.approx((k / 20.0) ** 0.5 / (2 * np.pi), rel=0.03)
    assert first.along == 0
    assert next(iter(first.shares)) == "X drive"
