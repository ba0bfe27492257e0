"""The machine's axes as rows of numbers for the kernels."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels import cutting
from kerfwright.machine import AxisModel, MachineModel

FloatArray = NDArray[np.float64]
_CURVE_POINTS = 512


def axis_numbers(machine: MachineModel) -> tuple[FloatArray, FloatArray]:
    """Numbers (3, AXIS_NUMBERS) and torque curves (3, k) of X, Y and Z, as ``kernels.cutting``."""
    rows = [_numbers(axis) for axis in machine.axes]
    curves = [
        np.interp(
            np.linspace(0.0, axis.curve_rev_per_s[-1], _CURVE_POINTS),
            axis.curve_rev_per_s,
            axis.curve_torque_nmm,
        )
        for axis in machine.axes
    ]
    return np.array(rows), np.array(curves)


def _numbers(axis: AxisModel) -> list[float]:
    row = [0.0] * cutting.AXIS_NUMBERS
    row[cutting.A_LEAD] = axis.lead_mm
    row[cutting.A_MOTORS] = float(axis.motors)
    row[cutting.A_MASS] = axis.mass_kg
    row[cutting.A_FRICTION] = axis.friction_n
    row[cutting.A_RAISING] = axis.raising_mm
    row[cutting.A_LOWERING] = axis.lowering_mm
    row[cutting.A_DRAG] = axis.drag_torque_nmm
    row[cutting.A_INERTIA] = axis.inertia_kg_mm2
    row[cutting.A_WEIGHT] = axis.weight_n
    row[cutting.A_TOP] = float(axis.curve_rev_per_s[-1])
    return row
