"""How far a screw's thread is off over its travel."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse
from kerfwright.tables import read_table


def error_mm(
    travel_mm: Floats, deviation_mm: Floats, per_length_mm: Floats = 300.0, adds_up: bool = True
) -> FloatArray:
    """Greatest error of travel of a screw whose lead is off by so much in each length. [mm]

    Parameters
    ----------
    travel_mm : float or array
        Between the two places. [mm]
    deviation_mm, per_length_mm : float or array
        The class, either way, and the length that it is given for: 0.1 mm in 300 mm. [mm]
    adds_up : bool
        Whether the error goes on growing with the travel; else it stays within the class from one
        length on.

    Returns
    -------
    array
        e x / L, either way; not above e where it does not add up. [mm]

    Raises
    ------
    ValueError
        If a length is not above 0 or a deviation below 0.

    Notes
    -----
    The worst case of the class, not what one screw does: a rule or a gauge block shows that.

    References
    ----------
    .. [1] Supplier pages ("0.004 in/ft"): read. The sum over the travel: arithmetic.

    Examples
    --------
    travel="1200 mm" deviation="0.1 mm" -> 0.4 mm
    """
    not_below_zero(travel_mm=travel_mm, deviation_mm=deviation_mm)
    above_zero(per_length_mm=per_length_mm)
    lengths = array(travel_mm) / array(per_length_mm)
    return array(deviation_mm) * (lengths if adds_up else np.minimum(lengths, 1.0))


def ball_screw_mm(length_mm: Floats, grade: str) -> FloatArray:
    """Permissible travel error of a ball screw by its grade and thread length, either way. [mm]

    Parameters
    ----------
    length_mm : float or array
        Effective length of the thread, up to 4000 mm (C0: 1600 mm). [mm]
    grade : {"C0", "C1", "C3", "C5"}
        Of JIS B 1192.

    Returns
    -------
    array
        Representative travel error E of the table ``ballscrew_lead_accuracy``. [mm]

    Raises
    ------
    ValueError
        If the length or the grade is not in the table.

    Notes
    -----
    C3 and C5 are from memory but for the row of 800 to 1000 mm. Rolled screws (C7, C10) are given
    for 300 mm: ``lead-accuracy-error``.

    References
    ----------
    .. [1] JIS B 1192 / ISO 3408, by makers' technical pages: C0, C1 read; C3, C5 from memory, their
       last row read.

    Examples
    --------
    length="842 mm" grade=C5 -> 0.040 mm
    length="842 mm" grade=C3 -> 0.021 mm
    """
    if grade not in ("C0", "C1", "C3", "C5"):
        raise ValueError("grade must be C0, C1, C3 or C5")
    rows = [row for row in read_table("ballscrew_lead_accuracy") if row[f"{grade}_E"]]
    ends = np.array([float(row["upto_mm"]) for row in rows])
    errors_um = np.array([float(row[f"{grade}_E"]) for row in rows])
    length = array(length_mm)
    refuse(~((length > 0.0) & (length <= ends[-1])), f"the table ends at {ends[-1]:g} mm")
    return np.asarray(errors_um[np.searchsorted(ends, length, side="left")] / 1000.0)
