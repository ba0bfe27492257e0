"""Screws named by their size, from the tables of threads."""

import re
from functools import cache
from math import radians

from kerfwright.basics import Known
from kerfwright.basics.units import INCH_MM
from kerfwright.machine.defaults import between, exact
from kerfwright.tables import read_table

#: Half the included angle of each form of sliding thread. [rad]
FLANK_RAD = {"acme": radians(14.5), "trapezoidal": radians(15.0), "square": 0.0}


@cache
def screw_by_size(size: str, form: str) -> tuple[Known, Known, Known] | None:
    """Diameter, pitch and core diameter of a named thread; None if it is not in the tables."""
    plain = re.sub(r"\s", "", size)
    if form == "acme" and (match := re.fullmatch(r"(\d+(?:-\d+/\d+)?|\d+/\d+)-(\d+)", plain)):
        ref = "table acme_threads, after ASME B1.5 from memory"
        for row in read_table("acme_threads"):
            if row["size"] == match[1] and row["tpi"] == match[2]:
                low, high = (
                    float(row[key]) * INCH_MM
                    for key in ("minor_dia_min_2G_in", "minor_dia_basic_in")
                )
                return (
                    exact(float(row["D_in"]) * INCH_MM, ref),
                    exact(INCH_MM / float(row["tpi"]), ref),
                    between(low, high, ref, "datasheet"),
                )
    if form == "trapezoidal" and (
        match := re.fullmatch(r"[Tt][Rr](\d+(?:\.\d+)?)[x×](\d+(?:\.\d+)?)", plain)
    ):
        name = "Tr" + plain[2:].replace("×", "x")
        ref = "table trapezoidal_threads, after DIN 103"
        for row in read_table("trapezoidal_threads"):
            if row["designation"] == name:
                return tuple(exact(float(row[k]), ref) for k in ("d_mm", "P_mm", "d3_mm"))  # type: ignore[return-value]
        return _by_profile(float(match[1]), float(match[2]))
    return None


def _by_profile(diameter_mm: float, pitch_mm: float) -> tuple[Known, Known, Known] | None:
    """A trapezoidal thread that is in no series, as Tr8x2 of light machines: by the profile.

    The core is d - P - 2 a with the crest clearance a of the table: 0.15 at 1.5 mm pitch, 0.25 from
    2 to 5, 0.5 from 6 to 12 (DIN 103, from memory).
    """
    clearance = 0.15 if pitch_mm < 2.0 else 0.25 if pitch_mm < 6.0 else 0.5
    core = diameter_mm - pitch_mm - 2.0 * clearance
    if not (1.0 <= pitch_mm <= 12.0 and diameter_mm <= 200.0 and core >= 0.4 * diameter_mm):
        return None
    ref = "outside the series; by the profile of DIN 103"
    return exact(diameter_mm, ref), exact(pitch_mm, ref), exact(core, ref)
