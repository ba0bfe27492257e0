"""Nut, nose, boot and shank against wood that stands at that moment."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.basics import Known
from kerfwright.kernels.profile import FLAT, form_of
from kerfwright.kernels.removal import cut_reference
from kerfwright.prove import standing as standing_module
from kerfwright.prove.bodies import Body
from kerfwright.prove.facts import Facts
from kerfwright.prove.standing import GRAZE_MM, standing

from .every_finding import NARROW, RIM, pocket

STOCK = "100 x 60 x 40 mm hard maple"
SHORT = "1: flat 6 mm, 2 flutes, flute length 20 mm, shank 6 mm, stick-out 22 mm"


@pytest.fixture
def told(proved):
    def run(body, cutter=SHORT, stock=STOCK, more_cutters=(), **more):
        def change(setup):
            return replace(setup, zero_u_mm=(0.0, 0.0, 0.0))

        proof = proved(body, stock=stock, cutters=(cutter, *more_cutters), change=change, **more)
        return [f for f in proof.verdict.findings if f.code == "wood in the way"]

    return run


def test_the_nut_touches_the_rim_of_a_deep_pocket(told):
    (found,) = told(NARROW)
    lines = ("G21 G90 G17\nT1 M6\nS18000 M3\n" + NARROW).splitlines()
    # 22 mm out: the nut is below the board's top from Z-22 on, first at Z-24.
    assert (found.severity, found.line) == ("stop", lines.index("G1 Z-24 F300") + 1)
    assert found.value.value == pytest.approx(6.0, abs=1e-3)
    assert "The collet nut above cutter 1 (flat 6 mm) goes 6.0 mm into wood" in found.words
    out = found.remedies[0]
    assert out.words == "Let cutter 1 stick out 7 mm more, if its shank is long enough"
    assert out.changes[0].new == "29 mm"
    assert out.tried.severity == "note"


def test_once_the_rim_is_cleared_it_has_room(told):
    assert told(RIM + "\n" + NARROW) == []


def test_clearing_the_rim_afterwards_is_too_late(told):
    (found,) = told(NARROW + "\n" + RIM)
    assert found.severity == "stop"
    assert found.value.value == pytest.approx(6.0, abs=1e-3)


def test_a_rim_that_is_cleared_a_tenth_too_little(told):
    # The nut is 19 mm wide and the cutter 6: it reaches 6.5 mm further. RIM leaves it 0.5 mm.
    deep = "\nG0 X40 Y25\nG1 Z-28 F300\nG1 X60 F1500\nG0 Z5"
    rim = "G0 Z5\nG0 X{x} Y18\nG1 Z-8 F300\nG1 X67 F1500\nG1 Y42\nG1 X{x}\nG1 Y18\nG0 Z5"
    start = pocket((8,), 33.0, 67.0, 18.0, 42.0) + "\n" + rim
    assert told(start.format(x="33.4") + deep, cell=0.1, stock="100 x 60 x 40 mm hard maple") == []
    sides = pocket((8,), 33.7, 67.0, 18.0, 42.0)
    (found,) = told(sides + deep, cell=0.1)
    assert found.severity == "stop"


def test_long_enough_is_not_told(told):
    assert told(NARROW, cutter=SHORT.replace("stick-out 22", "stick-out 28.1")) == []
    assert len(told(NARROW, cutter=SHORT.replace("stick-out 22", "stick-out 27.9"))) == 1


def test_beside_the_board_the_nose_meets_its_edge(told):
    # 8 mm beside the left edge, 38 mm below the top: the nose begins at 22 + 13 to 22 + 15 mm.
    beside = "G0 Z5\nG0 X-11 Y10\nG1 Z-39.5 F300\nG1 Y50 F1500\nG0 Z5"
    (found,) = told(beside)
    assert "The spindle nose above cutter 1" in found.words
    assert found.value.value == pytest.approx(39.5 - 37.0, abs=0.05)
    assert told(beside.replace("X-11", "X-33")) == []


def test_the_boot_touches_the_wood_before_the_nut_does(told, machine):
    # 40 mm to each side, 10 mm below the nut: 20 mm above the tip of a cutter that is 30 mm out.
    spindle = replace(machine.spindle, boot_diameter_mm=80.0, boot_below_nut_mm=10.0)
    booted = replace(machine, spindle=spindle)
    out_30, out_38 = (SHORT.replace("22 mm", f"{mm} mm") for mm in (30, 38.5))
    (found,) = told(NARROW, cutter=out_30, on=booted)
    lines = ("G21 G90 G17\nT1 M6\nS18000 M3\n" + NARROW).splitlines()
    assert (found.severity, found.line) == ("stop", lines.index("G1 Z-24 F300") + 1)
    assert found.value.value == pytest.approx(8.0, abs=1e-3)
    assert "The dust boot above cutter 1 (flat 6 mm) goes 8.0 mm into wood" in found.words
    assert told(NARROW, cutter=out_38, on=booted) == []
    assert told(NARROW, cutter=out_30) == []


def test_a_size_that_is_not_known_is_a_caution(told, machine):
    known = dict(machine.known)
    known["spindle.nut_diameter"] = Known(value=26.5, kind="default", ref="", low=18.0, high=35.0)
    (found,) = told(NARROW, on=replace(machine, known=known))
    assert (found.severity, found.likelihood) == ("caution", 0.95)
    assert "taken as wide and low as is usual: nut" in found.words
    (found,) = told(RIM + "\n" + NARROW, on=replace(machine, known=known))
    assert found.severity == "caution"
    # RIM leaves 12 mm about the axis: of the sizes tried, 18 to 35 mm in four parts, three touch.
    assert found.likelihood == pytest.approx(0.75)


def test_a_wide_shank_beside_a_deep_slot(told):
    ball = "1: ball 3 mm, 2 flutes, flute length 6 mm, shank 6 mm, stick-out 40 mm"
    slot = "G0 Z5\nG0 X20 Y30\n" + "\n".join(
        f"G1 Z-{z} F300\nG1 X{x} F1500" for z, x in ((3, 80), (6, 20), (8, 80))
    )
    # The slot's own walls stand beside the shank, and its flutes of 6 mm reach no further than 6.
    (found,) = told(slot + "\nG0 Z5", cutter=ball)
    assert "The shank above cutter 1" in found.words
    assert found.value.value == pytest.approx(2.0, abs=1e-3)
    assert told(slot.replace("Z-8", "Z-5.9") + "\nG0 Z5", cutter=ball) == []


def test_the_shank_is_not_told_twice(proved):
    ball = "1: ball 3 mm, 2 flutes, flute length 6 mm, shank 6 mm, stick-out 40 mm"
    proof = proved("G0 Z5\nG0 X20 Y30\nG1 Z-12 F300\nG1 X80 F1500\nG0 Z5", cutters=(ball,))
    codes = [f.code for f in proof.verdict.findings]
    assert "flutes too short" in codes
    assert "wood in the way" not in codes


T_SLOT = "2: t-slot 10 mm, flute length 3 mm, neck 4 mm, stick-out 60 mm"
GAP_MM = (-6.0, -3.0)  #: what the disc of its passes takes
ROWS = (30.0, 37.0)  #: where they run, right across


def meeting(machine, swept, seed, undercut):
    """A random walk across the corner of four tiles, and where a nut meets wood on it."""
    rng = np.random.default_rng(seed)
    body = ["T1 M6", "S18000 M3", "G0 Z5", "G0 X32 Y32"]
    for _ in range(14):
        x, y = rng.uniform(26, 38, 2)
        body.append(f"G1 X{x:.2f} Y{y:.2f} Z{-rng.uniform(0.5, 7.5):.2f} F600")
    first = ["T2 M6", "S18000 M3", "G0 Z5"] if undercut else []
    for y in ROWS if undercut else ():
        first += [f"G0 X-8 Y{y:g}", f"G0 Z{GAP_MM[0]:g}", "G1 X50 F900", "G0 Z5"]
    trajectory, tools, setup, done = swept(
        "\n".join(first + body), "42 x 42 x 12 mm hard maple", (SHORT, T_SLOT)
    )
    facts = Facts(
        trajectory=trajectory, tools=tools, setup=setup, machine=machine, swept=done,
        line=np.zeros(len(trajectory.move), np.int64),
    )  # fmt: skip
    disc = np.array([[5.0, 4.0]])
    wanted = Body(name="collet nut", slot=1, most=disc, sure=disc, given=True)
    (met,) = standing(facts, [wanted])
    return facts, disc[0], met


@pytest.mark.parametrize("undercut", [False, True], ids=["plain", "t-slot first"])
@pytest.mark.parametrize("parts", [2, 16])
@pytest.mark.parametrize("seed", range(3))
def test_moments_are_those_of_a_plain_history(machine, swept, monkeypatch, seed, parts, undercut):
    """Every step against the board cut by dense sampling up to that very step."""
    monkeypatch.setattr(standing_module, "PARTS", parts)
    facts, disc, met = meeting(machine, swept, seed, undercut)
    expected, deepest = _history(facts, disc)
    clear = {n for n, deep in expected.items() if deep < GRAZE_MM - 0.01}
    hit = {n for n, deep in expected.items() if deep > GRAZE_MM + 0.03}
    found = set(met.number.tolist()) if met is not None else set()
    assert hit <= found
    assert not clear & found
    assert len(hit) > 5
    assert len(clear) > 5
    assert met.deepest_mm == pytest.approx(deepest, abs=0.05)


@pytest.mark.parametrize("parts", [2, 16, 100_000])
def test_what_was_cut_first_never_makes_a_hit(told, monkeypatch, parts):
    """Clearings wide enough for the nut, each dipped into again, so that moments between matter."""
    monkeypatch.setattr(standing_module, "PARTS", parts)
    rng = np.random.default_rng(0)
    body = ["T1 M6", "S18000 M3", "G0 Z5"]
    for _ in range(24):
        x, y = rng.uniform(25, 175, 2)
        body += [f"G0 X{x:.2f} Y{y:.2f}", "G1 Z-4 F600"]
        for r in (3, 7.5):
            for dx, dy in ((r, 0), (r, r), (-r, r), (-r, -r), (r, -r), (r, 0)):
                body.append(f"G1 X{x + dx:.2f} Y{y + dy:.2f} F3000")
        body += [f"G1 X{x:.2f} Y{y:.2f}", "G1 Z-25 F300", "G1 Z5 F3000"]
    first = ["T2 M6", "S18000 M3", "G0 Z5"]
    for y in (20, 60, 100, 140, 180):
        first += [f"G0 X-15 Y{y}", "G0 Z-5", "G1 X215 F900", "G0 Z5"]
    for lines in (body, first + body):
        wood = "200 x 200 x 40 mm hard maple"
        assert told("\n".join(lines), stock=wood, more_cutters=(T_SLOT,)) == []


def _history(facts, disc):
    """Depth of a disc in wood at each step of the flat cutter, from the plain references."""
    cell = facts.swept.field.cell_mm
    height = np.zeros((facts.swept.field.rows, facts.swept.field.columns))
    gap = np.zeros(height.shape, np.bool_)
    form = form_of(FLAT, 3.0, 0.0, 0.0)
    y, x = (np.mgrid[0 : height.shape[0], 0 : height.shape[1]] + 0.5) * cell
    radius, up = disc
    out = {}
    for window in standing_module.windows(facts.trajectory, facts.tools, facts.setup, cell):
        if facts.tools.slot[window.begin] == 2:
            for row in ROWS:  # right across the board: the neck opens its own width
                gap |= np.abs(y - row) <= 5.0
                height[np.abs(y - row) <= 2.0] = GAP_MM[0]
            continue
        for number, step in enumerate(window.steps, window.first_step):
            if step[[2, 5]].min() < 0.0:
                height = cut_reference(height, cell, step[None], form, samples=12)
                height[gap & (height <= GAP_MM[1]) & (height > GAP_MM[0])] = GAP_MM[0]
            seen = standing_module._opened(np.maximum(height, -12.0).astype(np.float32))
            deep = 0.0
            for share in np.linspace(0.0, 1.0, 5):
                px, py, pz = step[:3] + share * (step[3:] - step[:3])
                under = np.hypot(x - px, y - py) < radius
                deep = max(deep, float((seen[under] - pz - up).max(initial=0.0)))
            out[number] = deep
    return out, max(out.values())
