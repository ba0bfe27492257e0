"""From which depth on a cut may feed its own swing.

Each flute cuts into the waves that the one before it left, so a swing can grow. What grows it is
how the force changes with the chip, dF/dh = K_c, and not the force over the chip, which the rubbing
part makes up to three times as large. The harmonics of the engagement are left out (its mean stands
for them), and so is what rubbing takes out of the swing: a cut may stand more than this says.
"""

from math import pi, sin

import numpy as np
from numpy.typing import NDArray

from kerfwright.physics.modes import answer_mm_per_n

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: How far from a mode's frequency a swing is looked for, as shares of it, and how finely.
_LOW, _HIGH, _MANY = 0.2, 8.0, 400_000


def growth_n_per_mm2(
    begin_rad: float, end_rad: float, chip_n_per_mm2: float, normal_share: float, flutes: int
) -> FloatArray:
    """How the mean force answers a shift of the cutter, for each mm of depth. (2, 2) [N/mm²]

    Parameters
    ----------
    begin_rad, end_rad : of the engaged arc, from the travel.
    chip_n_per_mm2 : dF/dh for each mm of edge. normal_share : of the chip part.

    Notes
    -----
    A shift d thickens the chip at the angle ψ by e·d, e the outward direction there, and the force
    acts along K_c (t - n e): N/2π times the integral of K_c (t - n e) eᵀ over the arc. Budak and
    Altintas 1995, zero-order solution, from memory; written out here.
    """

    def moments(at: float) -> tuple[float, float, float]:
        """Integrals of cos², sin cos and sin² up to an angle."""
        return 0.5 * at + 0.25 * sin(2 * at), 0.5 * sin(at) ** 2, 0.5 * at - 0.25 * sin(2 * at)

    cc, sc, ss = (b - a for a, b in zip(moments(begin_rad), moments(end_rad), strict=True))
    across = np.array([[-sc, -ss], [cc, sc]])
    outward = np.array([[cc, sc], [sc, ss]])
    return np.asarray(flutes / (2.0 * pi) * chip_n_per_mm2 * (across - normal_share * outward))


def depth_limit_mm(
    growth: FloatArray,
    mode_hertz: float,
    stiffness_n_per_mm: float,
    damping: float,
    passing_hertz: float | None = None,
) -> float:
    """Depth from which on a cut sings; inf where none does. [mm]

    Parameters
    ----------
    growth : (2, 2) from ``growth_n_per_mm2``.
    mode_hertz, stiffness_n_per_mm, damping : of a mode that swings alike along X and Y.
    passing_hertz : how often a flute passes; None: the lowest limit at any speed.

    Notes
    -----
    On the edge b g G(ω) (1 - e^(-iωT)) = 1 for an eigenvalue g. The real part of
    1 / (1 - e^(-iωT)) is a half at any speed, so b = 1 / 2 Re(g G); the imaginary part says at
    which frequencies the waves of two flutes fit together at this speed.
    """
    hertz = mode_hertz * np.linspace(_LOW, _HIGH, _MANY)
    answer = answer_mm_per_n(hertz, mode_hertz, stiffness_n_per_mm, damping)
    limit = np.inf
    for eigenvalue in np.linalg.eigvals(growth):
        both = eigenvalue * answer
        if passing_hertz is None:
            most = float(both.real.max())
            limit = min(limit, 1.0 / (2.0 * most) if most > 0.0 else np.inf)
            continue
        half = pi * hertz / passing_hertz
        fits = both.imag * np.sin(half) + both.real * np.cos(half)
        at = np.flatnonzero(np.signbit(fits[1:]) != np.signbit(fits[:-1]))
        part = fits[at] / (fits[at] - fits[at + 1])
        real = both.real[at] + part * (both.real[at + 1] - both.real[at])
        # Waves that fit by whole turns of the flute are no swing: the chip never changes there.
        real = real[(real > 0.0) & (np.abs(np.sin(half[at])) > 1e-6)]
        if len(real):
            limit = min(limit, 1.0 / (2.0 * float(real.max())))
    return limit
