"""Fits by ISO 286 and general tolerances by ISO 2768, from the tables: metal's rules; boards too.

Wood has DIN 68100 and DIN 68101, whose numbers were not seen; their letters are not those of here.
"""

from math import pi

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse
from kerfwright.tables import read_table

_KINDS = {
    "straightness": "straightness_flatness",
    "flatness": "straightness_flatness",
    "squareness": "perpendicularity",
}


def standard_mm(size_mm: Floats, grade: int) -> FloatArray:
    """Standard tolerance of a size and grade. [mm]

    Parameters
    ----------
    size_mm : float or array
        Nominal, above 0 up to 500 mm; one on a limit of the table belongs to the lower row. [mm]
    grade : int
        1 to 18: IT1 to IT18.

    Returns
    -------
    array
        Width of the tolerance, from the table ``iso286_it``. [mm]

    Raises
    ------
    ValueError
        If size or grade is not in the table.

    References
    ----------
    .. [1] ISO 286-1:2010, table 1: read in a secondary transcription.

    Examples
    --------
    size="25 mm" grade=7 -> 0.021 mm
    size="18 mm" grade=7 -> 0.018 mm
    """
    if not 1 <= grade <= 18:
        raise ValueError("grade must be 1 to 18")
    return _looked_up("iso286_it", f"IT{grade}", size_mm) / 1000.0


def shaft_mm(size_mm: Floats, letter: str, grade: int) -> tuple[FloatArray, FloatArray]:
    """Limits of a shaft, as deviations from the nominal size. [mm]

    Parameters
    ----------
    size_mm : float or array
        Nominal, above 0 up to 500 mm. [mm]
    letter : {"d", "e", "f", "g", "h", "js", "k", "m", "n", "p"}
        Where the tolerance lies.
    grade : int
        1 to 18.

    Returns
    -------
    lower_mm, upper_mm : array
        From the fundamental deviation and the width of the grade.

    Raises
    ------
    ValueError
        If size, letter or grade is not in the tables.

    Notes
    -----
    k outside grades 4 to 7 begins at 0.

    References
    ----------
    .. [1] ISO 286-1:2010: read in a secondary transcription; d to g also by their formulas.

    Examples
    --------
    size="25 mm" letter=g grade=6 -> lower -0.020 mm, upper -0.007 mm
    size="20 mm" letter=f grade=7 -> lower -0.041 mm, upper -0.020 mm
    """
    width = standard_mm(size_mm, grade)
    if letter == "js":
        return -width / 2.0, width / 2.0
    if letter not in ("d", "e", "f", "g", "h", "k", "m", "n", "p"):
        raise ValueError("letter must be d, e, f, g, h, js, k, m, n or p")
    first = _looked_up("iso286_deviations", letter, size_mm) / 1000.0
    if letter == "k" and not 4 <= grade <= 7:
        first = np.zeros_like(first)
    return (first - width, first) if letter <= "h" else (first, first + width)


def hole_mm(size_mm: Floats, letter: str, grade: int) -> tuple[FloatArray, FloatArray]:
    """Limits of a hole, as deviations from the nominal size. [mm]

    Parameters
    ----------
    size_mm : float or array
        Nominal, above 0 up to 500 mm. [mm]
    letter : {"D", "E", "F", "G", "H", "JS"}
        Where the tolerance lies.
    grade : int
        1 to 18.

    Returns
    -------
    lower_mm, upper_mm : array
        The shaft of the same letter, mirrored.

    Raises
    ------
    ValueError
        If size, letter or grade is not in the tables.

    Notes
    -----
    K, M, N and P need a rule of their own, which is not here.

    References
    ----------
    .. [1] ISO 286-1:2010: read in a secondary transcription.

    Examples
    --------
    size="25 mm" letter=H grade=7 -> lower 0 mm, upper 0.021 mm
    size="20 mm" letter=H grade=8 -> lower 0 mm, upper 0.033 mm
    """
    if letter not in ("D", "E", "F", "G", "H", "JS"):
        raise ValueError("letter must be D, E, F, G, H or JS")
    lower, upper = shaft_mm(size_mm, letter.lower(), grade)
    return 0.0 - upper, 0.0 - lower


def clearance_mm(
    size_mm: Floats, hole_letter: str, hole_grade: int, shaft_letter: str, shaft_grade: int
) -> tuple[FloatArray, FloatArray]:
    """Least and most clearance of a fit; below 0 it is a press fit. [mm]

    Parameters
    ----------
    size_mm : float or array
        Nominal, above 0 up to 500 mm. [mm]
    hole_letter : {"D", "E", "F", "G", "H", "JS"}
        Of the hole.
    hole_grade : int
        Of the hole.
    shaft_letter : {"d", "e", "f", "g", "h", "js", "k", "m", "n", "p"}
        Of the shaft.
    shaft_grade : int
        Of the shaft.

    Returns
    -------
    least_mm, most_mm : array
        Lower of the hole less upper of the shaft; upper of the hole less lower of the shaft.

    Raises
    ------
    ValueError
        If size, letters or grades are not in the tables.

    References
    ----------
    .. [1] ISO 286-1:2010: read in a secondary transcription.

    Examples
    --------
    size="25 mm" hole_letter=H hole_grade=7 shaft_letter=g shaft_grade=6 -> least 0.007 mm,
    most 0.041 mm
    size="20 mm" hole_letter=H hole_grade=8 shaft_letter=f shaft_grade=7 -> least 0.020 mm,
    most 0.074 mm
    """
    hole_low, hole_high = hole_mm(size_mm, hole_letter, hole_grade)
    shaft_low, shaft_high = shaft_mm(size_mm, shaft_letter, shaft_grade)
    return hole_low - shaft_high, hole_high - shaft_low


def general_mm(size_mm: Floats, grade: str) -> FloatArray:
    """Permissible deviation of a length without a tolerance of its own, either way. [mm]

    Parameters
    ----------
    size_mm : float or array
        Nominal, 0.5 to 4000 mm. [mm]
    grade : {"f", "m", "c", "v"}
        Fine, medium, coarse, very coarse.

    Returns
    -------
    array
        From the table ``iso2768_1_linear``. [mm]

    Raises
    ------
    ValueError
        If size or grade is not in the table.

    Notes
    -----
    One secondary table prints 0.15 and 0.2 for class c up to 6 mm, where four print 0.2 and 0.3.

    References
    ----------
    .. [1] ISO 2768-1:1989, table 1: read in secondary tables.

    Examples
    --------
    size="45 mm" grade=m -> 0.3 mm
    size="250 mm" grade=c -> 1.2 mm
    """
    if grade not in ("f", "m", "c", "v"):
        raise ValueError("grade must be f, m, c or v")
    refuse(array(size_mm) < 0.5, "below 0.5 mm the deviation must stand on the drawing")
    return _looked_up("iso2768_1_linear", grade, size_mm, closed=True)


def general_angle_rad(shorter_side_mm: Floats, grade: str) -> FloatArray:
    """Permissible deviation of an angle without a tolerance of its own, either way. [rad]

    Parameters
    ----------
    shorter_side_mm : float or array
        Of the angle's two sides. [mm]
    grade : {"f", "m", "c", "v"}
        Fine and medium are alike.

    Returns
    -------
    array
        From the table ``iso2768_geometry``. [rad]

    Raises
    ------
    ValueError
        If the grade is not in the table.

    References
    ----------
    .. [1] ISO 2768-1:1989, table 3: from memory.

    Examples
    --------
    shorter_side="45 mm" grade=m -> 0.0087266 rad
    """
    grades = {"f": "f_m", "m": "f_m", "c": "c", "v": "v"}
    if grade not in grades:
        raise ValueError("grade must be f, m, c or v")
    return _geometry("angular", grades[grade], shorter_side_mm) * pi / 10_800.0


def general_form_mm(length_mm: Floats, kind: str, grade: str) -> FloatArray:
    """General tolerance of straightness, flatness or squareness. [mm]

    Parameters
    ----------
    length_mm : float or array
        Of the line; longer side of the face; shorter side of the right angle. [mm]
    kind : {"straightness", "flatness", "squareness"}
        What is judged.
    grade : {"H", "K", "L"}
        From fine to coarse.

    Returns
    -------
    array
        Width of the band, from the table ``iso2768_geometry``. [mm]

    Raises
    ------
    ValueError
        If kind, grade or length is not in the table.

    References
    ----------
    .. [1] ISO 2768-2:1989, tables 1 and 2: from memory; straightness K read in a secondary table.

    Examples
    --------
    length="250 mm" kind=straightness grade=K -> 0.4 mm
    """
    if kind not in _KINDS or grade not in ("H", "K", "L"):
        raise ValueError(f"kind must be one of {', '.join(_KINDS)}, grade H, K or L")
    return _geometry(_KINDS[kind], grade, length_mm)


def timber_mm(size_mm: Floats, kind: str) -> tuple[FloatArray, FloatArray]:
    """How far boards as delivered may be off their size.

    Parameters
    ----------
    size_mm : float or array
        Nominal. [mm]
    kind : {"planed thickness", "planed width", "sawn", "length"}
        What is measured; sawn holds for thickness and width.

    Returns
    -------
    lower_mm, upper_mm : array
        Planed thickness: 0.5 mm either way up to 20 mm, 1 above; planed width: 1 up to 100 mm, 1.5
        above; sawn: -1 and +3 up to 100 mm, -2 and +4 above; cut length: 2 either way. [mm]

    Raises
    ------
    ValueError
        If the kind is not one of these or a size is not above 0.

    Notes
    -----
    Of softwood at the moisture at which it was planed or sawn. Measure the board in hand.

    References
    ----------
    .. [1] Puuinfo, delivery tolerances of sawn and planed timber: read.

    Examples
    --------
    size="18 mm" kind="planed thickness" -> lower -0.5 mm, upper 0.5 mm
    size="125 mm" kind=sawn -> lower -2 mm, upper 4 mm
    """
    rows = {
        "planed thickness": (20.0, (-0.5, 0.5), (-1.0, 1.0)),
        "planed width": (100.0, (-1.0, 1.0), (-1.5, 1.5)),
        "sawn": (100.0, (-1.0, 3.0), (-2.0, 4.0)),
        "length": (np.inf, (-2.0, 2.0), (-2.0, 2.0)),
    }
    if kind not in rows:
        raise ValueError(f"kind must be one of {', '.join(rows)}")
    above_zero(size_mm=size_mm)
    limit, small, large = rows[kind]
    low, high = (
        np.where(array(size_mm) <= limit, *pair) for pair in zip(small, large, strict=True)
    )
    return low, high


def _geometry(quantity: str, grade: str, length_mm: Floats) -> FloatArray:
    rows = [
        row
        for row in read_table("iso2768_geometry")
        if row["quantity"] == quantity and row["class"] == grade
    ]
    ends = np.array([float(row["range_upto_mm"] or np.inf) for row in rows])
    return _row(ends, np.array([float(row["value"]) for row in rows]), 0.0, length_mm)


def _looked_up(table: str, column: str, size_mm: Floats, closed: bool = False) -> FloatArray:
    """The value of a column in the row that holds a size; ``closed``: the least size too."""
    rows = [row for row in read_table(table) if row[column]]
    ends = np.array([float(row["upto_mm"]) for row in rows])
    least = float(rows[0]["over_mm"]) - (1e-9 if closed else 0.0)
    return _row(ends, np.array([float(row[column]) for row in rows]), least, size_mm)


def _row(ends: FloatArray, values: FloatArray, least: float, size_mm: Floats) -> FloatArray:
    size = array(size_mm)
    inside = (size > least) & (size <= ends[-1])
    refuse(~inside, f"the table holds sizes above {max(least, 0.0):g} up to {ends[-1]:g} mm")
    return np.asarray(values[np.searchsorted(ends, size, side="left")])
