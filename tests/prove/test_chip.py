"""A chip that is wrong on some lines is mended on these alone."""

from dataclasses import replace

import pytest

from .every_finding import OUT, SLOT

SLOW = (
    "G0 Z5\nG0 X20 Y15\nG1 Z-2 F300\nG1 X80 F1200\nG0 Z5\nG0 X20 Y25\nG1 Z-2 F300\n"
    "G1 X80 F{slow}\nG0 Z5\nG0 X20 Y45\nG1 Z-2 F300\nG1 X80 F1200" + OUT
)


def told(proof, code):
    return next((one for one in proof.verdict.findings if one.code == code), None)


def test_only_the_slow_line_gets_another_feed(proved):
    start = "G21 G90 G17\nT1 M6\nS10000 M3\n"
    proof = proved(SLOW.format(slow=200), start=start)
    found = told(proof, "chip too thin")
    assert proof.usual_chips[1].low_mm == pytest.approx(found.limit)
    (remedy,) = found.remedies
    # As fast as the job goes elsewhere, and never the spindle, which all lines share.
    (change,) = remedy.changes
    assert change.path == "feed on line 11"
    assert float(change.new.removeprefix("× ")) == pytest.approx(6.0, abs=0.02)
    assert "6.0 times as fast on line 11" in remedy.words
    again = proved(SLOW.format(slow=1200), start=start)
    assert told(again, "chip too thin") is None
    longer = again.verdict.totals.time_s - proof.verdict.totals.time_s
    assert remedy.more_s == pytest.approx(longer, abs=0.05)


def test_two_slow_lines_and_a_right_one_between(proved):
    body = SLOW.format(slow=1200).replace("F1200", "F200")
    body = body.replace("X20 Y25\nG1 Z-2 F300\nG1 X80 F200", "X20 Y25\nG1 Z-2 F300\nG1 X80 F1200")
    start = "G21 G90 G17\nT1 M6\nS10000 M3\n"
    (remedy,) = told(proved(body, start=start), "chip too thin").remedies
    assert {one.path for one in remedy.changes} == {"feed on line 7", "feed on line 15"}


def test_a_hand_router_gets_a_number_of_its_dial(proved, machine):
    dials = tuple(speed / 60.0 for speed in (10000, 12000, 16000, 20000, 24000))
    router = replace(
        machine.spindle, kind="hand router", dial_rev_per_s=dials,
        lowest_rev_per_s=dials[0], highest_rev_per_s=dials[-1],
    )  # fmt: skip
    on = replace(machine, spindle=router)
    found = told(proved(SLOT.replace("F1500", "F300"), on=on), "chip too thin")
    (remedy,) = found.remedies
    assert "Turn the spindle at dial 1, 10000 rev/min" in remedy.words
    # A program that asks for a speed beside the dial's.
    fast = told(proved(SLOT, on=on, start="G21 G90 G17\nT1 M6\nS30000 M3\n"), "spindle speed")
    assert "the router's dial goes at most 24000" in fast.words
    near = proved(SLOT, on=on, start="G21 G90 G17\nT1 M6\nS24000 M3\n")
    assert told(near, "spindle speed") is None
    assert told(near, "switch on by hand") is not None
