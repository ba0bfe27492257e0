"""Cutters that undercut, lifted out of the middle of what they cut."""

import re
from dataclasses import replace
from math import pi

import pytest

from kerfwright.kernels import cutting

from .every_finding import held, screws

DOVETAIL = "1: dovetail 14 deg 12 mm, 2 flutes, flute length 8 mm"
T_SLOT = "1: t-slot 16 mm, flute length 4 mm, neck 6 mm, 2 flutes"
IN = "G0 Z5\nG0 X-10 Y30\nG0 Z{z}\nG1 X50 F1500"  # lines 4 to 7
CODE, RAPID = "lift through wood", "rapid through wood"


def found(proof, code=CODE):
    return [finding for finding in proof.verdict.findings if finding.code == code]


def codes(proof):
    return [finding.code for finding in proof.verdict.findings if finding.severity == "stop"]


def only(proof, code=CODE):
    (finding,) = found(proof, code)
    return finding


def test_a_dovetail_lifted_out_of_its_slot(proved):
    told = only(proved(IN.format(z=-7) + "\nG1 Z5 F600", cutters=(DOVETAIL,), cell=0.25))
    assert (told.line, told.severity, told.unit, told.limit) == (8, "stop", "mm", 0.0)
    assert told.value.value == pytest.approx(7.0, abs=0.1)
    torn = re.match(
        r"Cutter 1 \(.*\) is wider below than above and is lifted through 7\.0 mm of wood: it tears"
        r" (\d+) mm³ out above its widest part, which spoils the cut and may break the cutter or"
        r" throw the piece$",
        told.words,
    )
    assert torn, told.words
    assert int(torn[1]) == pytest.approx(134, abs=3)
    assert told.spot.x_mm == pytest.approx(50.0)


def test_the_disc_of_a_t_slot_cutter_lifted_through_the_wood_above_it(proved):
    words = ("1: flat 6 mm, 2 flutes, flute length 20 mm", T_SLOT.replace("1:", "2:"))
    slot = "G0 Z5\nG0 X-12 Y30\nG1 Z-9 F600\nG1 X50 F1500"
    body = f"{slot}\nG0 Z5\nT2 M6\nS18000 M3\n{slot.replace('50', '45')}\nG1 Z5 F600"
    proof = proved(body, cutters=words, cell=0.25)
    told = only(proof)
    assert told.line == 15
    assert told.value.value == pytest.approx(5.0, abs=0.1)
    assert "flutes too short" not in codes(proof)
    assert not [one for one in proof.verdict.not_checked if "layers" in one]


@pytest.mark.parametrize("aside", [0.1, 2.0, 6.0])
def test_a_steep_way_up_is_a_lift_too(proved, aside):
    proof = proved(IN.format(z=-7) + f"\nG1 X{50 + aside} Z5 F600", cutters=(DOVETAIL,), cell=0.25)
    assert only(proof).value.value == pytest.approx(7.0, abs=0.7)
    assert "flutes too short" not in codes(proof)


def test_where_it_may_be_lifted(proved):
    ways = {
        "out at the other end": "\nG1 X115\nG1 Z5 F600",
        "back the way it came": "\nG1 X-10\nG1 Z5 F600",
        "over a slope that mills": "\nG1 X90 Z-2\nG1 X115\nG1 Z5",
    }
    for name, body in ways.items():
        assert not found(proved(IN.format(z=-7) + body, cutters=(DOVETAIL,))), name
    # Where it came down through wood its hole is as wide as it is.
    down = "G0 Z5\nG0 X30 Y30\nG1 Z-7 F300\nG1 X60 F900\nG1 X30\nG1 Z5"
    assert not found(proved(down, cutters=(DOVETAIL,)))
    # Other cutters take nothing on the way up.
    assert not found(proved(IN.format(z=-7) + "\nG1 Z5 F600"))


def test_a_sliver_within_the_tolerance_is_no_lift(proved):
    # Beside the hole that it came down in.
    wide = "G0 Z5\nG0 X50 Y30\nG1 Z-7 F300\nG1 Y30.{off}\nG1 Z5 F600"
    assert not found(proved(wide.format(off="1"), cutters=(T_SLOT,), cell=0.1))
    assert found(proved(wide.format(off="6"), cutters=(T_SLOT,), cell=0.1))

    def strict(setup):
        return replace(setup, tolerance_mm=0.05)

    assert found(proved(wide.format(off="1"), cutters=(T_SLOT,), cell=0.05, change=strict))


@pytest.mark.parametrize("word", ["G1", "G0"])
def test_back_the_way_it_came_it_tears_nothing(proved, word):
    code = CODE if word == "G1" else RAPID
    told = only(proved(IN.format(z=-7) + f"\n{word} Z5 F600", cutters=(DOVETAIL,)), code)
    back, out = told.remedies
    assert back.words == (
        "Go back the way it came, to X-10 Y30 where it came down, and lift it there"
    )
    assert back.not_tried.startswith("the cutter swept all of that way before")
    assert back.more_s > 0.0
    assert out.not_tried
    place = re.search(r"to (X\S+ Y\S+)", back.words)[1]
    again = proved(IN.format(z=-7) + f"\nG1 {place}\nG0 Z5", cutters=(DOVETAIL,))
    assert not found(again)
    assert not found(again, RAPID)


def test_more_lifts_are_counted(proved):
    body = "\n".join(IN.format(z=-7).replace("30", str(y)) + "\nG1 Z5 F600" for y in (15, 30, 45))
    told = only(proved(body, cutters=(DOVETAIL,)))
    assert told.line == 8
    assert told.words.endswith("; and so on 2 more lines")


def test_a_rapid_lift_is_told_by_the_wood_that_it_goes_through(proved):
    told = only(proved(IN.format(z=-7) + "\nG0 Z5", cutters=(DOVETAIL,)), RAPID)
    assert told.value.value == pytest.approx(7.0, abs=0.1)
    assert told.words.startswith("A rapid move lifts cutter 1 (dovetail 14 deg 12 mm) through 7.0")
    said = " ".join(remedy.words for remedy in told.remedies)
    assert "Lift Z above the board" not in said
    assert "G1" not in said


def test_a_rapid_of_such_a_cutter_through_wood_is_not_lifted_out_of_it(proved):
    told = only(proved(IN.format(z=-7) + "\nG0 X60\nG1 X115\nG0 Z5", cutters=(DOVETAIL,)), RAPID)
    (at_feed,) = told.remedies
    assert at_feed.words == "Make this move at feed (G1), if it is meant to cut"
    body = "G0 Z5\nG0 X50 Y30\nG0 Z-6\nG1 X115 F900\nG0 Z5"
    down = only(proved(body, cutters=(DOVETAIL,)), RAPID)
    assert [remedy.words for remedy in down.remedies] == [
        "Come down beside the wood, and go in from the side at feed (G1)"
    ]


def test_a_board_that_is_lifted_with_it(proved):
    # The upper face of a disc presses up on the wood, and one screw of 5 N holds it.
    body = IN.format(z=-9) + "\nG1 Z5 F600"
    loose = held(screws((50.0, 5.0), holds=5.0))
    told = only(proved(body, cutters=(T_SLOT,), cell=0.25, change=loose), "board may lift")
    assert told.line == 8
    assert told.words.startswith("The cutter, pulled up through wood, lifts the board with ")


def test_a_lift_pulls_at_the_board(swept):
    *_, cut = swept(IN.format(z=-7) + "\nG1 Z5 F600", cutters=(DOVETAIL,))
    up = cut.motion_mm[:, 2] > 0.0
    torn = up & (cut.column[:, cutting.TAKEN] > 1.0)
    assert (cut.column[torn, cutting.FORCE_Z] < 0.0).all()
    # Half a turn and more of flank rubs.
    assert cut.column[torn, cutting.COVERED].max() > 0.95 * pi
    assert cut.column[torn, cutting.POWER].max() > 100.0


def test_no_remedy_lifts_it_or_cuts_its_slot_by_passes(proved, machine):
    # A weak spindle, a slender shank, a wait in the slot, and a hold that is not enough.
    weak = replace(machine, spindle=replace(machine.spindle, shaft_power_w=120.0))
    slender = (DOVETAIL + ", shank 2 mm, stick-out 40 mm",)
    across = IN.format(z=-7) + "\nG4 P2\nG1 X115\nG0 Z5"

    loose = held(screws((30.0, 5.0), (70.0, 55.0), holds=15.0))
    told = proved(across, cutters=slender, on=weak, change=loose).verdict.findings
    kinds = {finding.code for finding in told}
    assert {"power", "cutter may break", "stands in the wood", "board may slide"} <= kinds
    said = [remedy.words for finding in told for remedy in finding.remedies]
    assert [words for words in said if re.search("depth in one pass|^Lift Z", words)] == []
    assert any(words.endswith("with a flat cutter of 8.0 mm or less") for words in said)
