"""How the machine swings where a job is cut: on this machine, and on those that it may be."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.loads import compliance_at, edge_law_for
from kerfwright.loads.teeth import SideCuts, side_arcs, swing
from kerfwright.machine import nose_modes
from kerfwright.prove.frames import PITCHES, frames_of
from kerfwright.setup import setup_from_words

STOCK = "100 x 60 x 18 mm hard maple"
FLAT = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm"
SLOT = "G0 X20 Y30\nG1 Z-5 F300\nG1 X80 F1500"


@pytest.fixture
def cut(swept):
    _, tools, setup, first = swept(SLOT, STOCK, (FLAT,))
    return first, tools, setup


@pytest.fixture(scope="module")
def crowd(machine):
    return machine.drawn(np.random.default_rng(7), 60)


def place_of(setup):
    """The middle of the slot's floor, and the nose above it, in the machine's frame."""
    x, y, z = np.array(setup.board_at_mm) + [50.0, 30.0, -5.0]
    return float(x), float(y), float(z) + setup.slots[1].stick_out_mm


@pytest.fixture(scope="module")
def theirs(machine, crowd):
    """The crowd's own modes there."""
    at = place_of(setup_from_words(STOCK, [FLAT], machine))
    return [nose_modes(one, *at, give_at(one, at)) for one in crowd]


def give_at(machine, at):
    return np.diagonal(compliance_at(machine, *np.array(at)[:, None])[0])


def test_the_first_is_the_machine_where_it_cuts(cut, machine):
    own, *others = frames_of(*cut, machine, ())
    at = place_of(cut[2])
    there = nose_modes(machine, *at, give_at(machine, at))
    assert own.hertz == pytest.approx(there.hertz, rel=0.02)
    assert own.damping == machine.damping
    # With nothing drawn only the damping is open: 0.02 to 0.08, nineteen times in twenty.
    assert [one.damping for one in others] == pytest.approx([0.0785, 0.0215])
    assert all(one.hertz == pytest.approx(own.hertz) for one in others)


def test_damping_that_may_be_none_keeps_a_little(cut, machine):
    wide = replace(machine.known["frame.damping"], low=None, high=None, u=0.04)
    on = replace(machine, known={**machine.known, "frame.damping": wide})
    _, most, least = frames_of(*cut, on, ())
    assert most.damping == pytest.approx(0.05 + 1.96 * 0.04, abs=1e-4)
    assert least.damping == pytest.approx(0.0025)


def test_softer_and_stiffer_machines_swing_slower_and_faster(cut, machine):
    double = replace(machine, compliance_mm_per_n=2.0 * machine.compliance_mm_per_n)
    half = replace(machine, compliance_mm_per_n=0.5 * machine.compliance_mm_per_n)
    own, _, *others = frames_of(*cut, machine, (half, machine, double))
    pitch = np.array([one.hertz[0] / own.hertz[0] for one in others])
    assert len(pitch) == PITCHES
    assert (np.diff(pitch) > 0.0).all()
    assert pitch[0] == pytest.approx(np.sqrt(0.5))
    assert pitch[-1] == pytest.approx(np.sqrt(2.0))


def test_nothing_cut_nothing_swings(cut, machine):
    first, tools, setup = cut
    assert frames_of(replace(first, column=0.0 * first.column), tools, setup, machine, ()) == ()


@pytest.mark.parametrize("rev_per_s", [8000 / 60, 200.0, 300.0])
@pytest.mark.parametrize(("flutes", "runout"), [(1, 0.0), (2, 0.02)])
@pytest.mark.parametrize("heading", [0.0, np.pi / 2])
def test_the_ends_hold_what_machines_that_it_may_be_do(
    cut, machine, crowd, theirs, rev_per_s, flutes, runout, heading
):
    # Each drawn machine's own modes, assembled part by part, against all modes pitched together.
    first, tools, setup = cut
    frames = frames_of(first, tools, setup, machine, crowd)
    cutter = replace(setup.slots[1], flutes=flutes, runout_mm=runout)
    one = np.ones(1)
    cuts = SideCuts(
        heading_rad=heading * one, side=one, width_mm=6.0 * one, depth_mm=5.0 * one,
        feed_per_tooth_mm=0.05 * one,
    )  # fmt: skip
    arcs = side_arcs(edge_law_for(setup.board, cutter), cutter, cuts)
    where = (
        cutter, cuts.wall_rad, 5.0 * np.linspace(0.0, 1.0, 5)[None], cuts.depth_mm, rev_per_s * one,
    )  # fmt: skip
    told = swing(arcs, *where, frames)
    off = [abs((swing(arcs, *where, (one,)).out_mm - told.out_mm).mean()) for one in theirs]
    assert np.mean(off <= told.frame_unsure_mm.mean()) >= 0.93
