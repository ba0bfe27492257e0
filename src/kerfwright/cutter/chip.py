"""How thick a chip is usually cut: trade practice for a light router."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from kerfwright.tables import read_table

_JUDGED = "suggested start"
#: Family or panel as the proof names it: materials of the table whose ranges are joined.
_MATERIALS = {
    "hardwood": ("hardwood",),
    "softwood": ("softwood",),
    "panel": ("MDF", "plywood"),
    "mdf": ("MDF",),
    "particleboard": ("MDF",),
    "plywood": ("plywood",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ChipRange:
    """Feed for each flute and turn that is usual, and who says so."""

    low_mm: float  #: below it the edge rubs and heats
    high_mm: float  #: above it a light machine and a thin cutter are strained
    source: str


def chip_range(diameter_mm: float, family: str) -> ChipRange:
    """The usual chip for a cutter in a kind of wood.

    Parameters
    ----------
    diameter_mm : float
        Cutting diameter. [mm]
    family : str
        ``hardwood``, ``softwood``, ``panel``, or a panel: ``mdf``, ``plywood``,
        ``particleboard`` (taken as MDF).

    Returns
    -------
    ChipRange
        Interpolated in the logarithms of diameter and chip. Below the least tabled diameter the
        chip shrinks with the diameter; above the greatest it stays.

    Raises
    ------
    ValueError
        If the diameter is not above 0 or the family unknown.

    Notes
    -----
    Judged ranges, not measurements: makers' charts for stiff machines ask for two to three times
    as much, and differ as much from one another. A finding from it is a caution at most.
    """
    if not 0.0 < diameter_mm < 1000.0:
        raise ValueError(f"a diameter of {diameter_mm:g} mm is not between 0 and 1 m")
    if family not in _MATERIALS:
        raise ValueError(f"no chip range for {family!r}: known are {', '.join(_MATERIALS)}")
    ends = [_interpolated(material, diameter_mm) for material in _MATERIALS[family]]
    return ChipRange(
        low_mm=min(low for low, _ in ends),
        high_mm=max(high for _, high in ends),
        source="judged for a router of 0.5 to 1.5 kW: common practice, no source",
    )


def _interpolated(material: str, diameter_mm: float) -> tuple[float, float]:
    diameters, low, high = _columns()[material]
    at = np.log(diameter_mm)
    shrink = min(1.0, diameter_mm / float(diameters[0]))
    return (
        shrink * float(np.exp(np.interp(at, np.log(diameters), np.log(low)))),
        shrink * float(np.exp(np.interp(at, np.log(diameters), np.log(high)))),
    )


@cache
def _columns() -> dict[str, np.ndarray[tuple[int, int], np.dtype[np.float64]]]:
    """Material -> rows of diameter, least and greatest chip, each (k,). [mm]"""
    out: dict[str, list[tuple[float, float, float]]] = {}
    for row in read_table("chip_load"):
        if row["source"].startswith(_JUDGED):
            columns = ("cutter_diameter_mm", "fz_min_mm", "fz_max_mm")
            diameter, low, high = (float(row[column]) for column in columns)
            out.setdefault(row["material"], []).append((diameter, low, high))
    return {material: np.array(sorted(rows)).T for material, rows in out.items()}
