"""What the machine's modes add at a wall, against the same oscillators marched through time."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import cont2discrete, lfilter

from kerfwright.loads import edge_law_for
from kerfwright.loads.teeth import SideCuts, mean_n, side_arcs, swing
from kerfwright.machine import NoseModes, load_machine, nose_modes
from kerfwright.physics.teeth import force_n, harmonics_n
from kerfwright.setup import setup_from_words
from kerfwright.workshop import demo_folder

STEPS = 2880  #: of a turn


@pytest.fixture(scope="module")
def machine():
    return load_machine(demo_folder() / "machine.toml")


@pytest.fixture(scope="module")
def setup(machine):
    flat = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm, runout 0 mm"
    return setup_from_words("90 x 90 x 18 mm hard maple", [flat], machine)


def one_grain(setup, cutter):
    """The law of the reference's examples, without a grain."""
    law = edge_law_for(setup.board, cutter)
    flat = np.full_like(law.chip_n_per_mm2, 43.0)
    shares = replace(law.shares, normal_chip=0.3, normal_edge=0.7)
    return replace(law, chip_n_per_mm2=flat, edge_n_per_mm=0.0 * flat + 3.7, shares=shares)


def cut_of(setup, flutes, runout, side=-1.0, width=6.0, heading=0.4):
    short = replace(setup.slots[1], flute_length_mm=7.0, stick_out_mm=8.0)  # swings hardly itself
    cutter = replace(short, flutes=flutes, runout_mm=runout)
    one = np.ones(1)
    cuts = SideCuts(
        heading_rad=heading * one, side=side * one, width_mm=width * one, depth_mm=6.0 * one,
        feed_per_tooth_mm=0.1 * one,
    )  # fmt: skip
    return cutter, cuts, side_arcs(one_grain(setup, cutter), cutter, cuts)


def frame_of(*modes, damping=0.05):
    """Of hertz, N/mm and angle in the plane, each."""
    return NoseModes(
        hertz=np.array([hertz for hertz, _, _ in modes]),
        moves=np.array([[np.cos(a), np.sin(a), 0.0] / np.sqrt(k) for _, k, a in modes]),
        damping=damping,
    )


def swung(cutter, cuts, arcs, rev_per_s, *frames):
    heights = np.array([[0.0, 1.5, 3.0, 6.0]])
    rev = np.array([rev_per_s])
    told = swing(arcs, cutter, cuts.wall_rad, heights, cuts.depth_mm, rev, frames)
    still = swing(arcs, cutter, cuts.wall_rad, heights, cuts.depth_mm, rev)
    return told, told.out_mm[0] - still.out_mm[0]


def marched(cutter, arcs, wall_rad, rev_per_s, frame, heights=(0.0, 1.5, 3.0, 6.0)):
    """Towards the wall, less the mean, from where the longest flute stands, by the others too.

    Oscillators fed with the force in time. (flutes, heights)
    """
    tip = -2.0 * np.pi * np.arange(STEPS) / STEPS  # time runs towards smaller angles
    force = force_n(arcs, tip)[0]
    step = 1.0 / (STEPS * rev_per_s)
    moved = np.zeros(STEPS, np.complex128)
    for hertz, way in zip(frame.hertz, frame.moves @ [1.0, 1.0j, 0.0], strict=True):
        turn = 2.0 * np.pi * hertz
        turns = int(np.ceil(12.0 * rev_per_s / (frame.damping * turn))) + 2  # e^-12 is left
        push = np.tile((force * np.conj(way)).real, turns)
        b, a, _ = cont2discrete(
            ([turn**2], [1.0, 2.0 * frame.damping * turn, turn**2]), step, method="foh"
        )
        moved += way * lfilter(b[0], a, push)[-STEPS:]
    moved -= moved.mean()
    reach = []
    for turned in 2.0 * np.pi * np.arange(cutter.flutes) / cutter.flutes:
        tip_at = wall_rad - turned - arcs.lag_rad_per_mm[0] * np.array(heights)
        at = np.interp(np.mod(-tip_at, 2.0 * np.pi), -tip, moved, period=2.0 * np.pi)
        behind = 0.5 * cutter.runout_mm * (1.0 - np.cos(turned))
        reach.append((at * np.exp(-1j * wall_rad)).real - behind)
    return np.array(reach)


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("width", [1.2, 6.0])
@pytest.mark.parametrize(
    ("flutes", "runout", "rev_per_s"),
    [(1, 0.0, 8000 / 60), (2, 0.0, 8000 / 60), (2, 0.02, 8000 / 60), (3, 0.03, 10_000 / 60)],
)
def test_modes_swing_as_if_marched_through_time(setup, flutes, runout, rev_per_s, side, width):
    cutter, cuts, arcs = cut_of(setup, flutes, runout, side, width)
    frame = frame_of((34.0, 500.0, 0.0), (113.0, 2600.0, 1.5), (138.0, 1500.0, 0.7))
    _, added = swung(cutter, cuts, arcs, rev_per_s, frame)
    wall = float(cuts.wall_rad[0])
    expected = marched(cutter, arcs, wall, rev_per_s, frame).max(axis=0)
    assert np.abs(expected).max() > 0.5e-3
    # Orders above 16 of the turn are left out, and so is what the cutter adds to choose the flute.
    assert added == pytest.approx(expected, abs=0.02 * np.abs(expected).max())


def test_a_straight_mode_by_its_closed_form(setup):
    # One flute, one mode along the wall's normal: each harmonic F_k / k over 1 - r² + 2 i z r.
    cutter, cuts, arcs = cut_of(setup, 1, 0.0, heading=0.0)
    frame, rev, stiff, ratio = frame_of((150.0, 900.0, np.pi / 2)), 120.0, 900.0, 120.0 / 150.0
    _, added = swung(cutter, cuts, arcs, rev, frame)
    order, force = harmonics_n(arcs, 16)
    force = force[0]
    lag, wall = arcs.lag_rad_per_mm[0], float(cuts.wall_rad[0])
    expected = []
    for height in (0.0, 1.5, 3.0, 6.0):
        tip, sum_ = wall - lag * height, 0.0
        for k in range(1, 17):
            along = (force[order == k][0] - np.conj(force[order == -k][0])) / 2j  # of Y
            answer = 1.0 / (stiff * (1.0 - (k * ratio) ** 2 - 2j * 0.05 * k * ratio))
            sum_ += 2.0 * (answer * along * np.exp(1j * k * tip)).real
        expected.append(sum_ * np.sin(wall))
    assert added == pytest.approx(expected, rel=1e-9)


def test_a_slow_mode_feels_the_mean_force_alone_and_it_is_counted_once(setup):
    # Full slot, 300 rev/s, two flutes, 40 Hz, 2 N/µm, 0.05: 13.50 to 13.57 µm at the wall, of which
    # the mean force over the stiffness, 13.52, is the standing give.
    cutter, cuts, arcs = cut_of(setup, 2, 0.0, side=1.0, heading=0.0)
    mean = (mean_n(arcs)[0] * np.exp(-1j * cuts.wall_rad[0])).real / 2000.0
    assert mean == pytest.approx(13.52e-3, abs=0.01e-3)
    one = np.linspace(0.0, 6.0, 61)[None]
    frame = frame_of((40.0, 2000.0, 0.0), (40.0, 2000.0, np.pi / 2))
    where = (cutter, cuts.wall_rad, one, cuts.depth_mm, np.array([300.0]))
    added = swing(arcs, *where, (frame,)).out_mm - swing(arcs, *where).out_mm
    assert (mean + added).min() == pytest.approx(13.50e-3, abs=0.006e-3)
    assert (mean + added).max() == pytest.approx(13.57e-3, abs=0.006e-3)


def test_the_flute_that_reaches_farthest_makes_the_wall(setup):
    # A mode that answers one turn: the short flute, half a turn later, is swung the other way.
    cutter, cuts, arcs = cut_of(setup, 2, 0.02, side=-1.0, width=3.0)
    wall = float(cuts.wall_rad[0])
    frame = frame_of((150.0, 300.0, wall))
    made_by = set()
    for rev in (135.0, 141.0, 147.0, 153.0, 159.0, 165.0):
        _, added = swung(cutter, cuts, arcs, rev, frame)
        reach = marched(cutter, arcs, wall, rev, frame)
        assert added == pytest.approx(reach.max(axis=0), abs=0.02 * np.abs(reach).max())
        made_by |= set(reach.argmax(axis=0).tolist())
    assert made_by == {0, 1}


def test_what_the_frame_may_be_is_told(setup):
    cutter, cuts, arcs = cut_of(setup, 1, 0.0)
    own = frame_of((150.0, 900.0, 0.5))
    others = [own.pitched(0.9, 0.05), own.pitched(1.1, 0.02)]
    told, added = swung(cutter, cuts, arcs, 120.0, own, *others)
    apart = [swung(cutter, cuts, arcs, 120.0, other)[1] - added for other in others]
    assert told.frame_unsure_mm[0] == pytest.approx(np.abs(apart).max(axis=0), abs=1e-12)
    assert not swung(cutter, cuts, arcs, 120.0, own)[0].frame_unsure_mm.any()
    # The same masses on other springs: what gives, gives with the square of the pitch.
    soft = own.pitched(0.5, 0.05)
    assert soft.answer_mm_per_n(np.zeros(1)) == pytest.approx(4 * own.answer_mm_per_n(np.zeros(1)))
    assert np.allclose(  # far above its frequency only the mass counts
        soft.answer_mm_per_n(np.array([1e5])), own.answer_mm_per_n(np.array([1e5])), rtol=1e-3
    )


def test_the_demo_turns_slowly_enough_to_swing_and_fast_enough_not_to(setup, machine):
    # Its modes lie below 140 Hz along the plane: one flute at 8000 rev/min meets them, two at
    # 18 000 pass them at 600 Hz, where 2 % of the standing give is left.
    x, y, z = (float(at[len(at) // 2]) for at in machine.compliance_at_mm)
    stands = np.diagonal(machine.compliance_mm_per_n[2, 2, 1])
    frame = nose_modes(machine, x, y, z, stands)
    shares = []
    for flutes, rev in ((1, 8000 / 60), (2, 300.0)):
        cutter, cuts, arcs = cut_of(setup, flutes, 0.0, heading=0.0)
        mean = abs((mean_n(arcs)[0] * np.exp(-1j * cuts.wall_rad[0])).real * stands[1])
        shares.append(np.abs(swung(cutter, cuts, arcs, rev, frame)[1]).max() / mean)
    assert shares[0] > 0.2
    assert shares[1] < 0.03
