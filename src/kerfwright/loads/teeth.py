"""The force law tooth by tooth, and how a cutter swings while its flutes pass a wall."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import Cutter
from kerfwright.loads.law import EdgeLaw
from kerfwright.loads.reach import rod_of
from kerfwright.physics.modes import Rod, answer_mm_per_n, passing_mm
from kerfwright.physics.teeth import Arcs, harmonics_n, lag_rad_per_mm, power_w, uneven_chips

FloatArray = NDArray[np.float64]

#: Arcs that a cut is split into.
PIECES = 18
#: Highest order of the tooth passing that is answered.
ORDERS = 16
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


def swing(
    arcs: Arcs,
    cutter: Cutter,
    wall_rad: FloatArray,
    height_mm: FloatArray,
    depth_mm: FloatArray,
    rev_per_s: FloatArray,
) -> Swing:
    """The cutter's own bending at the instant when its longest flute passes a wall.

    Parameters
    ----------
    wall_rad, depth_mm, rev_per_s : array
        (places,): direction to the wall, depth of the cut, turning speed.
    height_mm : array
        (places, heights) above the tip.

    Notes
    -----
    The mean force bends the rod in full; the rest of the force moves its first mode, harmonic by
    harmonic. All force is taken at half the depth. The machine's own modes are so low that they
    answer the mean alone (40 Hz under the example of docs/models/cutting.md: within 0.4 %).
    """
    rod = rod_of(cutter)
    mode = rod.first_mode()
    middle = np.minimum(0.5 * depth_mm, rod.whole_mm)
    height = np.minimum(height_mm, rod.whole_mm)
    order, force = harmonics_n(arcs, ORDERS * cutter.flutes)
    hertz = -order * rev_per_s[:, None]
    moving = np.where(order == 0.0, 0.0, force)
    shape = mode.share(height) * mode.share(middle)[:, None]
    out = np.exp(-1j * wall_rad)[:, None]

    def moves(pitch: float, damping: float) -> FloatArray:
        stiff = mode.stiffness_n_per_mm * pitch**2
        answer = answer_mm_per_n(hertz, mode.hertz * pitch, stiff, damping)
        at = passing_mm(order, moving, answer, wall_rad, height, arcs.lag_rad_per_mm)
        return np.asarray((at * out).real * shape)

    likely = moves(1.0, DAMPING)
    others = (
        moves(1.0, DAMPING_LOW), moves(1.0, DAMPING_HIGH), moves(LOWEST_PITCH, DAMPING)
    )  # fmt: skip
    steady = (mean_n(arcs)[:, None] * out).real * _bent(rod, height, middle)
    return Swing(
        out_mm=likely + steady,
        unsure_mm=np.max([np.abs(other - likely) for other in others], axis=0),
    )


def _bent(rod: Rod, height_mm: FloatArray, middle_mm: FloatArray) -> FloatArray:
    """Give up the rod for a force in the middle of the cut, less that of the tip for one there."""
    tip = rod.give_mm_per_n(0.0, 0.0)
    return np.asarray(rod.give_mm_per_n(height_mm, middle_mm[:, None]) - tip)


def _radius_at(cutter: Cutter, height_mm: FloatArray) -> FloatArray:
    """Radius of the cutting part at a height above the tip, (places,). [mm]"""
    return np.asarray(np.clip(cutter.radius_at_mm(height_mm), _LEAST_MM, cutter.radius_mm))
