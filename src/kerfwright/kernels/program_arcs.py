"""Geometry of the arcs of a cutting program, compiled for the kernel and plain beside it."""

from math import atan2, pi, sqrt

from kerfwright.kernels.compiling import inner_kernel

#: Two points closer than this are one: far below any digit that a program prints.
SAME_POINT_MM = 1e-6
#: Beyond this no place, number or speed is believed.
FARTHEST = 1e7


def turned_angle_reference(
    start_a: float, start_b: float, end_a: float, end_b: float, turn: float
) -> float:
    """Angle of an arc between two points given from its centre.

    Parameters
    ----------
    start_a, start_b, end_a, end_b : float
        Start and end from the centre, in a right-handed pair of axes. [mm]
    turn : float
        1 for counter-clockwise (G3), -1 for clockwise (G2).

    Returns
    -------
    float
        Signed angle, above 0 and up to 2 pi in size; a full turn when start and end are one point
        within ``SAME_POINT_MM`` along the arc. [rad]
    """
    angle = atan2(start_a * end_b - start_b * end_a, start_a * end_a + start_b * end_b)
    radius = sqrt(start_a * start_a + start_b * start_b)
    if abs(angle) * radius <= SAME_POINT_MM:
        return turn * 2.0 * pi
    if turn > 0.0 and angle < 0.0:
        return angle + 2.0 * pi
    if turn < 0.0 and angle > 0.0:
        return angle - 2.0 * pi
    return angle


def centre_by_radius_reference(
    chord_a: float, chord_b: float, radius: float, turn: float
) -> tuple[float, float, float]:
    """Centre of an arc given by its chord and its radius (NISTIR 6556, 3.5.3.1).

    Parameters
    ----------
    chord_a, chord_b : float
        End minus start, in a right-handed pair of axes; not both 0. [mm]
    radius : float
        Above 0 for a turn of up to half a circle, below 0 for the larger part. [mm]
    turn : float
        1 for counter-clockwise (G3), -1 for clockwise (G2).

    Returns
    -------
    tuple of float
        Centre from the start, both axes; and by how much half the chord is longer than the
        radius, 0 if it is not (the centre is then the middle of the chord). [mm]
    """
    length = sqrt(chord_a * chord_a + chord_b * chord_b)
    rest = radius * radius - 0.25 * (length * length)
    if rest <= 0.0:
        return 0.5 * chord_a, 0.5 * chord_b, max(0.0, 0.5 * length - abs(radius))
    side = turn * sqrt(rest) / length
    if radius < 0.0:
        side = -side
    return 0.5 * chord_a - side * chord_b, 0.5 * chord_b + side * chord_a, 0.0


turned_angle = inner_kernel()(turned_angle_reference)
centre_by_radius = inner_kernel()(centre_by_radius_reference)
