"""A carriage on its rail as a rigid body on springs: how stiffly it shifts, rolls, pitches, yaws.

Six-vectors as in ``frame``: x, y, z, then turns about them. [mm, rad; N, N mm]
"""

import numpy as np

from kerfwright.physics.domain import (
    FloatArray,
    Floats,
    above_zero,
    array,
    not_below_zero,
    refuse,
)

_TURNS = 200  #: of Newton's way at most; convex, so a dozen do
_HALVINGS = 60


def slide_stiffness(at_mm: FloatArray, along: FloatArray, stiffness_n_per_mm: Floats) -> FloatArray:
    """Stiffness of a carriage on wheels, each a spring where it stands.

    Parameters
    ----------
    at_mm : array (k, 3)
        Where each touches its rail, from the carriage's middle. [mm]
    along : array (k, 3)
        Which way each is stiff; unit vectors. [-]
    stiffness_n_per_mm : float or array
        Of one, or of each. [N/mm]

    Returns
    -------
    array (6, 6)
        Sum of k g g^T, g = (direction, arm x direction): about an axis k r² for each. 0 the way
        that no wheel is stiff.

    Raises
    ------
    ValueError
        If a stiffness is not above 0 or places and directions do not pair up.

    Notes
    -----
    Small movements; every wheel stays pressed on. The carriage itself does not bend.

    References
    ----------
    .. [1] Springs on a rigid body: statics.

    Examples
    --------
    at="[[70, 0, 45], [70, 0, -45], [-70, 0, 45], [-70, 0, -45]] mm"
    along="[[0,0,1],[0,0,1],[0,0,1],[0,0,1]]" stiffness="5 N/um" -> first row [0, 0, 0, 0, 0, 0]
    """
    levers = _levers(at_mm, along)
    above_zero(stiffness_n_per_mm=stiffness_n_per_mm)
    return np.asarray((levers * array(stiffness_n_per_mm)[..., None]).T @ levers)


def bearing_turning_nmm_per_rad(stiffness_n_per_mm: Floats, length_mm: Floats) -> FloatArray:
    """How stiffly one ball carriage or sleeve alone keeps from pitching or yawing. [N mm/rad]

    Parameters
    ----------
    stiffness_n_per_mm : float or array
        Across its rail. [N/mm]
    length_mm : float or array
        Over which its balls or its lining carry. [mm]

    Returns
    -------
    array
        k L² / 12: spread evenly over the length. [N mm/rad]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    A sleeve on a round bar does not keep from rolling at all; a ball carriage does, by its rows:
    ``slide-rows-turning``. End balls that carry less make it softer.

    References
    ----------
    .. [1] Bed of springs: derived here.

    Examples
    --------
    stiffness="50 N/um" length="40 mm" -> 6666667 N mm/rad
    """
    above_zero(stiffness_n_per_mm=stiffness_n_per_mm, length_mm=length_mm)
    return array(stiffness_n_per_mm) * array(length_mm) ** 2 / 12.0


def rows_turning_nmm_per_rad(stiffness_n_per_mm: Floats, apart_mm: Floats) -> FloatArray:
    """How stiffly two rows of balls keep one carriage from rolling about its rail. [N mm/rad]

    Parameters
    ----------
    stiffness_n_per_mm : float or array
        Of the carriage, normal to the face of its rail. [N/mm]
    apart_mm : float or array
        From row to row, about the rail's width. [mm]

    Returns
    -------
    array
        k w² / 4: half of it in each row. [N mm/rad]

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    .. [1] Springs about a pivot: statics.

    Examples
    --------
    stiffness="50 N/um" apart="15 mm" -> 2812500 N mm/rad
    """
    above_zero(stiffness_n_per_mm=stiffness_n_per_mm, apart_mm=apart_mm)
    return array(stiffness_n_per_mm) * array(apart_mm) ** 2 / 4.0


def pressed(
    at_mm: FloatArray,
    along: FloatArray,
    stiffness_n_per_mm: Floats,
    preload_n: Floats,
    exponent: float,
    load: FloatArray,
    held: FloatArray | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Where a preloaded carriage goes under a load, wheels that let go and all.

    Parameters
    ----------
    at_mm, along : array (k, 3)
        Where each contact is, and which way it pushes the carriage; unit vectors. [mm, -]
    stiffness_n_per_mm, preload_n : float or array
        Of each contact as pressed; what presses it. [N/mm, N]
    exponent : float
        Force goes with the approach to this power: 1 for springs, 10/9 rollers, 1.5 balls. [-]
    load : array (6,)
        Force and moment on the carriage.
    held : array (6, 6)
        What else holds it, as its drive; nothing if left out.

    Returns
    -------
    moved, load_n : array
        Movement of the carriage (6,) and force in each contact (k,), 0 where it has let go. [N]

    Raises
    ------
    ValueError
        If nothing holds it against the load.

    Notes
    -----
    Each contact presses with P (1 + u / u0)^n, u0 = n P / k, and cannot pull. Preloads that do not
    balance move the carriage until they do. The contacts' energy is convex: one answer.

    References
    ----------
    .. [1] Hertz and roller contacts on a rigid body: derived here; when one lets go,
       ``contact-unloading-force``.

    Examples
    --------
    at="[[0, 0, 0], [0, 0, 0]] mm" along="[[0, 1, 0], [0, -1, 0]]" stiffness="3 N/um" preload="60 N"
    exponent=1 load="[0, 240, 0, 0, 0, 0]"
    held="[[1,0,0,0,0,0],[0,1e-9,0,0,0,0],[0,0,1,0,0,0],[0,0,0,1,0,0],[0,0,0,0,1,0],[0,0,0,0,0,1]]"
    -> moved [0, 0.06, 0, 0, 0, 0], load [0, 240] N
    """
    levers = _levers(at_mm, along)
    above_zero(stiffness_n_per_mm=stiffness_n_per_mm, preload_n=preload_n, exponent=exponent)
    push = array(load)
    ground = np.zeros((6, 6)) if held is None else array(held)
    preload = np.broadcast_to(array(preload_n), len(levers))
    reach = exponent * preload / np.broadcast_to(array(stiffness_n_per_mm), len(levers))

    def forces(q: FloatArray) -> FloatArray:
        return np.asarray(preload * np.maximum(1.0 - levers @ q / reach, 0.0) ** exponent)

    def energy(q: FloatArray) -> float:
        pressed = np.maximum(1.0 - levers @ q / reach, 0.0) ** (exponent + 1.0)
        stored = float((preload * reach * pressed).sum()) / (exponent + 1.0)
        return stored + 0.5 * float(q @ ground @ q) - float(push @ q)

    q, scale = np.zeros(6), float(np.abs(push).max() + np.abs(levers.T @ preload).max())
    if scale == 0.0:
        return q, forces(q)
    for _ in range(_TURNS):
        rest = push + levers.T @ forces(q) - ground @ q
        slope = exponent * forces(q) / np.maximum(reach - levers @ q, 1e-12 * reach)
        step = _solved((levers * slope[:, None]).T @ levers + ground, rest)
        if float(np.abs(rest * step).max()) <= 1e-22 * scale:
            return q, forces(q)
        size, now = 1.0, energy(q)
        while energy(q + size * step) > now and size > 0.5**_HALVINGS:
            size *= 0.5
        q = q + size * step
        refuse(not np.isfinite(q).all() or float(np.abs(q).max()) > 1e6, "nothing holds it")
    return q, forces(q)


def _solved(stiff: FloatArray, rest: FloatArray) -> FloatArray:
    """A step; a way that nothing holds must carry no load. Scaled, for shifts and turns differ."""
    size = np.sqrt(np.diag(stiff))
    loose = size <= 0.0
    refuse(bool(np.any(loose & (np.abs(rest) > 1e-9))), "nothing holds it")
    size = np.where(loose, 1.0, size)
    values, ways = np.linalg.eigh(stiff / size[:, None] / size)
    inside = ways.T @ (rest / size)
    weak = values < 1e-12 * values.max()
    refuse(bool(np.any(weak & (np.abs(inside) > 1e-6 * np.abs(rest / size).max()))),
           "nothing holds it")  # fmt: skip
    return np.asarray(ways @ np.where(weak, 0.0, inside / np.where(weak, 1.0, values)) / size)


def _levers(at_mm: FloatArray, along: FloatArray) -> FloatArray:
    """(direction, arm x direction) of each contact. (k, 6)"""
    places, ways = array(at_mm), array(along)
    refuse(places.shape != ways.shape or places.shape[-1:] != (3,), "places do not pair up")
    not_below_zero(along=np.einsum("ij,ij->i", ways, ways))
    refuse(np.abs(np.linalg.norm(ways, axis=-1) - 1.0) > 1e-6, "a direction is no unit vector")
    return np.concatenate([ways, np.cross(places, ways)], axis=-1)
