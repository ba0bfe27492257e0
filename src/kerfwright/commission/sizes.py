"""Sizes measured on a cut part, and what they say of set-up, machine and cut."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Known
from kerfwright.basics.known import TWO_SIDED_95

FloatArray = NDArray[np.float64]

SHARES = ("set_up", "machine", "cut")
#: A caliper in a shop, where nothing is said: ± 0.05 mm, nineteen times in twenty. Common
#: practice, no source.
READ_U_MM = 0.05 / TWO_SIDED_95
#: Farther from what was thought likely, in standard uncertainties, a size is not explained: it is
#: a slip of reading or of the model, and nothing is learned from it.
UNEXPLAINED = 4.0
#: The force law may be known no better than that from sizes alone; wood differs along a board.
LEAST_LOG_U = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSize:
    """One size: as programmed, as found, and what the verdict said of it."""

    name: str
    programmed_mm: float
    found_mm: float
    u_mm: float = READ_U_MM  #: standard uncertainty of the reading
    shares: Mapping[str, tuple[float, float]]  #: mm moved, and by how much unsure (95 %)


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowed:
    """What is thought of the three shares once the sizes are known, in their own old spreads.

    Each share of every size is taken as ``mm + u z`` with one z for the whole part, normal with a
    mean of 0 and a spread of 1 before.
    """

    mean: FloatArray  #: (3,) of z, in the order of ``SHARES``
    covariance: FloatArray  #: (3, 3)
    unexplained: tuple[str, ...]  #: sizes that were left out

    def size(self, size: MeasuredSize, *, after: bool) -> Estimate:
        """How large such a size comes out, before or after."""
        middle, unsure = _split(size)
        mean = self.mean if after else np.zeros(3)
        spread = self.covariance if after else np.eye(3)
        value = size.programmed_mm + float(middle.sum() + unsure @ mean)
        half = TWO_SIDED_95 * float(np.sqrt(unsure @ spread @ unsure))
        return Estimate(value=value, low=value - half, high=value + half)

    def share(self, size: MeasuredSize, which: str, *, after: bool) -> Estimate:
        """What one of the three does to a size."""
        k = SHARES.index(which)
        middle, unsure = _split(size)
        value, half = float(middle[k]), float(unsure[k])
        if after:
            value += half * float(self.mean[k])
            half *= float(np.sqrt(self.covariance[k, k]))
        half *= TWO_SIDED_95
        return Estimate(value=value, low=value - half, high=value + half)


def narrow(sizes: Sequence[MeasuredSize]) -> Narrowed:
    """Update the three shares by what was measured.

    Notes
    -----
    The sizes are linear in three independent normal unknowns, so their joint distribution is
    normal and conditioning on the readings is exact: with U (n, 3) the standard uncertainties, r
    what is found beyond what was expected and R the readings' variances, the covariance becomes
    ``(1 + U' R^-1 U)^-1`` and the mean ``C U' R^-1 r``. Left out: that a share need not be off
    alike for every size of a part. A cutter that is thinner than stated is; a wall along X and one
    along Y have other play.

    References
    ----------
    .. [1] Conditioning of a multivariate normal distribution, standard result, from memory; the
       test holds it against the product of two normal densities and against a sum over a grid.
    """
    explained: list[MeasuredSize] = []
    unexplained: list[MeasuredSize] = []
    for size in sizes:
        middle, unsure = _split(size)
        off = size.found_mm - size.programmed_mm - float(middle.sum())
        spread = float(np.sqrt(unsure @ unsure + size.u_mm**2))
        (unexplained if abs(off) > UNEXPLAINED * spread else explained).append(size)
    normal, pulled = np.eye(3), np.zeros(3)
    for size in explained:
        middle, unsure = _split(size)
        weight = 1.0 / max(size.u_mm, 1e-6) ** 2
        normal += weight * np.outer(unsure, unsure)
        pulled += weight * unsure * (size.found_mm - size.programmed_mm - float(middle.sum()))
    covariance = np.linalg.inv(normal)
    return Narrowed(
        mean=np.asarray(covariance @ pulled),
        covariance=np.asarray(covariance),
        unexplained=tuple(size.name for size in unexplained),
    )


def _split(size: MeasuredSize) -> tuple[FloatArray, FloatArray]:
    """What each share moves, and its standard uncertainty. (3,) each [mm]"""
    pairs = np.array([size.shares[which] for which in SHARES], np.float64)
    return pairs[:, 0], pairs[:, 1] / TWO_SIDED_95


@dataclass(frozen=True, slots=True, kw_only=True)
class LawNote:
    """What one cut part said of the force law in a wood: a normal likelihood of ln(true / law)."""

    precision: float
    log_factor: float  #: where that likelihood has its middle


def law_note(narrowed: Narrowed, log_factor: float, log_u: float) -> LawNote | None:
    """What a part said of the force law, when its proof was made with this factor and spread.

    The cut's share goes with the force, so its z is that of the law's logarithm. None where the
    part said nothing.
    """
    k = SHARES.index("cut")
    left = max(float(narrowed.covariance[k, k]), (LEAST_LOG_U / log_u) ** 2)
    precision = (1.0 / left - 1.0) / log_u**2
    if precision <= 0.01 / log_u**2:
        return None
    after = log_factor + log_u * float(narrowed.mean[k])
    # After = weighted mean of before and of what the part alone says.
    alone = (after * (1.0 / log_u**2 + precision) - log_factor / log_u**2) / precision
    return LawNote(precision=precision, log_factor=alone)


def law_known(notes: Sequence[LawNote], log_u: float) -> Known:
    """Factor on the published force law in a wood, from every part that was measured.

    ``log_u``: the law's own spread. ``u`` of the answer is that of the factor's logarithm.
    """
    precision = 1.0 / log_u**2 + sum(note.precision for note in notes)
    middle = sum(note.precision * note.log_factor for note in notes) / precision
    many = "one part" if len(notes) == 1 else f"{len(notes)} parts"
    return Known(
        value=exp(middle),
        kind="measured",
        ref=f"sizes of {many} cut on this machine",
        u=max(precision**-0.5, LEAST_LOG_U),
    )


def log_factor_of(known: Known | None) -> float:
    """Logarithm of the factor in use."""
    return 0.0 if known is None else log(known.value)
