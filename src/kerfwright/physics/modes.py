"""A cutter as a stepped rod held in the collet: its give, its first bending mode, its answer.

Lengths along the rod count from the tip.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import pi

import numpy as np
from numpy.typing import NDArray

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse
from kerfwright.physics.inertia import KG_PER_MM3, N_PER_KG_MM_PER_S2

ComplexArray = NDArray[np.complex128]

#: Slices for the first mode: the frequency of a plain rod is then within 0.1 % of the exact one.
_SLICES = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Rod:
    """Fluted from the tip on, a plain shank from there to the collet."""

    whole_mm: float  #: tip to collet
    fluted_mm: float  #: tip to the end of the flutes
    fluted_diameter_mm: float  #: of a round rod that bends like the flutes
    shank_diameter_mm: float
    modulus_mpa: float
    density_kg_per_m3: float

    def __post_init__(self) -> None:
        above_zero(
            whole_mm=self.whole_mm,
            fluted_diameter_mm=self.fluted_diameter_mm,
            shank_diameter_mm=self.shank_diameter_mm,
            modulus_mpa=self.modulus_mpa,
            density_kg_per_m3=self.density_kg_per_m3,
        )
        not_below_zero(fluted_mm=self.fluted_mm)
        refuse(self.fluted_mm > self.whole_mm, "the flutes are longer than the rod")

    def give_mm_per_n(self, read_mm: Floats, force_mm: Floats) -> FloatArray:
        """How far the rod moves at one place for each newton across it at another. [mm/N]

        Both places count from the tip and broadcast. Bending only; the collet is taken as stiff.
        The unit-load integral of (s - read)(s - force) / E I over the part that both bend,
        in closed form.
        """
        read, force = array(read_mm), array(force_mm)
        begin = np.maximum(read, force)
        refuse((np.minimum(read, force) < 0.0) | (begin > self.whole_mm), "not on the rod")

        def moments(s: Floats) -> FloatArray:
            at = array(s)
            return np.asarray(at**3 / 3.0 - (read + force) * at**2 / 2.0 + read * force * at)

        step = np.maximum(begin, self.fluted_mm)
        fluted = moments(step) - moments(begin)
        shank = moments(self.whole_mm) - moments(step)
        stiff = [self.modulus_mpa * pi * d**4 / 64.0 for d in self._diameters]
        return np.asarray(fluted / stiff[0] + shank / stiff[1])

    def stress_mpa(self, force_n: Floats, force_mm: Floats) -> tuple[FloatArray, FloatArray]:
        """Bending stress where the flutes end and at the collet, 32 M / π d³. [MPa]

        Parameters
        ----------
        force_n, force_mm : float or array
            Across the rod, at a distance from the tip. [N, mm]

        Notes
        -----
        A plain rod: no notch is counted.
        """
        ends = (self.fluted_mm, self.whole_mm)
        arms = [np.maximum(end - array(force_mm), 0.0) for end in ends]
        one, two = (
            np.asarray(32.0 * array(force_n) * arm / (pi * d**3))
            for arm, d in zip(arms, self._diameters, strict=True)
        )
        return one, two

    def first_mode(self) -> "Mode":
        """The first bending mode, held at the collet.

        Notes
        -----
        The largest eigenvalue of flexibility times mass over slices of the rod (Stodola's way of
        reading it; textbook mechanics). A plain rod rings at 1.8751² √(E I / m L⁴) / 2π and, read
        at its tip, is as stiff as 3.09 E I / L³ (closed form). Collet and spindle only lower it.
        """
        return _first_mode(self)

    @property
    def _diameters(self) -> tuple[float, float]:
        return self.fluted_diameter_mm, self.shank_diameter_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One way of swinging, read at the tip."""

    hertz: float
    stiffness_n_per_mm: float  #: for a force at the tip, read at the tip
    at_mm: FloatArray  #: from the tip, rising
    shape: FloatArray  #: displacement at those places, 1 at the tip

    def share(self, at_mm: Floats) -> FloatArray:
        """Displacement at a place for one at the tip. [-]"""
        return np.asarray(np.interp(array(at_mm), self.at_mm, self.shape))


@lru_cache(maxsize=64)
def _first_mode(rod: Rod) -> Mode:
    """``Rod.first_mode``, kept: all walls that one cutter leaves ask for it."""
    width = rod.whole_mm / _SLICES
    at = (np.arange(_SLICES, dtype=np.float64) + 0.5) * width
    fluted = np.clip((rod.fluted_mm - (at - 0.5 * width)) / width, 0.0, 1.0)
    area = [pi * d**2 / 4.0 for d in rod._diameters]
    mass = rod.density_kg_per_m3 * KG_PER_MM3 * width
    mass_kg = mass * (fluted * area[0] + (1.0 - fluted) * area[1])
    root = np.sqrt(mass_kg)
    flexible = rod.give_mm_per_n(at[:, None], at[None, :])
    values, shapes = np.linalg.eigh(root[:, None] * flexible * root[None, :])
    shape = shapes[:, -1] / root
    turn2 = 1.0 / (float(values[-1]) * N_PER_KG_MM_PER_S2)  # [rad²/s²]
    # At the tip by the mode's own inertia forces.
    tip = float(rod.give_mm_per_n(0.0, at) @ (mass_kg * shape)) * turn2 * N_PER_KG_MM_PER_S2
    modal_kg = float((mass_kg * shape**2).sum()) / tip**2
    return Mode(
        hertz=float(np.sqrt(turn2)) / (2.0 * pi),
        stiffness_n_per_mm=turn2 * modal_kg * N_PER_KG_MM_PER_S2,
        at_mm=np.concatenate([[0.0], at, [rod.whole_mm]]),
        shape=np.concatenate([[1.0], shape / tip, [0.0]]),
    )


def answer_mm_per_n(
    hertz: Floats, mode_hertz: Floats, stiffness_n_per_mm: Floats, damping: Floats
) -> ComplexArray:
    """Displacement of a mode for each newton that swings at a frequency. [mm/N]

    Parameters
    ----------
    hertz : float or array
        Of the force; below 0 for e^(-iωt). [Hz]
    mode_hertz, stiffness_n_per_mm, damping : float or array
        Undamped frequency, static stiffness, share of critical damping. [Hz, N/mm, -]

    Notes
    -----
    Damped oscillator, (1/k) / (1 - r² + 2iζr) with r the ratio of the frequencies.

    References
    ----------
    .. [1] Textbook.

    Examples
    --------
    hertz="600 Hz" mode="1500 Hz" stiffness="8 N/um" damping=0.03 -> [0.0001487, -0.00000425] mm/N
    """
    above_zero(mode_hertz=mode_hertz, stiffness_n_per_mm=stiffness_n_per_mm)
    not_below_zero(damping=damping)
    ratio = array(hertz) / array(mode_hertz)
    return np.asarray(
        1.0 / (array(stiffness_n_per_mm) * (1.0 - ratio**2 + 2j * array(damping) * ratio))
    )


def passing_mm(
    order: FloatArray,
    force_n: ComplexArray,
    answer: ComplexArray,
    wall_rad: Floats,
    height_mm: FloatArray,
    lag_rad_per_mm: Floats,
) -> ComplexArray:
    """Where the cutter is, x + iy, when flute 0 passes a wall at each height. [mm]

    Parameters
    ----------
    order : array (k,)
        Of the force's Fourier series, see ``tooth-harmonics``. [-]
    force_n : array (..., k)
        Its series. [N]
    answer : array (..., k)
        Displacement for each newton at each order; see ``answer_mm_per_n``, where the
        order's frequency is minus the order times the turns per second, since the cutter turns
        towards smaller angles. In mm/N.
    wall_rad : float or array
        (...,), direction from the axis to the wall. [rad]
    height_mm : array (heights)
        Above the tip. [mm]
    lag_rad_per_mm : float or array
        (...,), of the edge behind its tip. [rad/mm]

    Returns
    -------
    array
        (..., heights). A wall is cut by the edge that passes it, so each height has its own
        instant: sum over orders of answer, force and e^(i order (wall - lag height)).

    References
    ----------
    .. [1] Derived here.

    Examples
    --------
    order="[-2, 0, 2]" force="[1+2i, 3, 1-2i] N" answer="[0.0001, 0.0001+0.00001i, 0.0001]"
    wall="0 rad" height="[0, 5] mm" lag="0.19 rad/mm" -> [0.0005 + 0.00003i, -0.00014 + 0.00003i] mm
    """
    tip = array(wall_rad)[..., None] - array(lag_rad_per_mm)[..., None] * array(height_mm)
    waves = np.exp(1j * order * tip[..., None])
    return np.asarray((waves * (answer * force_n)[..., None, :]).sum(axis=-1))
