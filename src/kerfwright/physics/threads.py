"""Threads of lead screws: lead, mean diameter, flank, and named sizes from the tables."""

from math import radians

from kerfwright.basics.units import INCH_MM
from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse
from kerfwright.tables import read_table

_FLANKS_RAD = {"acme": radians(14.5), "trapezoidal": radians(15.0), "square": 0.0}


def lead_mm(pitch_mm: Floats, starts: Floats = 1.0) -> FloatArray:
    """Travel in one turn of a screw. [mm]

    Parameters
    ----------
    pitch_mm : float or array
        From thread to thread; an inch screw of n threads to the inch has 1 in / n. [mm]
    starts : float or array
        Of the thread: count the ends at the screw's end. [-]

    Returns
    -------
    array
        p times starts. [mm]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    Pitch taken for lead is wrong by the number of starts: turn the screw once and measure.

    References
    ----------
    .. [1] Machinery's Handbook; a supplier's glossary: read.

    Examples
    --------
    pitch="1/10 in" starts=5 -> 12.7 mm
    pitch="2 mm" starts=4 -> 8 mm
    """
    above_zero(pitch_mm=pitch_mm, starts=starts)
    return array(pitch_mm) * array(starts)


def mean_diameter_mm(diameter_mm: Floats, pitch_mm: Floats) -> FloatArray:
    """Diameter at which a screw thread's forces act: the pitch diameter. [mm]

    Parameters
    ----------
    diameter_mm, pitch_mm : float or array
        Outside; from thread to thread. [mm]

    Returns
    -------
    array
        d - p / 2, for square, Acme and trapezoidal threads. [mm]

    Raises
    ------
    ValueError
        If a value is not above 0, or nothing is left.

    Notes
    -----
    Basic size: real threads are a few hundredths of a mm thinner.

    References
    ----------
    .. [1] Shigley, section 8-2: from memory; for trapezoidal threads a page after ISO 2904: read.

    Examples
    --------
    diameter="0.5 in" pitch="0.1 in" -> 11.43 mm
    diameter="12 mm" pitch="3 mm" -> 10.5 mm
    """
    above_zero(diameter_mm=diameter_mm, pitch_mm=pitch_mm)
    mean = array(diameter_mm) - array(pitch_mm) / 2.0
    refuse(mean <= 0.0, "the pitch leaves no core")
    return mean


def flank_half_angle_rad(form: str) -> FloatArray:
    """Half the included angle of a thread's form. [rad]

    Parameters
    ----------
    form : {"acme", "trapezoidal", "square"}
        Of the thread.

    Returns
    -------
    array
        14.5, 15 or 0 degrees. [rad]

    Raises
    ------
    ValueError
        If the form is another.

    References
    ----------
    .. [1] ASME B1.5 and ISO 2901: from memory.

    Examples
    --------
    form=acme -> 0.2530727 rad
    """
    if form not in _FLANKS_RAD:
        raise ValueError(f"form must be one of {', '.join(_FLANKS_RAD)}")
    return array(_FLANKS_RAD[form])


def acme_mm(size: str) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Sizes of a general-purpose Acme screw, class 2G. [mm]

    Parameters
    ----------
    size : {"1/4-16", "5/16-14", "3/8-12", "7/16-12", "1/2-10", "5/8-8", "3/4-6", "7/8-6", "1-5",
        "1-1/8-5", "1-1/4-5", "1-3/8-4", "1-1/2-4", "1-3/4-4", "2-4", "2-1/4-3", "2-1/2-3", "3-2"}
        Inches and threads to the inch.

    Returns
    -------
    diameter_mm, pitch_mm, mean_diameter_mm, least_mean_diameter_mm, least_root_diameter_mm : array
        Outside; thread to thread; basic and least pitch diameter; least core. Table
        ``acme_threads``.

    Raises
    ------
    ValueError
        If the size is not in the table.

    Notes
    -----
    5/16 and 7/16 may differ by 0.01 mm from printed tables.

    References
    ----------
    .. [1] ASME B1.5: sizes and rules of class 2G from memory; 1-1/2-4 agrees with R. L. Mott,
       Machine Elements in Mechanical Design, 4th ed., example 17-1: read.

    Examples
    --------
    size=1/2-10 -> diameter 12.7 mm, pitch 2.54 mm, mean_diameter 11.43 mm,
    least_mean_diameter 10.937 mm, least_root_diameter 9.129 mm
    """
    for row in read_table("acme_threads"):
        if f"{row['size']}-{row['tpi']}" == size:
            columns = ("D_in", "pitch_dia_basic_in", "pitch_dia_min_2G_in", "minor_dia_min_2G_in")
            outside, mean, least, core = (array(float(row[key]) * INCH_MM) for key in columns)
            return outside, array(INCH_MM / float(row["tpi"])), mean, least, core
    raise ValueError("no such size is in the table of Acme threads")


def trapezoidal_mm(size: str) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Sizes of a metric trapezoidal screw of the preferred series. [mm]

    Parameters
    ----------
    size : {"Tr8x1.5", "Tr10x2", "Tr12x3", "Tr16x4", "Tr20x4", "Tr24x5", "Tr28x5", "Tr32x6",
        "Tr36x6", "Tr40x7", "Tr44x7", "Tr48x8", "Tr52x8", "Tr60x9", "Tr70x10", "Tr80x10"}
        Diameter and pitch.

    Returns
    -------
    diameter_mm, pitch_mm, mean_diameter_mm, root_diameter_mm : array
        Outside; thread to thread; d2 = d - p / 2; d3 of the screw. Table ``trapezoidal_threads``.

    Raises
    ------
    ValueError
        If the size is not in the table.

    Notes
    -----
    Light machines often have 8 mm screws of pitch 2 mm in four starts, which are outside the
    series: ``thread-mean-diameter``.

    References
    ----------
    .. [1] A page after DIN 103 and ISO 2904: sizes and d2 read; d3 = d - p - 2 a_c from memory.

    Examples
    --------
    size=Tr12x3 -> diameter 12 mm, pitch 3 mm, mean_diameter 10.5 mm, root_diameter 8.5 mm
    """
    for row in read_table("trapezoidal_threads"):
        if row["designation"] == size:
            outside, pitch, mean, core = (
                array(float(row[key])) for key in ("d_mm", "P_mm", "d2_mm", "d3_mm")
            )
            return outside, pitch, mean, core
    raise ValueError("no such size is in the table of trapezoidal threads")
