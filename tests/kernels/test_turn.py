"""The force through a turn against the closed forms of physics.teeth, and what it tells."""

from math import acos, pi, radians, sin

import numpy as np
import pytest

from kerfwright.cutter.cutter import MOST_FLUTES
from kerfwright.kernels import profile, turn
from kerfwright.kernels.cutting import (
    F_FEED,
    F_POWER,
    F_SPEED,
    F_TURN,
    FORCE_NUMBERS,
    slowed_share,
    turning_force,
)
from kerfwright.kernels.edge_force import ARC_COLUMNS, covered_arcs
from kerfwright.kernels.engagement import BINS
from kerfwright.physics.teeth import (
    Arcs,
    force_n,
    harmonics_n,
    lag_rad_per_mm,
    peak_n,
    power_w,
    uneven_chips,
)

CHIP, RUB, NC, NE = 43.0, 3.7, 0.3, 0.7
RADIUS, DEPTH, FEED, WAY = 3.0, 6.0, 0.1, 1.0
FLAT = profile.form_of(profile.FLAT, RADIUS, 0.0, 0.0)
EDGES = -pi + np.arange(BINS + 1) * 2 * pi / BINS
LAWS = (np.full((2, BINS), CHIP), np.full((2, BINS), RUB), NC, NE, 0.0)
SLOT = (-pi / 2, pi / 2)
DOWN = (-pi / 2, -pi / 2 + acos(0.6))  # 1.2 mm wide, down the travel
UP = (pi / 2 - acos(0.2), pi / 2)


def engaged(begin, end, heading=0.0, low=0.0, high=DEPTH):
    """The engagement of a flank between two angles from the travel, as the sweep keeps it."""
    wood = np.zeros((4, BINS))
    wood[1], wood[2] = 1e30, -1e30
    for b in range(BINS):
        for once in (-2 * pi, 0.0, 2 * pi):
            p = max(EDGES[b] - heading + once, begin)
            q = min(EDGES[b + 1] - heading + once, end)
            if q > p:
                wood[0, b] += WAY * (sin(q) - sin(p)) * RADIUS * (high - low)
                wood[1, b], wood[2, b] = low, high
    return wood


def through(begin, end, helix_deg=0.0, runout=0.0, heading=0.0, flutes=2, form=FLAT, laws=LAWS):
    """Forces (3, STEPS), share of the flutes that rub (BINS,), and what is told."""
    wood, arcs = engaged(begin, end, heading), np.empty((BINS, ARC_COLUMNS))
    force, rubs, told = np.empty(turn.ROOM), np.empty(BINS), np.empty(turn.TOLD)
    covered_arcs(wood, WAY, 0.0, heading, form, arcs)
    turn.within_turn(
        wood, arcs, WAY, 0.0, WAY, heading, FEED, form, flutes, *laws, runout,
        float(lag_rad_per_mm(radians(helix_deg), RADIUS)), force, rubs, told,
    )  # fmt: skip
    return force[:3, : turn.STEPS], rubs, told


def closed(begin, end, helix_deg=0.0, runout=0.0, heading=0.0, flutes=2, pieces=60, feed=FEED):
    edges = np.linspace(begin, end, pieces + 1)
    one = np.ones(pieces)
    times, plus = uneven_chips(feed * np.cos(0.5 * (edges[1:] + edges[:-1])), flutes, runout)
    return Arcs(
        begin_rad=edges[:-1] + heading, end_rad=edges[1:] + heading, low_mm=0.0 * one,
        high_mm=DEPTH * one, chip=CHIP * (1j - NC) * one, rub=RUB * (1j - NE) * one, times=times,
        plus_mm=plus, heading_rad=np.array(heading), feed_per_tooth_mm=np.array(feed),
        lag_rad_per_mm=lag_rad_per_mm(radians(helix_deg), RADIUS),
    )  # fmt: skip


@pytest.mark.parametrize("heading", [0.0, 0.4, 2.0, -2.9])
@pytest.mark.parametrize("runout", [0.0, 0.05])
@pytest.mark.parametrize("helix", [0.0, 12.0, 30.0, -25.0])
@pytest.mark.parametrize("cut", [SLOT, DOWN, UP])
def test_force_through_a_turn_is_the_closed_one(cut, helix, runout, heading):
    force, _, told = through(*cut, helix, runout, heading)
    arcs = closed(*cut, helix, runout, heading)
    mean = complex(force[0].mean(), force[1].mean())
    assert abs(mean - harmonics_n(arcs, 0)[1][0]) < 0.02 * abs(mean)
    assert told[turn.PEAK] == pytest.approx(float(peak_n(arcs)), rel=0.025)
    at = -pi + (np.arange(turn.STEPS) + 0.5) * turn.STEP
    along = force_n(arcs, at)
    off = np.abs(force[0] + 1j * force[1] - along)
    assert np.median(off) < 0.02 * np.abs(along).max()
    if helix:
        assert off.max() < 0.1 * np.abs(along).max()


@pytest.mark.parametrize(
    ("helix", "band"), [(0.0, 1e-3), (12.0, 0.01), (30.0, 0.01), (-25.0, 0.01)]
)
@pytest.mark.parametrize("runout", [0.0, 0.05])
def test_largest_force_of_cuts_along_a_wall(helix, band, runout):
    # Before the edge was laid flush with the end of its arc too, the narrowest were told less than
    # half of it, and cuts of half a radius up to 4 % less.
    lag = float(lag_rad_per_mm(radians(helix), RADIUS)) * DEPTH
    for width in (0.05, 0.1, 0.2, 0.5, 1.0):
        turned = acos(1.0 - width)
        for cut in ((-pi / 2, -pi / 2 + turned), (pi / 2 - turned, pi / 2)):
            for heading, flutes in ((0.0, 2), (radians(23), 3), (2.0, 1)):
                told = through(*cut, helix, runout, heading, flutes)[2]
                # The tip where the edge begins or ends flush with the arc, and all round.
                flush = [cut[0] + 1e-6 - min(lag, 0.0), cut[1] - 1e-6 - max(lag, 0.0)]
                flush = np.add.outer(flush, 2 * pi / flutes * np.arange(flutes)).ravel() + heading
                tips = np.concatenate([flush, np.linspace(-pi, pi, 180)])
                arcs = closed(*cut, helix, runout, heading, flutes, pieces=40)
                expected = np.abs(force_n(arcs, tips)).max()
                # Which flutes touch is decided for the middle of what lies in a bin.
                more = 0.012 if runout and helix else 0.0
                assert told[turn.PEAK] == pytest.approx(expected, rel=band + more)


def test_peak_of_a_straight_flute_in_a_slot():
    # By hand: 6 mm of edge with a chip of 0.1 mm straight ahead: 53.35 N.
    force, _, told = through(*SLOT)
    by_hand = DEPTH * np.hypot(CHIP * FEED + RUB, NC * CHIP * FEED + NE * RUB)
    assert by_hand == pytest.approx(53.35, abs=0.005)
    assert told[turn.PEAK] == pytest.approx(by_hand, rel=0.002)
    assert told[turn.CHIP] == pytest.approx(FEED, rel=0.002)
    assert told[turn.ARC] == pytest.approx(pi, rel=1e-6)
    assert told[turn.UP] == pytest.approx(0.5, abs=1e-9)
    assert told[turn.PEAK_X] == pytest.approx(np.abs(force[0]).max())


@pytest.mark.parametrize("heading", [0.0, 0.3, -1.7])
def test_sides_of_the_travel(heading):
    assert through(*DOWN, heading=heading)[2][turn.UP] == 0.0
    assert through(*UP, heading=heading)[2][turn.UP] == 1.0
    # From 30 degrees right of the travel to the left wall: sin 30 of 1 + sin 30 is cut down.
    told = through(-pi / 6, pi / 2, heading=heading)[2]
    assert told[turn.UP] == pytest.approx(1 / 1.5, abs=2e-3)
    assert told[turn.ARC] == pytest.approx(2 * pi / 3, rel=0.01)


@pytest.mark.parametrize("flutes", [1, 2, 3, 5])
@pytest.mark.parametrize("runout", [0.0, 0.02, 0.05, 0.3])
def test_chips_of_a_flute_are_those_of_physics(flutes, runout):
    facing = FEED * np.cos(np.linspace(-1.5, 1.5, 21))
    times, plus = uneven_chips(facing, flutes, runout)
    stands = np.empty(flutes)
    turn.stands_out(flutes, runout, stands)
    for flute in range(flutes):
        own = [turn.chip_of_flute(flute, one, stands) for one in facing]
        assert own == pytest.approx(times[flute] * facing + plus[flute], abs=1e-12)


def test_one_flute_rubs_alone_near_the_walls():
    # Runout 0.05 and 0.1 mm a tooth: one cuts alone beyond 60 degrees from the travel.
    _, rubs, _ = through(*SLOT, runout=0.05)
    middle = np.abs(0.5 * (EDGES[1:] + EDGES[:-1]))
    assert rubs[middle < radians(59)] == pytest.approx(1.0)
    near = (middle > radians(61)) & (middle < radians(90))
    assert rubs[near] == pytest.approx(0.5)


@pytest.mark.parametrize("runout", [0.0, 0.05])
@pytest.mark.parametrize("droop", [0.0, 0.2])
def test_power_and_speed_of_a_slot(runout, droop):
    rev, spindle = 300.0, 400.0
    out = np.empty(FORCE_NUMBERS)
    turning_force(
        engaged(*SLOT), WAY, 0.0, WAY, 0.0, FEED, FLAT, 2, *LAWS, runout, 0.0, rev, spindle, droop,
        np.empty((BINS, ARC_COLUMNS)), np.empty(turn.ROOM), np.empty(BINS),
        np.empty((2, 4)), np.empty(turn.TOLD), out,
    )  # fmt: skip
    arcs = closed(*SLOT, runout=runout, feed=float(out[F_FEED]))
    full = float(power_w(arcs, RADIUS, rev))
    chip = CHIP * 2 * RADIUS * DEPTH * FEED * 2 * rev / 1000.0
    full -= chip * (out[F_FEED] / FEED - 1.0)  # at the full speed
    kept = float(slowed_share(chip, full - chip, spindle, droop))
    # Slower turns, the same feed: thicker chips, less rubbing; the shares are told as they are.
    assert out[F_SPEED] == pytest.approx(rev * kept, rel=2e-3)
    assert out[F_FEED] == pytest.approx(FEED * rev / out[F_SPEED], rel=1e-9)
    # Whether a flute rubs is decided for 5 degrees at a time.
    assert out[F_POWER] == pytest.approx(chip + (full - chip) * kept, rel=0.01 if runout else 0.002)
    assert 1.0 - out[F_SPEED] / rev == pytest.approx(droop * out[F_POWER] / spindle, rel=1e-6)
    assert out[F_TURN + turn.CHIP] >= out[F_FEED] * 0.998
    if runout == 0.0 and droop == 0.0:
        assert out[F_POWER] == pytest.approx(218.4, abs=0.1)


def test_a_spindle_loses_no_more_than_its_droop():
    assert slowed_share(1000.0, 500.0, 300.0, 0.1) == pytest.approx(0.9)
    assert slowed_share(100.0, 50.0, 0.0, 0.1) == 1.0
    assert slowed_share(0.0, 0.0, 300.0, 0.1) == 1.0


def test_a_plunge_is_felt_all_round():
    # Straight down by a flat cutter: each flute's end edge cuts all the time, so nothing varies.
    wood = np.zeros((4, BINS))
    wood[1] = 1e30
    wood[0] = pi * RADIUS**2 / BINS  # one millimetre down
    wood[1], wood[2] = 0.0, 1e-6
    arcs, out = np.empty((BINS, ARC_COLUMNS)), np.empty(FORCE_NUMBERS)
    turning_force(
        wood, 0.0, WAY, WAY, 0.0, FEED, FLAT, 2, *LAWS, 0.0, 0.19, 300.0, 0.0, 0.0, arcs,
        np.empty(turn.ROOM), np.empty(BINS), np.empty((2, 4)), np.empty(turn.TOLD), out,
    )  # fmt: skip
    assert out[F_TURN + turn.PEAK_Z] == pytest.approx(out[2], rel=0.02)
    assert out[F_TURN + turn.PEAK] < 0.05 * out[2]  # two flutes opposite each other


def test_long_edges_wind_round_more_than_once():
    wood = engaged(*SLOT, high=40.0)
    arcs, force = np.empty((BINS, ARC_COLUMNS)), np.empty(turn.ROOM)
    covered_arcs(wood, WAY, 0.0, 0.0, FLAT, arcs)
    turn.within_turn(
        wood, arcs, WAY, 0.0, WAY, 0.0, FEED, FLAT, 2, *LAWS, 0.0,
        float(lag_rad_per_mm(radians(30.0), RADIUS)), force, np.empty(BINS), np.empty(turn.TOLD),
    )  # fmt: skip
    share = 2 * 40.0 / (2 * pi)
    across = share * (CHIP * FEED * pi / 2 + RUB * 2)
    assert force[1, : turn.STEPS].mean() == pytest.approx(across, rel=0.005)


def test_room_for_as_many_flutes_as_a_cutter_may_have():
    assert turn.MOST_FLUTES == MOST_FLUTES
