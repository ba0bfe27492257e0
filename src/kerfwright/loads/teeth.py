"""The force law tooth by tooth, and how cutter and frame swing while flutes pass a wall."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import Cutter
from kerfwright.loads.law import EdgeLaw
from kerfwright.loads.reach import rod_of
from kerfwright.machine import NoseModes
from kerfwright.physics.modes import Mode, Rod, answer_mm_per_n, passing_mm
from kerfwright.physics.teeth import Arcs, harmonics_n, lag_rad_per_mm, power_w, uneven_chips

FloatArray = NDArray[np.float64]

#: Arcs that a cut is split into.
PIECES = 18
#: Highest order of the tooth passing that a cutter answers, and of the turn that a frame does.
ORDERS = 16
#: Speeds nearer than that are one to the frame. [rev/s]
SPEED_STEP = 0.1
#: Damping of a cutter in its collet as a share of critical, and how far the collet, nut and
#: spindle may lower the frequency of the rod: ranges, common practice, no source.
DAMPING, DAMPING_LOW, DAMPING_HIGH = 0.02, 0.01, 0.05
LOWEST_PITCH = 0.6
#: How much more power a cut may ask than its flank explains.
MOST_SHARE = 1.5
#: Width, diameter and depth below which there is no cut to speak of. [mm]
_LEAST_MM = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class SideCuts:
    """Cuts of one cutter along a wall on one side, (places,) each."""

    heading_rad: FloatArray
    side: FloatArray  #: 1: the wall stands left of the travel, -1: right
    width_mm: FloatArray  #: square to the travel; from the diameter on a slot
    depth_mm: FloatArray
    feed_per_tooth_mm: FloatArray

    @property
    def wall_rad(self) -> FloatArray:
        """Direction from the axis to the wall."""
        return self.heading_rad + 0.5 * np.pi * self.side


def side_arcs(law: EdgeLaw, cutter: Cutter, cuts: SideCuts) -> Arcs:
    """What each flute of a cutter meets along walls: an upright cylinder of its flank.

    Any other shape counts as a flat cutter as wide as it is at half the depth.
    """
    radius = _radius_at(cutter, 0.5 * cuts.depth_mm)
    width = np.clip(cuts.width_mm / radius, 0.0, 2.0)
    turn = np.arccos(1.0 - width)
    at = np.linspace(0.0, 1.0, PIECES + 1)
    # From the wall inwards, so that the ends come in order.
    left = 0.5 * np.pi - turn[:, None] * at[::-1]
    right = -0.5 * np.pi + turn[:, None] * at
    facing = np.where(cuts.side[:, None] > 0.0, left, right)
    none = np.zeros((len(radius), PIECES))
    return _arcs(
        law, cutter, facing[:, :-1], facing[:, 1:], none, none + cuts.depth_mm[:, None],
        cuts.heading_rad, cuts.feed_per_tooth_mm, radius,
    )  # fmt: skip


def bin_arcs(
    law: EdgeLaw,
    cutter: Cutter,
    low_mm: FloatArray,
    high_mm: FloatArray,
    covered: FloatArray,
    heading_rad: float,
    feed_per_tooth_mm: float,
) -> Arcs:
    """What each flute meets in an engagement kept by bins of angle from -pi, (bins,) each.

    ``covered`` is the share of the bin that wood fills, ``high_mm`` above ``low_mm`` only where
    there is any. Only what faces the travel cuts: straight down no flank does.
    """
    bins = len(low_mm)
    edge = -np.pi + np.arange(bins + 1) * (2.0 * np.pi / bins) - heading_rad
    begin = np.mod(edge[:-1] + np.pi, 2.0 * np.pi) - np.pi
    end = np.minimum(begin + 2.0 * np.pi / bins, 0.5 * np.pi)
    begin = np.maximum(begin, -0.5 * np.pi)
    wood = (covered > 0.0) & (high_mm > low_mm) & (end > begin)
    low, high = np.where(wood, low_mm, 0.0), np.where(wood, high_mm, 0.0)
    deepest = np.array([max(float(high.max()), _LEAST_MM)])
    arcs = _arcs(
        law, cutter, np.minimum(begin, end)[None], end[None], low[None], high[None],
        np.array([heading_rad]), np.array([feed_per_tooth_mm]),
        _radius_at(cutter, 0.5 * deepest),
    )  # fmt: skip
    share = np.where(wood, covered, 0.0)
    return replace(arcs, chip=arcs.chip * share, rub=arcs.rub * share)


def _arcs(
    law: EdgeLaw,
    cutter: Cutter,
    begin: FloatArray,
    end: FloatArray,
    low_mm: FloatArray,
    high_mm: FloatArray,
    heading_rad: FloatArray,
    feed_per_tooth_mm: FloatArray,
    radius_mm: FloatArray,
) -> Arcs:
    """Arcs (places, arcs) by their angle from the travel, with the law of their middles."""
    middle = 0.5 * (begin + end)
    bins = law.chip_n_per_mm2.shape[1]
    at = np.mod(middle + heading_rad[:, None] + np.pi, 2.0 * np.pi) * (bins / (2.0 * np.pi))
    number = np.minimum(at.astype(np.int64), bins - 1)
    down = (middle < 0.0).astype(np.int64)
    shares = law.shares
    facing = feed_per_tooth_mm[:, None] * np.cos(middle)
    times, plus = uneven_chips(facing, cutter.flutes, cutter.runout_mm)
    return Arcs(
        begin_rad=begin + heading_rad[:, None],
        end_rad=end + heading_rad[:, None],
        low_mm=low_mm,
        high_mm=high_mm,
        chip=law.chip_n_per_mm2[down, number] * (1j - shares.normal_chip),
        rub=law.edge_n_per_mm[down, number] * (1j - shares.normal_edge),
        times=times,
        plus_mm=plus,
        heading_rad=heading_rad,
        feed_per_tooth_mm=feed_per_tooth_mm,
        lag_rad_per_mm=lag_rad_per_mm(cutter.helix_rad, radius_mm),
    )


def share_of_power(
    arcs: Arcs, cutter: Cutter, depth_mm: FloatArray, rev_per_s: FloatArray, asked_w: FloatArray
) -> FloatArray:
    """By how much the forces of cuts must be scaled so that they ask for a power, (places,).

    At most ``MOST_SHARE``: what is asked beyond that is work of the floor of a ramp, which pushes
    nothing sideways.
    """
    asks = power_w(arcs, _radius_at(cutter, 0.5 * depth_mm), rev_per_s)
    share = np.where(asks > 0.0, asked_w / np.where(asks > 0.0, asks, 1.0), 0.0)
    return np.asarray(np.minimum(share, MOST_SHARE))


def scaled(arcs: Arcs, share: FloatArray) -> Arcs:
    """The same cuts with so many times the force, (places,)."""
    return replace(arcs, chip=arcs.chip * share[:, None], rub=arcs.rub * share[:, None])


def mean_n(arcs: Arcs) -> NDArray[np.complex128]:
    """Mean force over a turn, x + iy, (places,). [N]"""
    return np.asarray(harmonics_n(arcs, 0)[1][..., 0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """How far the cutter is from where the mean force holds its tip, as flutes pass a wall."""

    out_mm: FloatArray  #: (places, heights), towards the wall
    unsure_mm: FloatArray  #: the same: how much damping and a softer collet change it
    frame_unsure_mm: FloatArray  #: the same: how much other frames that it may stand in do


def swing(
    arcs: Arcs,
    cutter: Cutter,
    wall_rad: FloatArray,
    height_mm: FloatArray,
    depth_mm: FloatArray,
    rev_per_s: FloatArray,
    frames: Sequence[NoseModes] = (),
) -> Swing:
    """How cutter and machine swing, and the cutter bends, as the flute that makes a wall passes it.

    Parameters
    ----------
    wall_rad, depth_mm, rev_per_s : array
        (places,): direction to the wall, depth of the cut, turning speed.
    height_mm : array
        (places, heights) above the tip.
    frames : sequence of NoseModes
        The machine, then others that it may be; none: one that does not swing.

    Notes
    -----
    The mean force bends the rod in full, and the machine by its standing give, which is not in
    here. The rest of the force, harmonics of the turn and so of the tooth passing, moves the rod's
    first mode, taken at half the depth, and all modes of the frame, taken at the nose. Where runout
    sets the flutes apart, the one that reaches farthest makes the wall; counted is from where the
    longest stands. What swings change in the chips is left out.
    """
    rod = rod_of(cutter)
    middle = np.minimum(0.5 * depth_mm, rod.whole_mm)
    cut = _Passing(
        *harmonics_n(arcs, ORDERS * cutter.flutes), wall_rad=wall_rad,
        height_mm=np.minimum(height_mm, rod.whole_mm), rev_per_s=rev_per_s,
        lag_rad_per_mm=arcs.lag_rad_per_mm,
    )  # fmt: skip
    series = _towards(frames, cut)
    bends, shakes = [], []
    for flute in range(cutter.flutes if cutter.runout_mm > 0.0 else 1):
        turned = 2.0 * np.pi * flute / cutter.flutes
        ahead = 0.5 * cutter.runout_mm * (np.cos(turned) - 1.0)
        bends.append(ahead + _of_cutter(rod.first_mode(), cut, middle, turned))
        shakes.append(_of_frames(series, cut, turned))
    bend, shake = np.array(bends), np.array(shakes)  # (flutes, what it may be, places, heights)
    likely = (bend[:, 0] + shake[:, 0]).max(axis=0)
    collets = (bend[:, 1:] + shake[:, :1]).max(axis=0)
    others = (bend[:, :1] + shake).max(axis=0)
    steady = (mean_n(arcs) * np.exp(-1j * wall_rad)).real[:, None]
    return Swing(
        out_mm=likely + steady * _bent(rod, cut.height_mm, middle),
        unsure_mm=np.abs(collets - likely).max(axis=0),
        frame_unsure_mm=np.abs(others - likely).max(axis=0),
    )


@dataclass(frozen=True, slots=True)
class _Passing:
    """What the force does over a turn, and where and when walls are passed."""

    order: FloatArray  #: (k,)
    force_n: NDArray[np.complex128]  #: (places, k)
    wall_rad: FloatArray  #: (places,)
    height_mm: FloatArray  #: (places, heights)
    rev_per_s: FloatArray  #: (places,)
    lag_rad_per_mm: FloatArray  #: (places,)


def _of_cutter(mode: Mode, cut: _Passing, middle_mm: FloatArray, turned_rad: float) -> FloatArray:
    """The first mode as a flute passes, likely and as it may be as well. (4, places, heights)"""
    hertz = -cut.order * cut.rev_per_s[:, None]
    moving = np.where(cut.order == 0.0, 0.0, cut.force_n)
    out = np.exp(-1j * cut.wall_rad)[:, None]
    shape = mode.share(cut.height_mm) * mode.share(middle_mm)[:, None]
    moves = []
    for pitch, damping in (
        (1.0, DAMPING), (1.0, DAMPING_LOW), (1.0, DAMPING_HIGH), (LOWEST_PITCH, DAMPING)
    ):  # fmt: skip
        stiff = mode.stiffness_n_per_mm * pitch**2
        answer = answer_mm_per_n(hertz, mode.hertz * pitch, stiff, damping)
        at = passing_mm(
            cut.order, moving, answer, cut.wall_rad - turned_rad, cut.height_mm, cut.lag_rad_per_mm
        )
        moves.append((at * out).real * shape)
    return np.array(moves)


def _towards(frames: Sequence[NoseModes], cut: _Passing) -> NDArray[np.complex128]:
    """Series of how far frames move towards the wall, orders from 1 on. (frames, places, orders)"""
    none = len(cut.order) // 2
    up = slice(none + 1, none + 1 + ORDERS)
    order = cut.order[up]
    speed, at = np.unique(np.round(cut.rev_per_s / SPEED_STEP), return_inverse=True)
    hertz = -order * SPEED_STEP * speed[:, None]
    plus = cut.force_n[:, up]
    minus = cut.force_n[:, none - ORDERS : none][:, ::-1].conj()
    pushed = np.stack([0.5 * (plus + minus), -0.5j * (plus - minus)], axis=-1)  # along X, Y
    out = np.stack([np.cos(cut.wall_rad), np.sin(cut.wall_rad)], axis=-1)
    return np.array(
        [
            np.einsum("pi,pkij,pkj->pk", out, frame.answer_mm_per_n(hertz)[at, :, :2, :2], pushed)
            for frame in frames
        ]
    ).reshape(len(frames), len(at), len(order))


def _of_frames(series_mm: NDArray[np.complex128], cut: _Passing, turned_rad: float) -> FloatArray:
    """Frames as a flute passes; one that stands still where there is none. (n, places, heights)"""
    if not len(series_mm):
        return np.zeros((1, *cut.height_mm.shape))
    order = np.arange(1.0, series_mm.shape[-1] + 1.0)
    at = passing_mm(
        order, series_mm, np.array(2.0 + 0.0j), cut.wall_rad - turned_rad, cut.height_mm,
        cut.lag_rad_per_mm,
    )  # fmt: skip
    return np.asarray(at.real)


def _bent(rod: Rod, height_mm: FloatArray, middle_mm: FloatArray) -> FloatArray:
    """Give up the rod for a force in the middle of the cut, less that of the tip for one there."""
    tip = rod.give_mm_per_n(0.0, 0.0)
    return np.asarray(rod.give_mm_per_n(height_mm, middle_mm[:, None]) - tip)


def _radius_at(cutter: Cutter, height_mm: FloatArray) -> FloatArray:
    """Radius of the cutting part at a height above the tip, (places,). [mm]"""
    return np.asarray(np.clip(cutter.radius_at_mm(height_mm), _LEAST_MM, cutter.radius_mm))
