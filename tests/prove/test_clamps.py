"""Clamps in the way, proved from the text of programs."""

from dataclasses import replace
from types import MappingProxyType

import pytest

from kerfwright.basics import Known
from kerfwright.fixture import Clamp

FLAT = "1: flat 6 mm, 2 flutes, flute length 20 mm, shank 6 mm, stick-out 30 mm"
#: A slot along X at Y 30, from X 20 to 80; everything else is 5 mm above the board.
SLOT = "G0 Z{lift}\nG0 X20 Y30\nG1 Z-2 F300\nG1 X80 F1000\nG0 Z{lift}\nG0 X20 Y{back}"


def clamp(x, y, along=20.0, across=20.0, height=12.0, kind="measured", name="left", **spread):
    known = Known(value=height, kind=kind, ref="rule", **spread)
    return Clamp(
        name=name, at_mm=(x, y), size_mm=(along, across), height_mm=known, place="clamps.1.at"
    )


@pytest.fixture
def told(proved):
    def run(*clamps, lift=40, back=30, cutter=FLAT, **more):
        def change(setup):
            return replace(setup, clamps=clamps, zero_u_mm=(0.0, 0.0, 0.0))

        body = SLOT.format(lift=lift, back=back)
        proof = proved(body, cutters=(cutter,), change=change, **more)
        return [f for f in proof.verdict.findings if f.code == "clamp in the way"]

    return run


def test_the_cutter_cuts_into_a_clamp(told):
    (found,) = told(clamp(83.1 - 0.2, 20.0, height=3.0))
    assert (found.severity, found.line) == ("stop", 7)
    assert found.words == (
        'The cutter runs into the clamp "left", 5.0 mm lower than its top; first here, and on 1'
        " more line"
    )
    assert found.value.value == pytest.approx(5.0)
    assert found.likelihood is None
    assert found.spot.x_mm == pytest.approx(79.9, abs=1e-4)
    move = found.remedies[0]
    assert move.words == 'Move the clamp "left" 1 mm to the right'
    assert move.changes[0].path == "clamps.1.at"
    assert move.tried.severity == "note"


@pytest.mark.parametrize("gap", [0.1, 0.001])
def test_a_clamp_that_just_clears_is_not_told(told, gap):
    assert told(clamp(83.0 + gap, 20.0, height=3.0)) == []
    assert told(clamp(40.0, 33.0 + gap, height=3.0)) == []
    assert told(clamp(40.0, 27.0 - gap - 20.0, height=3.0)) == []


def test_moving_it_as_advised_removes_the_finding(told):
    (found,) = told(clamp(60.0, 31.0, height=3.0))
    assert found.remedies[0].words == 'Move the clamp "left" 2 mm to the back'
    assert told(clamp(60.0, 33.0, height=3.0)) == []
    assert len(told(clamp(60.0, 32.9, height=3.0))) == 1


def test_a_rapid_over_a_clamp(told):
    over = clamp(30.0, 45.0)
    assert told(over, back=55) == []
    # The way back goes from (80, 30) to (20, 55), 10 mm above a clamp of 12 mm.
    found = told(over, lift=10, back=55)
    assert [f.line for f in found] == [9]
    assert found[0].severity == "stop"
    assert found[0].words.endswith("2.0 mm lower than its top, on a rapid move")
    assert found[0].remedies[1].words == "Lift to Z13 or more before line 9"
    assert told(over, lift=13, back=55) == []


def test_nut_and_nose_reach_further_than_the_cutter(told):
    # Tip 2 mm deep: the nut begins at 28 mm, 9.5 mm wide; the nose at 41 to 43, 32.5 mm wide.
    found = told(clamp(40.0, 39.4, height=30.0))
    assert [f.words for f in found] == [
        'The collet nut runs into the clamp "left", 2.0 mm lower than its top'
    ]
    assert found[0].remedies[0].words == 'Move the clamp "left" 1 mm to the back'
    out = found[0].remedies[1]
    assert out.words == "Let cutter 1 stick out 3 mm more, if its shank is long enough"
    assert (out.changes[0].path, out.changes[0].new) == ("slots.1.stick_out", "33 mm")
    assert told(clamp(40.0, 39.6, height=30.0)) == []
    assert told(clamp(40.0, 39.4, height=27.9)) == []
    longer = FLAT.replace("stick-out 30", "stick-out 33")
    assert told(clamp(40.0, 39.4, height=30.0), cutter=longer) == []


def test_within_the_spread_it_is_a_caution(told):
    # The nut is 14 ± 1 mm high, so the nose begins between 41 and 43 mm above the board.
    (found,) = told(clamp(40.0, 60.0, height=42.0))
    assert (found.severity, found.code) == ("caution", "clamp in the way")
    assert "The spindle nose may run into" in found.words
    assert 0.05 <= found.likelihood <= 0.95
    (found,) = told(clamp(40.0, 60.0, height=44.0))
    assert found.severity == "stop"


def test_what_is_not_measured_only_asks_for_care(told, machine):
    (found,) = told(clamp(60.0, 31.0, height=35.0, kind="default", low=10.0, high=60.0))[:1]
    assert found.severity == "caution"
    assert "height of the clamp" in found.words
    known = dict(machine.known)
    known["spindle.nut_diameter"] = Known(value=26.0, kind="default", ref="", low=18.0, high=35.0)
    unknown = replace(machine, known=MappingProxyType(known))
    # 12 mm beside the path: a nut of 35 mm would touch, one of 18 mm would not.
    found = told(clamp(40.0, 42.0, height=30.0), on=unknown)
    assert [(f.severity, f.likelihood) for f in found] == [("caution", 0.75)]
    assert "not measured, so taken as wide and low as is usual: nut" in found[0].words
    assert told(clamp(40.0, 48.0, height=30.0), on=unknown) == []


def test_a_dust_boot(told, machine):
    spindle = replace(machine.spindle, boot_diameter_mm=80.0, boot_below_nut_mm=10.0)
    booted = replace(machine, spindle=spindle)
    # Its lower side is 18 mm above the board while the slot is cut.
    (found,) = told(clamp(40.0, 65.0, height=20.0), on=booted)
    assert "The dust boot runs into" in found.words
    assert found.remedies[1].words == "Set the dust boot 3 mm higher"
    assert found.remedies[1].changes[0].path == "spindle.boot_below_nut"
    assert told(clamp(40.0, 70.1, height=20.0), on=booted) == []
    assert told(clamp(40.0, 65.0, height=17.9), on=booted) == []


def test_where_the_program_begins_is_only_assumed(told):
    # From zero to (20, 30) it would pass over (10, 15); nobody says that it stands at zero.
    (found,) = told(clamp(8.0, 13.0, along=4.0, across=4.0), lift=5)
    assert (found.severity, found.line) == ("caution", 5)
    assert found.words.endswith("(if it starts from zero, as is assumed)")
    # Where that move ends it is in any case.
    found = told(clamp(15.0, 28.0, along=4.0, across=4.0), lift=5)
    assert found[0].severity == "stop"


def test_each_clamp_and_body_is_told_once(told):
    many = [clamp(40.0, 20.0, height=3.0, name="a"), clamp(60.0, 20.0, height=45.0, name="b")]
    found = told(*many, lift=1)
    bodies = [(f.id.split("-")[-1], f.id.split("-")[-2]) for f in found]
    assert sorted(bodies) == [("a", "cutter"), ("b", "cutter"), ("b", "nose"), ("b", "nut")]
    assert len({f.id for f in found}) == 4
    assert "first here, and on" in next(f.words for f in found if f.id.endswith("cutter-b"))


def test_zero_that_is_not_certain_makes_a_touch_a_caution(proved):
    def change(setup):
        near = clamp(40.0, 33.0 - 0.05, height=3.0)
        return replace(setup, clamps=(near,), zero_u_mm=(0.1, 0.1, 0.05))

    proof = proved(SLOT.format(lift=40, back=30), cutters=(FLAT,), change=change)
    (found,) = [f for f in proof.verdict.findings if f.code == "clamp in the way"]
    assert found.severity == "caution"
    assert "within the spread of what was measured" in found.words
    assert ", up to " in found.words
