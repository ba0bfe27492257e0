"""Flat plates and sandwiches, bent, sheared and stretched, by Ritz's way with polynomials.

Five movements of the middle plane: u and v in it along x and y, w square to it, and turns rx and
ry about x and y; what lies z above it moves by u + z ry, v - z rx. Each is a sum of products of
Legendre polynomials over the rectangle, up to an order each way; the numbers in front of them are
what is solved for. Order of the numbers: w, rx, ry or u, v; of each, along x first to last, in each
all along y. x and y count from the middle. [mm, rad; N, N mm]
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse


def flexural_rigidity_nmm(modulus_mpa: Floats, thickness_mm: Floats, poisson: Floats) -> FloatArray:
    """Bending stiffness of a solid plate, for each mm of width. [N mm]

    Parameters
    ----------
    modulus_mpa, thickness_mm : float or array
        Young's modulus; thickness. [MPa, mm]
    poisson : float or array
        Poisson's ratio. [-]

    Returns
    -------
    array
        E t³ / 12 (1 - v²). [N mm]

    Raises
    ------
    ValueError
        If a modulus or thickness is not above 0.

    References
    ----------
    .. [1] Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells: from memory.

    Examples
    --------
    modulus="3590 MPa" thickness="6 mm" poisson=0.3 -> 71010.989 N mm
    """
    above_zero(modulus_mpa=modulus_mpa, thickness_mm=thickness_mm)
    return array(modulus_mpa) * array(thickness_mm) ** 3 / (12.0 * (1.0 - array(poisson) ** 2))


def bending_matrix(
    sides_mm: FloatArray, bending_nmm: float, shear_n_per_mm: float, poisson: float, order: int
) -> FloatArray:
    """Stiffness of a free rectangular plate against bending and shear, over w, rx, ry.

    Parameters
    ----------
    sides_mm : array (2,)
        Along x and y. [mm]
    bending_nmm : float
        For each mm of width, ``plate-flexural-rigidity``; of a sandwich its D over its width, with
        E / (1 - v²). [N mm]
    shear_n_per_mm : float
        For each mm of width: 5/6 G t; of a sandwich its U over its width. [N/mm]
    poisson : float
        Poisson's ratio. [-]
    order : int
        Of the highest polynomial each way.

    Returns
    -------
    array (3 n, 3 n)
        n = (order + 1)²; twice the energy for such movements. [N/mm, N, N mm]

    Raises
    ------
    ValueError
        If a side or a stiffness is not above 0, or the order is not 1 to 12.

    Notes
    -----
    Reissner and Mindlin's plate, one stiffness in all directions, small movements. Stiffer than the
    plate by what the polynomials cannot follow; under a force at a point it gives without end as
    the order grows, very slowly.

    References
    ----------
    .. [1] Ritz; energy of a plate with shear: Mindlin. Textbook, from memory.

    Examples
    --------
    sides="[200, 100] mm" bending="71011 N mm" shear="6904 N/mm" poisson=0.3 order=1
    -> first row [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]
    """
    m, xx, yy, xy, yx, x0, y0 = _products(sides_mm, order)
    above_zero(bending_nmm=bending_nmm, shear_n_per_mm=shear_n_per_mm)
    half = 0.5 * (1.0 - poisson)
    shear = shear_n_per_mm
    w_rx, w_ry = -shear * y0, shear * x0
    ry_rx = -bending_nmm * (poisson * xy + half * yx)
    return np.block(
        [
            [shear * (xx + yy), w_rx, w_ry],
            [w_rx.T, bending_nmm * (yy + half * xx) + shear * m, ry_rx.T],
            [w_ry.T, ry_rx, bending_nmm * (xx + half * yy) + shear * m],
        ]
    )


def stretching_matrix(
    sides_mm: FloatArray, stretch_n_per_mm: float, poisson: float, order: int
) -> FloatArray:
    """Stiffness of a free rectangular plate in its plane, over u and v.

    Parameters
    ----------
    sides_mm : array (2,)
        Along x and y. [mm]
    stretch_n_per_mm : float
        E t / (1 - v²); of a sandwich that of both skins. [N/mm]
    poisson : float
        Poisson's ratio. [-]
    order : int
        Of the highest polynomial each way.

    Returns
    -------
    array (2 n, 2 n)
        n = (order + 1)²; twice the energy for such movements. [N/mm]

    Raises
    ------
    ValueError
        If a side or a stiffness is not above 0, or the order is not 1 to 12.

    References
    ----------
    .. [1] Ritz; plane stress. Textbook, from memory.

    Examples
    --------
    sides="[200, 100] mm" stretch="23670 N/mm" poisson=0.3 order=1
    -> first row [0, 0, 0, 0, 0, 0, 0, 0]
    """
    _, xx, yy, xy, yx, _, _ = _products(sides_mm, order)
    above_zero(stretch_n_per_mm=stretch_n_per_mm)
    half = 0.5 * (1.0 - poisson)
    mixed = poisson * xy + half * yx
    return stretch_n_per_mm * np.block([[xx + half * yy, mixed], [mixed.T, yy + half * xx]])


def shapes_at(sides_mm: FloatArray, at_mm: FloatArray, order: int) -> FloatArray:
    """What each product of polynomials is at places.

    Parameters
    ----------
    sides_mm : array (2,)
        Along x and y. [mm]
    at_mm : array (k, 2)
        The places, from the middle. [mm]
    order : int
        Of the highest polynomial each way.

    Returns
    -------
    array (k, n)
        n = (order + 1)²; a movement there is the sum of these, each by its number.

    References
    ----------
    .. [1] Legendre polynomials.

    Examples
    --------
    sides="[200, 100] mm" at="[[50, 25]] mm" order=1 -> first row [1, 0.5, 0.5, 0.25]
    """
    share = 2.0 * array(at_mm) / array(sides_mm)
    one, two = (np.polynomial.legendre.legvander(share[:, way], order) for way in (0, 1))
    return np.asarray((one[:, :, None] * two[:, None, :]).reshape(len(share), -1))


def shapes_over(
    sides_mm: FloatArray, at_mm: FloatArray, reach_mm: float, order: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean of each product of polynomials, and of its slopes, over squares about places.

    Parameters
    ----------
    sides_mm : array (2,)
        Along x and y. [mm]
    at_mm : array (k, 2)
        Middles of the squares, from the middle of the plate; on it. [mm]
    reach_mm : float
        Half the side of a square; what lies beyond the plate does not count. [mm]
    order : int
        Of the highest polynomial each way.

    Returns
    -------
    mean, slope_x, slope_y : array (k, n)
        n = (order + 1)². The slopes are in 1/mm. The mean movement of what is spread evenly
        over the square; a force spread over it works on the numbers by these.

    Raises
    ------
    ValueError
        If a place is not on the plate or the reach is not above 0.

    References
    ----------
    .. [1] Gauss's quadrature, exact for these polynomials.

    Examples
    --------
    sides="[200, 100] mm" at="[[0, 0]] mm" reach="10 mm" order=1
    -> mean [1, 0, 0, 0], slope_x [0, 0, 0.01, 0], slope_y [0, 0.02, 0, 0]
    """
    above_zero(reach_mm=reach_mm)
    sides = array(sides_mm)
    refuse(np.abs(array(at_mm)) > 0.5 * sides * (1.0 + 1e-9), "a place is not on the plate")
    low = np.clip(array(at_mm) - reach_mm, -0.5 * sides, 0.5 * sides)
    high = np.clip(array(at_mm) + reach_mm, -0.5 * sides, 0.5 * sides)
    points, weights = _gauss(order // 2 + 1)
    means, slopes = [], []
    for way in (0, 1):
        middle, half = 0.5 * (low + high)[:, way], 0.5 * (high - low)[:, way]
        at = (middle[:, None] + half[:, None] * points) * 2.0 / sides[way]
        values, turns = _legendre(at.reshape(-1), order)
        weigh = 0.5 * weights[:, None]
        means.append((values.reshape(*at.shape, -1) * weigh).sum(axis=1))
        slopes.append((turns.reshape(*at.shape, -1) * weigh).sum(axis=1) * 2.0 / sides[way])

    def product(one: FloatArray, two: FloatArray) -> FloatArray:
        return np.asarray((one[:, :, None] * two[:, None, :]).reshape(len(one), -1))

    return product(*means), product(slopes[0], means[1]), product(means[0], slopes[1])


def solved(stiffness: FloatArray, load: FloatArray) -> FloatArray:
    """Numbers of a plate that is held alike on both sides of both its middle lines, under loads.

    Parameters
    ----------
    stiffness : array (n, n)
        ``plate-bending-matrix`` or ``plate-stretching-matrix``, with what holds the plate.
    load : array (n, k)
        What loads work on the numbers.

    Returns
    -------
    array (n, k)
        The numbers.

    Raises
    ------
    ValueError
        If the size belongs to neither matrix.

    Notes
    -----
    What is even and what is odd about a middle line do not meet: four small sets of equations.

    References
    ----------
    .. [1] Symmetry: textbook.

    Examples
    --------
    stiffness="[[1,0,0,0,0,0,0,0],[0,2,0,0,0,0,1,0],[0,0,1,0,0,0,0,0],[0,0,0,1,0,0,0,0],
    [0,0,0,0,1,0,0,0],[0,0,0,0,0,1,0,0],[0,1,0,0,0,0,2,0],[0,0,0,0,0,0,0,1]]"
    load="[[1],[3],[0],[0],[0],[0],[3],[0]]" -> first row [1]
    """
    out = np.empty_like(load)
    for own in _even_and_odd(len(stiffness)):
        out[own] = np.linalg.solve(stiffness[np.ix_(own, own)], load[own])
    return out


@cache
def _gauss(many: int) -> tuple[FloatArray, FloatArray]:
    """Points and weights of Gauss's quadrature from -1 to 1."""
    return np.polynomial.legendre.leggauss(many)


@cache
def _even_and_odd(numbers: int) -> tuple[NDArray[np.intp], ...]:
    """Which numbers belong together where nothing differs left from right nor front from back."""
    # Of w, rx, ry and of u, v: which are odd along x, and along y, where w is even.
    fields = {3: ((0, 0), (0, 1), (1, 0)), 2: ((1, 0), (0, 1))}
    orders = {many: round((numbers / many) ** 0.5) for many in fields}
    fits = [many for many, order in orders.items() if order * order * many == numbers]
    refuse(not fits, "stiffness is of no plate")
    odd, k = fields[fits[0]], np.arange(orders[fits[0]]) % 2
    kinds = [(2 * ((k + x)[:, None] % 2) + (k + y)[None, :] % 2).reshape(-1) for x, y in odd]
    both = np.concatenate(kinds)
    return tuple(np.flatnonzero(both == kind) for kind in range(4))


def _legendre(at: FloatArray, order: int) -> tuple[FloatArray, FloatArray]:
    """Polynomials and their slopes. (k, order + 1) each"""
    values: FloatArray = np.asarray(np.polynomial.legendre.legvander(at, order), dtype=np.float64)
    turns = np.zeros_like(values)
    for k in range(1, order + 1):  # P'k = P'(k-2) + (2 k - 1) P(k-1)
        turns[:, k] = (2 * k - 1) * values[:, k - 1] + (turns[:, k - 2] if k > 1 else 0.0)
    return values, turns


@cache
def _on_unit(order: int) -> tuple[FloatArray, ...]:
    """Over the square from -1 to 1: f g, f_x g_x, f_y g_y, f_x g_y, f_y g_x, f_x g, f_y g."""
    points, weights = _gauss(order + 1)
    values, turns = _legendre(points, order)
    own, slope, both = (
        np.asarray((one * weights[:, None]).T @ two, dtype=np.float64)
        for one, two in ((values, values), (turns, turns), (turns, values))
    )
    pairs = (
        (own, own), (slope, own), (own, slope), (both, both.T), (both.T, both), (both, own),
        (own, both),
    )  # fmt: skip
    return tuple(np.asarray(np.kron(one, two), dtype=np.float64) for one, two in pairs)


def _products(sides_mm: FloatArray, order: int) -> list[FloatArray]:
    sides = array(sides_mm)
    above_zero(sides_mm=sides)
    refuse(order < 1 or order > 12, "the order is 1 to 12")
    x, y = 2.0 / sides
    scales = (1.0, x * x, y * y, x * y, x * y, x, y)
    return [scale / (x * y) * one for scale, one in zip(scales, _on_unit(order), strict=True)]
