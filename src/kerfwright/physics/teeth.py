"""Forces of each flute against angle: what a cutter feels within one turn.

Plane forces are complex numbers, x + iy. An edge at the angle θ about the cutter's axis, seen from
above with the cutter turning clockwise, feels for each mm of height

    dF/dz = e^(iθ) (c h + r),   c = K_c (i - n_c),   r = K_e (i - n_e)

with h the chip's thickness, K_c and K_e the chip and edge coefficients and n_c, n_e the normal
force as shares of the tangential. The chip of flute j is h = m f cos(θ - heading) + d: m = 1 and
d = 0 for a cutter that runs true, others where runout shares the chips unevenly.
"""

from dataclasses import dataclass, replace
from math import ceil, floor, pi

import numpy as np
from numpy.typing import NDArray

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse

ComplexArray = NDArray[np.complex128]

#: Angle over which the force of a straight edge is taken. [rad]
_HAIR = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Arcs:
    """Wood around a cutter in stretches of angle. Leading axes stand for places, broadcast.

    ``chip`` and ``rub`` are the complex c and r above; a ball's or a V's longer edge and tilted
    normal are in them.
    """

    begin_rad: FloatArray  #: (..., arcs), from X
    end_rad: FloatArray  #: (..., arcs), not below ``begin_rad``
    low_mm: FloatArray  #: (..., arcs) above the tip
    high_mm: FloatArray  #: (..., arcs)
    chip: ComplexArray  #: (..., arcs) [N/mm²]
    rub: ComplexArray  #: (..., arcs) [N/mm]
    times: FloatArray  #: (..., flutes, arcs) how many feeds per tooth the flute takes; 0: none
    plus_mm: FloatArray  #: (..., flutes, arcs) and how much more
    heading_rad: FloatArray  #: (...,)
    feed_per_tooth_mm: FloatArray  #: (...,)
    lag_rad_per_mm: FloatArray  #: (...,) of the edge behind its tip; below 0 for a down-cut helix

    @property
    def flutes(self) -> int:
        """How many flutes."""
        return int(self.times.shape[-2])


#: An edge that winds round more often is no cutter's: a mistake in a unit.
_MOST_TURNS = 200


def lag_rad_per_mm(helix_rad: Floats, radius_mm: Floats) -> FloatArray:
    """How far a helical edge lags behind its tip. [rad/mm]

    Parameters
    ----------
    helix_rad, radius_mm : float or array
        Of the edge; of the cutter. [rad, mm]

    Returns
    -------
    array
        tan(helix) / r. [rad/mm]

    References
    ----------
    .. [1] Geometry.

    Examples
    --------
    helix="30 deg" radius="3 mm" -> 0.19245 rad/mm
    """
    above_zero(radius_mm=radius_mm)
    return np.asarray(np.tan(array(helix_rad)) / array(radius_mm))


def uneven_chips(
    facing_mm: Floats, flutes: int, runout_mm: Floats
) -> tuple[FloatArray, FloatArray]:
    """How runout shares the chips between the flutes, at its worst phase.

    Parameters
    ----------
    facing_mm : array (..., arcs)
        Feed per tooth times the cosine of the angle from the travel. [mm]
    flutes : int
        Evenly spaced.
    runout_mm : float or array
        Total indicator reading at the cutting part: flute 0 stands out by half of it. [mm]

    Returns
    -------
    times, plus_mm : array
        (..., flutes, arcs): the chip of a flute is ``times * facing + plus``; both are 0 where
        it cuts nothing.

    Notes
    -----
    A flute cuts down to what the flutes before it left: the thinnest of m f cos ψ + e_j - e_(j-m).
    With two flutes one cuts alone while the runout is above f cos ψ.

    References
    ----------
    .. [1] Derived here.

    Examples
    --------
    facing="[0.1, 0.03] mm" flutes=2 runout="0.05 mm" -> times [1, 2, 1, 0],
    plus [0.05, 0, -0.05, 0] mm
    """
    facing = array(facing_mm)[..., None, :]
    out = 0.5 * array(runout_mm)[..., None] * np.cos(2.0 * pi * np.arange(flutes) / flutes)
    times = np.arange(1.0, flutes + 1.0)
    before = (np.arange(flutes)[:, None] - np.arange(1, flutes + 1)) % flutes
    plus = out[..., :, None] - out[..., before]  # (..., flutes, times)
    chip = times[:, None] * facing[..., None, :] + plus[..., None]  # (..., flutes, times, arcs)
    least = chip.argmin(axis=-2)
    cuts = np.take_along_axis(chip, least[..., None, :], axis=-2)[..., 0, :] > 0.0
    many = np.broadcast_to(plus[..., None], chip.shape)
    more = np.take_along_axis(many, least[..., None, :], axis=-2)[..., 0, :]
    return np.where(cuts, times[least], 0.0), np.where(cuts, more, 0.0)


def force_n(arcs: Arcs, tip_rad: Floats) -> ComplexArray:
    """Force on the cutter with the tip of flute 0 at an angle. [N]

    Parameters
    ----------
    arcs : Arcs
        The wood around the cutter, arc by arc; its chip and rub in N/mm² and N/mm, normal to the
        edge in their real part and against its motion in their imaginary one.
    tip_rad : array (n,)
        Of the tip. Time runs towards smaller angles. [rad]

    Returns
    -------
    array
        (..., n), integrated along the helix in closed form.

    Raises
    ------
    ValueError
        If an edge winds round more than 200 times.

    References
    ----------
    .. [1] Derived here from the edge law.

    Examples
    --------
    arcs.begin="[-90] deg" arcs.end="[90] deg" arcs.low="[0] mm" arcs.high="[6] mm"
    arcs.chip="[-12.9+43i]" arcs.rub="[-2.59+3.7i]" arcs.times="[[1], [1]]"
    arcs.plus="[[0], [0]] mm" arcs.heading="0 rad" arcs.feed_per_tooth="0.1 mm"
    arcs.lag="0.19245 rad/mm" tip="[0, 0.5] rad" -> [-38.22 + 23.79i, -33.02 + 4.10i] N
    """
    total: ComplexArray = np.zeros((1,), np.complex128)
    arcs, many = _with_wood(arcs), arcs.flutes
    lag = arcs.lag_rad_per_mm[..., None] * np.stack([arcs.low_mm, arcs.high_mm])
    first = float((arcs.begin_rad - lag).min()) / (2.0 * pi)
    last = float((arcs.end_rad - lag).max()) / (2.0 * pi)
    refuse(last - first > _MOST_TURNS, f"an edge winds round more than {_MOST_TURNS} times")
    for flute in range(many):
        once = np.mod(array(tip_rad) + 2.0 * pi * flute / many, 2.0 * pi)
        # Whole turns of the tip at which some of its edge may be in some arc.
        for turn in range(floor(first) - 1, ceil(last) + 1):
            total = total + _along_edge(arcs, flute, once + 2.0 * pi * turn).sum(axis=-1)
    return np.asarray(total)


def _with_wood(arcs: Arcs) -> Arcs:
    """The arcs in which there is any, one at least."""
    high = np.broadcast_to(arcs.high_mm > arcs.low_mm, np.shape(arcs.begin_rad))
    some = high.reshape(-1, high.shape[-1]).any(axis=0)
    if some.all() or not some.any():
        return arcs
    return replace(
        arcs,
        **{
            name: getattr(arcs, name)[..., some]
            for name in (
                "begin_rad", "end_rad", "low_mm", "high_mm", "chip", "rub", "times", "plus_mm",
            )
        },
    )  # fmt: skip


def _along_edge(arcs: Arcs, flute: int, tip_rad: FloatArray) -> ComplexArray:
    """Force of one edge in each arc: (..., n, arcs)."""
    at = tip_rad[:, None]
    begin, end = arcs.begin_rad[..., None, :], arcs.end_rad[..., None, :]
    low, high = arcs.low_mm[..., None, :], arcs.high_mm[..., None, :]
    lag = arcs.lag_rad_per_mm[..., None, None]
    straight = np.abs(lag) * (high - low) < 1e-7
    first, last = at + lag * low, at + lag * high
    total: ComplexArray = np.zeros((1, 1), np.complex128)
    if not straight.all():
        a = np.maximum(np.minimum(first, last), begin)
        b = np.minimum(np.maximum(first, last), end)
        slope = np.where(straight, 1.0, np.abs(lag))
        total = total + np.where((b > a) & ~straight, _over_arc(arcs, flute, a, b), 0.0) / slope
    if straight.any():
        inside = straight & (first >= begin) & (first < end)
        there = _over_arc(arcs, flute, first - 0.5 * _HAIR, first + 0.5 * _HAIR) / _HAIR
        total = total + np.where(inside, there * (high - low), 0.0)
    return np.asarray(total)


def _over_arc(arcs: Arcs, flute: int, a: FloatArray, b: FloatArray) -> ComplexArray:
    """Integral of dF/dz of one flute over angles a to b, (..., n, arcs)."""
    turn = np.exp(1j * arcs.heading_rad)[..., None, None]
    times, plus = arcs.times[..., flute, :], arcs.plus_mm[..., flute, :]
    feed = 0.5 * times[..., None, :] * arcs.feed_per_tooth_mm[..., None, None]
    chip = arcs.chip[..., None, :]
    steady = (arcs.chip * plus + arcs.rub * (times > 0.0))[..., None, :]
    waves = _wave(2.0, a, b) / turn + _wave(0.0, a, b) * turn
    return np.asarray(chip * feed * waves + steady * _wave(1.0, a, b))


def _wave(order: Floats, a: FloatArray, b: FloatArray) -> ComplexArray:
    """Integral of e^(i order θ) from a to b."""
    middle, width = 0.5 * (a + b), b - a
    return np.asarray(
        width * np.exp(1j * array(order) * middle) * np.sinc(array(order) * width / (2.0 * pi))
    )


def harmonics_n(arcs: Arcs, most: int) -> tuple[FloatArray, ComplexArray]:
    """Fourier series of the force over a turn, in closed form.

    Parameters
    ----------
    arcs : Arcs
        The wood around the cutter, arc by arc; its chip and rub in N/mm² and N/mm, normal to the
        edge in their real part and against its motion in their imaginary one.
    most : int
        Highest order, in turns of the cutter.

    Returns
    -------
    order : array
        (2 most + 1,), from -most to most.
    force_n : array
        (..., 2 most + 1): the force with flute 0's tip at the angle a is the sum of
        ``force * e^(i order a)``; at order 0 stands the mean over a turn. [N]

    References
    ----------
    .. [1] Derived here from the edge law.

    Examples
    --------
    arcs.begin="[-90] deg" arcs.end="[90] deg" arcs.low="[0] mm" arcs.high="[6] mm"
    arcs.chip="[-12.9+43i]" arcs.rub="[-2.59+3.7i]" arcs.times="[[1], [1]]"
    arcs.plus="[[0], [0]] mm" arcs.heading="0 rad" arcs.feed_per_tooth="0.1 mm"
    arcs.lag="0.19245 rad/mm" most=0 -> order [0], force [-13.76 + 27.03i] N
    """
    order = np.arange(-most, most + 1, dtype=np.float64)
    k = order[most:, None]
    begin, end = arcs.begin_rad[..., None, :], arcs.end_rad[..., None, :]
    turn = np.exp(1j * arcs.heading_rad)[..., None, None]
    high, low = arcs.high_mm[..., None, :], arcs.low_mm[..., None, :]
    lag = k * arcs.lag_rad_per_mm[..., None, None]
    along = (high - low) * np.exp(0.5j * lag * (high + low))
    along = along * np.sinc(lag * (high - low) / (2.0 * pi)) / (2.0 * pi)
    along = np.concatenate([along[..., :0:-1, :].conj(), along], axis=-2)
    feed = 0.5 * arcs.feed_per_tooth_mm[..., None, None]
    # Integrals of e^(i n θ) for n from most + 2 down to -most: 2 - k, 1 - k and -k are slices.
    waves = _wave(np.arange(most + 2.0, -1.0, -1.0)[:, None], begin, end)
    waves = np.concatenate([waves, waves[..., -2 : -most - 2 : -1, :].conj()], axis=-2)
    many = len(order)
    chip = waves[..., :many, :] / turn + waves[..., 2:, :] * turn
    chip *= along * (arcs.chip[..., None, :] * feed)
    steady = along * waves[..., 1 : many + 1, :]
    total: ComplexArray = np.zeros((1,), np.complex128)
    for flute in range(arcs.flutes):
        times, plus = arcs.times[..., flute, :], arcs.plus_mm[..., flute, :]
        more = (arcs.chip * plus + arcs.rub * (times > 0.0))[..., None, :]
        one = (chip * times[..., None, :] + steady * more).sum(axis=-1)
        total = total + one * np.exp(2j * pi * order * flute / arcs.flutes)
    return order, np.asarray(total)


def power_w(arcs: Arcs, radius_mm: Floats, rev_per_s: Floats) -> FloatArray:
    """Power at the cutter: mean tangential force times the edge's speed, (...,). [W]

    Parameters
    ----------
    arcs : Arcs
        The wood around the cutter, arc by arc; its chip and rub in N/mm² and N/mm, normal to the
        edge in their real part and against its motion in their imaginary one.
    radius_mm, rev_per_s : float or array
        Of the cutter; turns a second. [mm, rev/s]

    References
    ----------
    .. [1] Derived here from the edge law.

    Examples
    --------
    arcs.begin="[-90] deg" arcs.end="[90] deg" arcs.low="[0] mm" arcs.high="[6] mm"
    arcs.chip="[-12.9+43i]" arcs.rub="[-2.59+3.7i]" arcs.times="[[1], [1]]"
    arcs.plus="[[0], [0]] mm" arcs.heading="0 rad" arcs.feed_per_tooth="0.1 mm"
    arcs.lag="0.19245 rad/mm" radius="3 mm" speed="300 rev/s" -> 218.4 W
    """
    begin, end = arcs.begin_rad, arcs.end_rad
    width, heading = end - begin, arcs.heading_rad[..., None]
    facing = np.sin(end - heading) - np.sin(begin - heading)
    section = arcs.times.sum(axis=-2) * arcs.feed_per_tooth_mm[..., None] * facing
    section = section + arcs.plus_mm.sum(axis=-2) * width
    cutting = (arcs.times > 0.0).sum(axis=-2) * width
    mean = arcs.chip.imag * section + arcs.rub.imag * cutting
    tangential = (mean * (arcs.high_mm - arcs.low_mm)).sum(axis=-1) / (2.0 * pi)
    return np.asarray(tangential * 2.0 * pi * array(radius_mm) * array(rev_per_s) / 1000.0)


def peak_n(arcs: Arcs, steps: int = 360) -> FloatArray:
    """Largest force within a turn, (...,). [N]

    Parameters
    ----------
    arcs : Arcs
        The wood around the cutter, arc by arc; its chip and rub in N/mm² and N/mm, normal to the
        edge in their real part and against its motion in their imaginary one.
    steps : int
        Angles that are tried.

    References
    ----------
    .. [1] Derived here from the edge law.

    Examples
    --------
    arcs.begin="[-90] deg" arcs.end="[90] deg" arcs.low="[0] mm" arcs.high="[6] mm"
    arcs.chip="[-12.9+43i]" arcs.rub="[-2.59+3.7i]" arcs.times="[[1], [1]]"
    arcs.plus="[[0], [0]] mm" arcs.heading="0 rad" arcs.feed_per_tooth="0.1 mm"
    arcs.lag="0.19245 rad/mm" -> 49.1 N
    """
    # Off the round angles, where straight flutes step from arc to arc.
    tip = (np.arange(steps, dtype=np.float64) + 0.4) * (2.0 * pi / steps)
    return np.asarray(np.abs(force_n(arcs, tip)).max(axis=-1))


def thicker_chip(load_share: Floats, droop: Floats) -> FloatArray:
    """By how much a chip thickens when the spindle slows under load: 1 / (1 - d P) - 1. [-]

    Parameters
    ----------
    load_share : float or array
        Power asked as a share of the spindle's, held at 1. [-]
    droop : float or array
        Share of the speed lost at full load, below 1; taken as even with the load. [-]

    Raises
    ------
    ValueError
        If the droop is not between 0 and 1.

    Notes
    -----
    The feed stays and the turns do not.

    References
    ----------
    .. [1] Derived here.

    Examples
    --------
    load_share=0.5 droop=0.2 -> 0.1111
    """
    refuse(~((array(droop) >= 0.0) & (array(droop) < 1.0)), "a droop is from 0 to below 1")
    lost = array(droop) * np.clip(array(load_share), 0.0, 1.0)
    return np.asarray(lost / (1.0 - lost))
