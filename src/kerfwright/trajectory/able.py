"""What the motors could do, whatever the controller is set to: acceleration falling with speed."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.machine import AxisModel, MachineModel
from kerfwright.machine.drive import WHIP_SHARE
from kerfwright.machine.results import possible_acceleration

FloatArray = NDArray[np.float64]

BANDS = 64
_FINE = 16  #: samples in one band
_LEAST_MM_PER_S2 = 1.0


def highest_speed_mm_per_s(axis: AxisModel, kept: float) -> float:
    """Speed that an axis can reach: its motors still speed up, its screw does not whip."""
    speeds = np.linspace(0.0, axis.lead_mm * float(axis.curve_rev_per_s[-1]), 4000)
    able = possible_acceleration(axis, speeds, kept) > _LEAST_MM_PER_S2
    last = len(speeds) - 1 if able.all() else int(np.argmin(able)) - 1
    # A motor that cannot move its axis at all still gets a speed, so that a time comes out.
    return max(min(float(speeds[max(last, 0)]), WHIP_SHARE * axis.whip_mm_per_s), 0.5)


def motor_limits(machine: MachineModel, kept: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Top speed (3,), acceleration by bands of speed (3, BANDS), and the bands' widths (3,).

    [mm/s, mm/s², mm/s]. Within a band the acceleration is the one that needs the same way to pass
    through it: with s = ∫ v dv / a(v) every ramp between two bands has its right length.
    """
    top = np.array([highest_speed_mm_per_s(axis, kept) for axis in machine.axes])
    band = top / BANDS
    limit = np.empty((3, BANDS))
    share = (np.arange(BANDS * _FINE) + 0.5) / (BANDS * _FINE)
    for row, axis in enumerate(machine.axes):
        speed = share * top[row]
        able = np.maximum(possible_acceleration(axis, speed, kept), _LEAST_MM_PER_S2)
        by_band = speed.reshape(BANDS, _FINE)
        limit[row] = by_band.sum(axis=1) / (by_band / able.reshape(BANDS, _FINE)).sum(axis=1)
    return top, np.minimum.accumulate(limit, axis=1), band
