"""The outline of a cutter over one lane of the wood beside its axis.

A lane lies at b beside the axis, along the travel. At e ahead of the axis the outline stands over
it at F(e) = f(sqrt(e² + b²)) - m e above the path; f: the outline, m: the path's slope.
"""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import INLINED
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.profile import (
    ARC,
    ARC_END,
    ARC_TOP,
    DISC,
    FLANK,
    FORM_NUMBERS,
    RADIUS,
    plain_rise,
    profile_mm,
    rise,
    rise_and_slope,
)


@inner_kernel(**INLINED)
def lowest_of(b, m, form):  # type: ignore[no-untyped-def]
    """Lowest place of the outline above the path over a lane, and how far ahead of the axis.

    ``b``: how far beside the axis, up to the radius. [mm]; m: slope of the path.
    """
    if m == 0.0:
        if form.shape[0] > FORM_NUMBERS:
            return rise(b, form), 0.0
        return (
            plain_rise(b, form[DISC], form[ARC], form[ARC_END], form[ARC_TOP], form[FLANK]),
            0.0,
        )
    steep, sign = abs(m), 1.0 if m > 0.0 else -1.0
    radius, disc, arc = form[RADIUS], form[DISC], form[ARC]
    ahead = sqrt(max(radius * radius - b * b, 0.0))
    if form.shape[0] == FORM_NUMBERS and disc == 0.0:
        # A ball or a sharp V: where the outline is as steep as the path.
        longer = sqrt(1.0 + m * m)
        upright = sqrt(max(arc * arc - b * b, 0.0))
        e = steep * upright / longer
        if b * b + e * e <= form[ARC_END] * form[ARC_END]:
            return arc - upright * longer, sign * e
        flank = form[FLANK]
        e = min(steep * b / sqrt(flank * flank - m * m), ahead) if flank > steep else ahead
        r = min(sqrt(b * b + e * e), radius)
        up = plain_rise(r, disc, arc, form[ARC_END], form[ARC_TOP], flank)
        return up - steep * e, sign * e
    low, high = sqrt(max(disc * disc - b * b, 0.0)), ahead
    for _ in range(10):
        e = 0.5 * (low + high)
        r = sqrt(b * b + e * e)
        if rise_and_slope(r, form)[1] * e < steep * r:
            low = e
        else:
            high = e
    e = sign * low
    return rise(min(sqrt(b * b + low * low), radius), form) - m * e, e


@inner_kernel(**INLINED)
def meets_at(z, b, m, ahead, at_under, form):  # type: ignore[no-untyped-def]
    """How far ahead of the axis the outline over a lane is at a height above the sloping path."""
    if form.shape[0] == FORM_NUMBERS and form[DISC] == 0.0:
        # Of a ball, (1 + m²) e² - 2 m q e + q² + b² - arc² = 0; of a flank much the same.
        arc, q = form[ARC], form[ARC] - z
        square = m * m * q * q - (1.0 + m * m) * (q * q + b * b - arc * arc)
        e = (m * q + sqrt(max(square, 0.0))) / (1.0 + m * m)
        flank2 = form[FLANK] * form[FLANK]
        if sqrt(b * b + e * e) > form[ARC_END] and flank2 > m * m:
            q = z - form[ARC_TOP] + form[FLANK] * form[ARC_END]
            square = m * m * q * q - (flank2 - m * m) * (flank2 * b * b - q * q)
            e = (m * q + sqrt(max(square, 0.0))) / (flank2 - m * m)
        return min(max(e, -ahead), ahead)
    low, high = max(at_under, -ahead), ahead
    for _ in range(8):
        e = 0.5 * (low + high)
        if rise(sqrt(b * b + e * e), form) - m * e < z:
            low = e
        else:
            high = e
    return high


def outline_over(b: float, m: float, form: NDArray[np.float64]) -> NDArray[np.float64]:
    """The outline above the path along a lane, from the cutter's front backwards. (4001,)"""
    e = np.linspace(1.0, -1.0, 4001) * np.sqrt(max(form[RADIUS] ** 2 - b**2, 0.0))
    up = profile_mm(np.minimum(np.hypot(e, b), form[RADIUS]), form)
    return np.asarray(up - m * e)
