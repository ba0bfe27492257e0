"""What a remedy promises comes true: it is written into the program, and proved again."""

import re
from dataclasses import replace

import numpy as np
import pytest

from .every_finding import ALLOWED, DEEP, OUT, SLOT, cutter_of, free_square, spindle

THIN_CUTTER = "1: flat 3 mm, 2 flutes, flute length 14 mm, stick-out {}, shank 3 mm"


def told(verdict, code):
    return next((finding for finding in verdict.findings if finding.code == code), None)


def share_in(remedy):
    return float(remedy.changes[0].new.removeprefix("× "))


def with_feed(body, lines, share):
    """The feed words of some lines, and of the line after them, turned to a share and back."""
    out = []
    for number, text in enumerate(("\n\n\n" + body).split("\n"), start=1):
        if number in lines:
            text = re.sub(r"F(\d+)", lambda word: f"F{float(word[1]) * share:.1f}", text)
        out.append(text)
    return "\n".join(out[3:])


def at_most(body, remedy):
    """The feed word of line 7 as the remedy has it."""
    feed = re.search(r"Feed at (\d+) mm/min", remedy.words)[1]
    assert float(feed) == pytest.approx(
        share_in(remedy) * float(re.search(r"X80 F(\d+)", body)[1]), abs=0.5
    )
    return re.sub(r"(X80 )F\d+", rf"\1F{feed}", body)


def test_a_thinner_chip(proved):
    body, start = SLOT.replace("F1500", "F3900"), "G21 G90 G17\nT1 M6\nS6000 M3\n"
    verdict = proved(body, start=start).verdict
    remedy = told(verdict, "chip too thick").remedies[0]
    again = proved(with_feed(body, {7}, share_in(remedy)), start=start).verdict
    assert told(again, "chip too thick") is None
    # The time is planned with its starts and stops.
    longer = again.totals.time_s - verdict.totals.time_s
    assert remedy.more_s == pytest.approx(longer, rel=0.02)


def test_a_speed_that_the_spindle_has(proved):
    fast, slow = (f"G21 G90 G17\nT1 M6\nS{speed} M3\n" for speed in (30000, 24000))
    verdict = proved(SLOT, start=fast).verdict
    remedy = told(verdict, "spindle speed").remedies[0]
    assert [change.new for change in remedy.changes] == ["24000", "× 0.80"]
    again = proved(with_feed(SLOT, {6, 7}, 0.8), start=slow).verdict
    assert told(again, "spindle speed") is None
    # As meant: 1500 mm/min and two flutes at 30000 rev/min, 0.025 mm.
    assert "0.025 mm a tooth" in remedy.words
    assert again.totals.time_s > verdict.totals.time_s


@pytest.mark.slow
@pytest.mark.parametrize("stick_out", ["40 mm", "25 mm"])
def test_less_depth_or_a_cutter_held_shorter(proved, stick_out):
    body = DEEP.format(z=12, f=1500)
    cutter = (THIN_CUTTER.format(stick_out),)
    verdict = proved(body, cutters=cutter).verdict
    found = told(verdict, "cutter pushed aside")
    remedies = [remedy for remedy in found.remedies if remedy.changes]
    assert remedies
    for remedy in remedies:
        assert remedy.tried.likelihood < 0.2 <= found.likelihood
        path = remedy.changes[0].path
        if path.endswith("stick_out"):
            assert remedy.more_s == 0.0
            again = proved(body, cutters=(THIN_CUTTER.format(remedy.changes[0].new),)).verdict
        elif path.startswith("feed"):
            again = proved(at_most(body, remedy), cutters=cutter).verdict
        else:
            parts = round(1.0 / share_in(remedy))
            again = proved(in_passes(12.0, parts, 1500), cutters=cutter).verdict
            longer = again.totals.time_s - verdict.totals.time_s
            assert remedy.more_s == pytest.approx(longer, rel=0.05)
        margin = next(one for one in again.margins if one.name == "deflection")
        assert margin.value.value == pytest.approx(remedy.tried.value.value, rel=0.15)
        assert told(again, "cutter pushed aside") is None


def in_passes(deep_mm, parts, feed):
    """Each pass from the same end, through the air between them."""
    out = ""
    for number in range(1, parts + 1):
        out += f"G0 Z5\nG0 X20 Y30\nG1 Z{-deep_mm * number / parts:.3f} F300\nG1 X80 F{feed}\n"
    return out.rstrip() + OUT


@pytest.mark.slow
def test_a_spindle_that_is_asked_for_less(proved, machine):
    on = spindle(shaft_power_w=300.0)(machine)
    body = DEEP.format(z=12, f=2400)
    found = told(proved(body, on=on).verdict, "power")
    remedies = [remedy for remedy in found.remedies if remedy.changes]
    assert remedies
    for remedy in remedies:
        if remedy.changes[0].path.startswith("feed"):
            changed = at_most(body, remedy)
        else:
            changed = in_passes(12.0, round(1.0 / share_in(remedy)), 2400)
        again = proved(changed, on=on).verdict
        assert told(again, "power") is None, remedy.words


@pytest.mark.slow
def test_a_motor_that_is_asked_for_less(proved, machine):
    def left(body, faster, falls_rev_per_s, share):
        curve = machine.x.curve_torque_nmm * share
        curve = curve * np.exp(-machine.x.curve_rev_per_s / falls_rev_per_s)
        acceleration = machine.x.acceleration_mm_per_s2 * faster
        x = replace(machine.x, curve_torque_nmm=curve, acceleration_mm_per_s2=acceleration)
        on = replace(machine, x=x)
        on = replace(on, drawn=lambda rng, many: (on,) * many)
        verdict = proved(body, on=on).verdict
        margin = next(one for one in verdict.margins if one.name == "pull left x")
        return told(verdict, "pull left"), margin.value.value

    body = DEEP.format(z=6, f=4500)
    # A motor that falls off early, and one that is asked to start too fast.
    for faster, falls, share in ((1.0, 5.0, 0.8), (6.0, np.inf, 0.35)):
        found, before = left(body, faster, falls, share)
        tried = [remedy for remedy in found.remedies if remedy.tried]
        assert tried
        for remedy in tried:
            changed, gentle = body, 1.0
            if remedy.changes[0].path.startswith("feed"):
                changed = at_most(body, remedy)
            elif remedy.changes[0].path.startswith("depth"):
                changed = in_passes(6.0, round(1.0 / share_in(remedy) + 0.4), 4500)
            else:
                old, new = (getattr(remedy.changes[0], k).split()[0] for k in ("old", "new"))
                gentle = float(new) / float(old)
            _, after = left(changed, faster * gentle, falls, share)
            assert before + 0.01 < after, remedy.words
            assert after == pytest.approx(remedy.tried.value.value, abs=0.1), remedy.words


def test_down_on_a_slope(proved):
    blunt = cutter_of(centre_cutting=False)
    verdict = proved(DEEP.format(z=3, f=1500), change=blunt).verdict
    remedy = told(verdict, "plunge").remedies[0]
    over = float(re.search(r"over (\d+) mm", remedy.changes[0].new)[1])
    slope = f"G0 Z5\nG0 X20 Y30\nG1 Z0 F300\nG1 X{20 + over} Z-3 F1500\nG1 X20\nG1 X80" + OUT
    again = proved(slope, change=blunt).verdict
    assert told(again, "plunge") is None
    assert remedy.tried.value.value == 0.0


def test_lifted_it_leaves_no_mark(proved):
    body = SLOT.replace("G1 X80", "G4 P2\nG1 X80")
    lift, without = told(proved(body).verdict, "stands in the wood").remedies
    up = float(re.search(r"Lift Z ([\d.]+) mm", lift.words)[1])
    lifted = body.replace("G4", f"G0 Z{up - 2:g}\nG4")
    for mended in (lifted, SLOT):
        assert told(proved(mended).verdict, "stands in the wood") is None
    assert without.more_s == -2.0


@pytest.mark.slow
def test_a_last_light_pass(proved):
    body, cutter = DEEP.format(z=12, f=1500), (THIN_CUTTER.format("40 mm"),)
    found = told(proved(body, cutters=cutter, cell=0.25).verdict, "wall off size")
    remedy = found.remedies[0]
    left = float(re.search(r"Leave ([\d.]+) mm", remedy.words)[1])
    # A slot wider by it on the wall's side, after the first; the wall left of the travel.
    twice = body.removesuffix(OUT) + f"\nG0 Z5\nG0 X20 Y{30 + left}\nG1 Z-12 F300\nG1 X80 F1500"
    walls = proved(twice + OUT, cutters=cutter, cell=0.25).verdict.ascut.walls
    wall = min((w for w in walls if w.side == "left"), key=lambda w: -w.first_line)
    assert wall.first_line > 8
    assert abs(wall.offset.value) < 0.6 * abs(found.value.value)
    assert wall.offset.value == pytest.approx(remedy.tried.value.value, abs=0.08)


@pytest.mark.slow
def test_three_bridges_hold_the_piece(proved):
    found = told(proved(free_square(0.0), **ALLOWED).verdict, "loose piece")
    remedy = found.remedies[0]
    assert len(remedy.changes) == 3
    assert remedy.tried.value.value == 0.0
    # Around the square from X20 Y10 to X60 Y40, each on the line that cuts there.
    body = free_square(0.0).split("\n")
    for change in remedy.changes:
        line = int(change.path.removeprefix("line "))
        high, over, x, y = map(float, re.findall(r"[\d.]+", change.new))
        assert (high, over) == (2.0, 12.0)
        assert min(abs(x - 20), abs(x - 60), abs(y - 10), abs(y - 40)) < 1.0
        after = body[line - 4]
        along = "X" if abs(y - 10) < 1.0 or abs(y - 40) < 1.0 else "Y"
        at = x if along == "X" else y
        toward = 1.0 if (along, line) in (("X", 32), ("Y", 33)) else -1.0
        begin, end = at - toward * over / 2, at + toward * over / 2
        body[line - 4] = "\n".join(
            [f"G1 {along}{begin:g}", "Z-16.2", f"{along}{end:g}", "Z-18.2", after]
        )
    assert told(proved("\n".join(body), **ALLOWED).verdict, "loose piece") is None
