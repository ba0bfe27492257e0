"""A program, a rack and a verdict for every shape of cutter."""

from dataclasses import replace
from math import pi, radians, tan

import numpy as np
import pytest

from kerfwright.cutter import load_cutters, read_cutter
from kerfwright.kernels import cutting, removal
from kerfwright.loads import rod_of
from kerfwright.prove.bodies import _cutter
from kerfwright.prove.chip import cutting_width_mm
from kerfwright.prove.cut import Cut, arrays_of, cut_from
from kerfwright.prove.run_path import cut_as_run
from kerfwright.setup import setup_from_words

RACK = """kerfwright = "cutters 1"
[[cutter]]
name = "bull"
shape = "bull"
diameter = "6 mm"
corner = "1 mm"
centre_cutting = true
[[cutter]]
name = "taper"
shape = "taper"
diameter = "6 mm"
tip_radius = "0.75 mm"
angle = "20 deg"
[[cutter]]
name = "drill"
shape = "drill"
diameter = "5 mm"
angle = "118 deg"
[[cutter]]
name = "cove"
shape = "profile"
outline = ["1 x 0 mm", "2.5 x 0.5 mm", "3.5 x 2 mm", "4 x 6 mm"]
[[cutter]]
name = "round-over"
shape = "round-over"
corner = "3 mm"
guide = "4 mm"
guide_length = "2 mm"
[[cutter]]
name = "dovetail"
shape = "dovetail"
diameter = "10 mm"
lean = "14 deg"
flute_length = "6 mm"
[[cutter]]
name = "t-slot"
shape = "t-slot"
diameter = "10 mm"
flute_length = "3 mm"
neck = "4 mm"
"""
ROUND = (1, 0), (1, 1), (-1, 1), (-1, -1), (1, -1), (1, 0)
# In from beside the board, 60 mm along it, out again.
ACROSS = "G0 Z5\nG0 X-15 Y30\nG0 Z{z}\nG1 X115 F900\nG0 Z5"
LENGTH = 100.0


@pytest.fixture
def rack(tmp_path):
    path = tmp_path / "cutters.toml"
    path.write_text(RACK)
    return load_cutters(path)


def in_slot(cutter):
    def change(setup):
        return replace(setup, slots={1: cutter})

    return change


@pytest.mark.parametrize(
    ("name", "depth", "section"),
    [
        ("bull", 4.0, 24.0 - 2 * (1 - pi / 4)),
        ("taper", 4.0, None),
        ("cove", 4.0, None),
        ("round-over", 5.0, 4.0 * 2 + 2 * (5 * 3 - pi * 9 / 4)),
        ("dovetail", 6.0, 6.0 * (10 - 6 * tan(radians(14)))),
        ("t-slot", 6.0, 10 * 3.0 + 4 * 3.0),
    ],
)
def test_a_groove_of_every_shape(proved, rack, name, depth, section):
    cutter = rack[name]
    if section is None:  # by the radius at each height
        z = (np.arange(20_000) + 0.5) / 20_000 * depth
        section = float(2.0 * cutter.radius_at_mm(z).mean() * depth)
    proof = proved(ACROSS.format(z=-depth), change=in_slot(cutter), cell=0.25)
    verdict = proof.verdict
    assert verdict.totals.removed_mm3 == pytest.approx(section * LENGTH, rel=0.01)
    power = next(margin for margin in verdict.margins if margin.name == "power")
    assert power.value.value > 0.0
    assert verdict.outcome in ("clear", "care", "stop")
    assert not [f for f in verdict.findings if f.code in ("plunge", "drill sideways")]
    left_open = [words for words in verdict.not_checked if "undersides" in words]
    assert len(left_open) == cutter.undercuts
    if cutter.undercuts:
        assert f"cutter 1 ({name})" in left_open[0]
        assert not verdict.ascut.walls


def test_holes_with_a_drill(proved, rack):
    holes = "".join(f"G0 X{x} Y30\nG1 Z-8 F300\nG0 Z5\n" for x in (20, 40, 60))
    verdict = proved("G0 Z5\n" + holes, change=in_slot(rack["drill"]), cell=0.25).verdict
    point = 2.5 / tan(radians(59))
    volume = pi * 2.5**2 * (8 - 2 / 3 * point)
    assert verdict.totals.removed_mm3 == pytest.approx(3 * volume, rel=0.01)
    assert not [f for f in verdict.findings if f.code == "drill sideways"]


def test_a_dovetail_after_a_straight_slot(proved, rack, tmp_path):
    # The straight cutter clears the middle, the dovetail takes what is left of its section.
    words = ("1: flat 4 mm, 2 flutes, flute length 20 mm", "2: flat 5 mm")

    def change(setup):
        return replace(setup, slots={1: setup.slots[1], 2: rack["dovetail"]})

    body = ACROSS.format(z=-6) + "\nT2 M6\nS18000 M3\n" + ACROSS.format(z=-6)
    verdict = proved(body, cutters=words, change=change, cell=0.25).verdict
    both = 6.0 * (10 - 6 * tan(radians(14))) * LENGTH
    assert verdict.totals.removed_mm3 == pytest.approx(both, rel=0.01)


def test_kept_cuts_keep_their_spans(machine, swept):
    cutter = "1: t-slot 10 mm, flute length 3 mm, neck 4 mm"
    trajectory, tools, setup, cut = swept(ACROSS.format(z=-6), cutters=(cutter,))
    done = Cut(swept=cut, run=cut_as_run(trajectory, tools, setup, machine, cut, 1))
    again = cut_from(arrays_of(done), setup.board).swept.field
    assert len(again.spans)
    for part in ("layer", "spans", "lost"):
        assert np.array_equal(getattr(again, part), getattr(done.swept.field, part))


def test_one_compiled_form_cuts_all_shapes(swept):
    for cutter in ("flat 6 mm", "bull 6 mm", "t-slot 10 mm, neck 4 mm, flute length 3 mm"):
        swept(ACROSS.format(z=-2), cutters=(f"1: {cutter}",))
    # One for tiles of whole columns, and only where something undercuts one for those in spans.
    assert len(removal.cut_tiles.signatures) <= 2
    assert len(cutting.group_loads.signatures) <= 1


def test_power_of_a_t_slot_is_that_of_its_volume(machine, swept):
    # The chip part of the power is the law's pressure times the volume; a T-slot of the same
    # section as a flat slot that is as wide as its disc takes as much, and rubs as long an edge.
    flat, t_slot = (
        swept(ACROSS.format(z=-3), cutters=(f"1: {words}, 2 flutes, helix 0 deg",))[3]
        for words in ("flat 10 mm", "t-slot 10 mm, flute length 3 mm, neck 4 mm")
    )
    steady = [(o.column[:, cutting.X] > 30) & (o.column[:, cutting.X] < 70) for o in (flat, t_slot)]
    power = [o.column[s, cutting.POWER].mean() for o, s in zip((flat, t_slot), steady, strict=True)]
    assert power[1] == pytest.approx(power[0], rel=0.01)
    depth = t_slot.column[steady[1], cutting.DEPTH]
    assert depth == pytest.approx(np.full(len(depth), 3.0), abs=1e-4)


def test_an_even_rod_for_what_tapers():
    taper = read_cutter("taper 6 mm, tip radius 0.5 mm, angle 10 deg, stick-out 40 mm")
    # Tip give of the taper alone: the integral that the even rod stands for, by slices.
    z = (np.arange(4000) + 0.5) / 4000 * taper.flute_length_mm
    wide = 2 * taper.radius_at_mm(z) * 0.8
    bends = (z**2 / wide**4).mean() * taper.flute_length_mm
    rod = rod_of(taper)
    assert taper.flute_length_mm**3 / 3 / rod.fluted_diameter_mm**4 == pytest.approx(
        bends, rel=1e-3
    )
    assert 0.8 < rod.fluted_diameter_mm < 4.8
    neck = rod_of(read_cutter("t-slot 12 mm, flute length 4 mm, neck 5 mm, stick-out 40 mm"))
    assert (neck.fluted_diameter_mm, neck.fluted_mm) == (5.0, 16.0)


def test_width_and_body_of_every_shape(rack):
    assert cutting_width_mm(rack["bull"], 0.2) == 6.0
    assert cutting_width_mm(rack["taper"], 0.75 * (1 - 0.17365)) == pytest.approx(1.477, abs=1e-3)
    assert cutting_width_mm(rack["t-slot"], 5.0) == 10.0
    for cutter in rack.values():
        discs = _cutter(1, cutter).most
        discs = discs[discs[:, 1] <= cutter.rim_mm]  # without the shank
        assert discs[:, 0].max() == pytest.approx(cutter.radius_mm)
        assert (np.diff(discs[:, 0]) >= -1e-12).all()
        # No disc stands outside the cutter.
        inside = cutter.radius_at_mm(discs[:, 1] + 1e-9)
        assert (discs[:, 0] <= inside + 1e-3).all() or cutter.undercuts


def test_the_words_of_a_cutter_reach_the_setup(machine):
    words = ["1: dovetail 14 deg 12.7 mm, flute length 12 mm", "2: drill 5 mm"]
    setup = setup_from_words("100 x 60 x 18 mm hard maple", words, machine)
    assert setup.slots[1].undercuts
    assert any("point of a twist drill" in one for one in setup.assumed)


def test_a_whole_verdict_is_the_same_on_any_number_of_threads(proved):
    """T-slots across many tiles, and clearings in them whose rims the nut comes near."""
    body = ["T2 M6", "S18000 M3", "G0 Z5"]
    for y in (20, 45, 70):
        body += [f"G0 X-15 Y{y}", "G0 Z-5", "G1 X155 F900", "G0 Z5"]
    body += ["T1 M6", "S18000 M3", "G0 Z5"]
    for x, wide in ((30, 7.5), (70, 6.0), (110, 7.5)):
        body += [f"G0 X{x} Y45", "G1 Z-4 F600"]
        for r in (3.0, wide):
            body += [f"G1 X{x + a * r} Y{45 + b * r} F3000" for a, b in ROUND]
        body += [f"G1 X{x} Y45", "G1 Z-25 F300", "G1 Z5 F3000"]
    cutters = (
        "1: flat 6 mm, 2 flutes, flute length 20 mm, shank 6 mm, stick-out 22 mm",
        "2: t-slot 10 mm, flute length 3 mm, neck 4 mm, stick-out 60 mm",
    )
    one, two, three = (
        proved(
            "\n".join(body), stock="140 x 90 x 40 mm hard maple", cutters=cutters, cell=0.25,
            threads=threads,
        )
        for threads in (1, 2, 3)
    )  # fmt: skip
    assert "wood in the way" in [found.code for found in one.verdict.findings]
    for other in (two, three):
        said = replace(other.verdict.provenance, threads=1)
        assert replace(other.verdict, provenance=said) == one.verdict
        assert np.array_equal(other.height_mm, one.height_mm)
        assert np.array_equal(other.error_mm, one.error_mm, equal_nan=True)
