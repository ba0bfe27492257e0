"""Cutters that may break or creep, spindles that slow: each with a near miss."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.kernels import cutting
from kerfwright.loads import edge_law_for, rod_of
from kerfwright.loads.teeth import mean_n
from kerfwright.physics.teeth import thicker_chip
from kerfwright.prove import strength
from kerfwright.prove.facts import Facts
from kerfwright.prove.margins import moments

OUT = "\nG0 Z5"
SLENDER = "1: flat 2 mm, 2 flutes, flute length 20 mm, stick-out 30 mm, shank 3 mm"
STOUT = "1: flat 6 mm, 2 flutes, flute length 14 mm, stick-out 22 mm"
DEEP = "G0 Z5\nG0 X20 Y30\nG1 Z-{z} F300\nG1 X80 F{f}" + OUT


def findings(proof, code):
    return [finding for finding in proof.verdict.findings if finding.code == code]


def test_a_slender_cutter_may_break(proved):
    found = findings(proved(DEEP.format(z=17, f=3000), cutters=[SLENDER]), "cutter may break")
    assert len(found) == 1
    assert (found[0].severity, found[0].unit, found[0].limit) == ("caution", "share", 1.0)
    assert found[0].value.low < found[0].value.value < found[0].value.high
    assert 0.2 <= found[0].likelihood <= 1.0
    assert found[0].line in (6, 7)
    assert "nineteen times in twenty" in found[0].words


def test_a_stout_cutter_does_not(proved):
    proof = proved(DEEP.format(z=4, f=1500), cutters=[STOUT])
    assert findings(proof, "cutter may break") == []
    assert findings(proof, "cutter may creep out") == []
    assert findings(proof, "spindle slows") == []


def test_a_remedy_is_offered_only_after_it_was_tried(proved):
    found = findings(proved(DEEP.format(z=17, f=3000), cutters=[SLENDER]), "cutter may break")[0]
    remedy = found.remedies[0]
    assert remedy.tried is not None
    assert remedy.tried.likelihood < strength.CARE <= found.likelihood
    assert remedy.tried.value.value < found.value.value
    share = float(remedy.changes[0].new.split()[1])
    # Cut that way, the program is no longer told off.
    if remedy.changes[0].path.startswith("depth"):
        again = proved(DEEP.format(z=17 * share, f=3000), cutters=[SLENDER])
    else:
        again = proved(DEEP.format(z=17, f=3000 * share), cutters=[SLENDER])
    left = findings(again, "cutter may break")
    assert left == []


def test_every_cutter_is_looked_at(proved):
    both = [STOUT, SLENDER.replace("1:", "2:")]
    body = (
        DEEP.format(z=10, f=2400)
        + "\nT2 M6\nS18000 M3\nG0 X20 Y15\nG1 Z-17 F300\nG1 X60 F3000"
        + OUT
    )
    found = findings(proved(body, cutters=both), "cutter may break")
    assert [finding.words[:8] for finding in found] == ["Cutter 2"]


@pytest.fixture
def placed(swept, machine):
    """What strength looks at, for a program of one cutter."""

    def run(body, cutter):
        trajectory, tools, setup, first = swept(body, cutters=(cutter,))
        line = np.asarray(trajectory.move, np.int64)
        facts = Facts(
            trajectory=trajectory, tools=tools, setup=setup, machine=machine, swept=first,
            line=line,
        )  # fmt: skip
        kept = moments(first.worst, setup, tools, first.segment)
        law = edge_law_for(setup.board, setup.slots[1])
        return facts, kept, strength._places(facts, setup.slots[1], law, facts.groups_of(1), kept)

    return run


def test_peak_of_a_slot_with_straight_flutes(placed):
    straight = SLENDER + ", helix 0 deg, runout 0 mm"
    facts, _, places = placed(DEEP.format(z=6, f=1500), straight)
    cutter = facts.setup.slots[1]
    place = max(places, key=lambda one: one.peak_mpa())
    # By hand: one flute straight ahead with the law's largest coefficients there.
    law = place.law
    feed = place.column[cutting.FEED_PER_TOOTH]
    ahead = slice(10, 14)  # bins about the travel along X
    rub = law.edge_n_per_mm[:, ahead].max()
    chip = law.chip_n_per_mm2[:, ahead].max() * feed
    normal = law.shares.normal_chip * chip + law.shares.normal_edge * rub
    most = 6.0 * float(np.hypot(chip + rub, normal))
    rod = rod_of(cutter)
    by_hand = max(float(end) for end in rod.stress_mpa(most, 3.0))
    assert place.peak_mpa() == pytest.approx(by_hand, rel=0.25)
    assert place.peak_mpa() < 1.1 * by_hand


def test_kept_and_counted_engagements_agree(placed):
    _, kept, places = placed(DEEP.format(z=6, f=1500), STOUT)
    whole = [place for place in places if place.worst is not None]
    assert whole
    place = next(one for one in whole if one.group == kept["deflection"].worst.group)
    counted = replace(place, worst=None)
    assert place.peak_mpa() == pytest.approx(counted.peak_mpa(), rel=0.1)
    assert place.peak_mpa(0.5) < place.peak_mpa()
    assert place.peak_mpa(1.0, 0.5) < 0.7 * place.peak_mpa()
    # And both mean what the kernel said.
    arcs = place._arcs(1.0, 1.0, place.cutter, place.law)
    seen = complex(place.column[cutting.FORCE_X], place.column[cutting.FORCE_Y])
    assert abs(mean_n(arcs)[0] - seen) < 0.1 * abs(seen)


def test_a_helix_creeps_out_of_a_bad_collet(proved, monkeypatch):
    # Axial force of a 30 degree helix is 0.35 of the tangential: some 15 N here.
    body = DEEP.format(z=12, f=2400)
    assert findings(proved(body, cutters=[STOUT]), "cutter may creep out") == []
    monkeypatch.setattr(strength, "GRIP_N_PER_MM", (0.5, 2.0))
    found = findings(proved(body, cutters=[STOUT]), "cutter may creep out")
    assert [f.severity for f in found] == ["caution"]
    assert found[0].value.mostly_from in ("how well the collet holds", strength.LAW)
    # A straight flute draws nothing out.
    straight = proved(body, cutters=[STOUT + ", helix 0 deg"])
    assert findings(straight, "cutter may creep out") == []


def test_a_small_hand_router_slows(proved, machine):
    hand = replace(machine.spindle, kind="hand router", shaft_power_w=250.0)
    on = replace(
        machine, spindle=hand, drawn=lambda rng, many: (replace(machine, spindle=hand),) * many
    )
    found = findings(proved(DEEP.format(z=10, f=1800), on=on, cutters=[STOUT]), "spindle slows")
    assert [f.severity for f in found] == ["note"]
    assert found[0].value.value > strength.TOLD_CHIP
    strong = replace(hand, shaft_power_w=2000.0)
    on = replace(
        machine, spindle=strong, drawn=lambda rng, many: (replace(machine, spindle=strong),) * many
    )
    assert findings(proved(DEEP.format(z=4, f=1800), on=on, cutters=[STOUT]), "spindle slows") == []


def test_thicker_chips():
    # 10 % slower: the same feed in 0.9 of the turns.
    assert thicker_chip(1.0, 0.1) == pytest.approx(1 / 0.9 - 1)
    assert thicker_chip(0.5, 0.1) == pytest.approx(1 / 0.95 - 1)
    assert thicker_chip(3.0, 0.1) == thicker_chip(1.0, 0.1)
    with pytest.raises(ValueError, match="a droop is from 0"):
        thicker_chip(1.0, 1.0)
