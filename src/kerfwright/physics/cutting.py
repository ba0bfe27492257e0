"""Forces of a cutting edge in wood and panels.

The law: a sharp edge at the fibre angle GA takes, for each mm of engaged edge,
F/b = rho (kn(GA) h + in(GA)), h the chip's thickness. [N/mm; kg/m³; mm]
"""

from dataclasses import dataclass
from math import pi, radians, tan

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Curti, Marcon, Denaud, Togni, Furferi, Goli 2021, Eur. J. Wood Wood Prod. 79:667, Table 5, helix
#: 0 (read in a public transcription): quadratics of GA in degrees, highest power first.
_PRINTED = {
    "up": ((-5e-6, 1e-3, 0.026), (-1e-7, 1e-5, 0.0055)),
    "down": ((-3e-6, 5e-4, 0.056), (-3e-7, 4e-5, 0.0047)),
}

#: Standard deviation of ln(measured / law) over the outside figures that the law was held against
#: (docs/models/cutting.md): a factor of about 1.95 either way, nineteen times in twenty.
LOG_SPREAD = 0.34

#: Densities of the woods behind the law. [kg/m³]
DENSITY_RANGE_KG_PER_M3 = (287.0, 1080.0)

#: Panels, N/mm² and N/mm, no grain: MDF, Goli et al. 2018 (read in a transcription, 711 kg/m³);
#: particleboard and poplar plywood of 430 kg/m³ read off figures.
_PANELS = {
    "mdf": (31.44, 3.36, 711.0),
    "particleboard": (17.5, 2.95, 640.0),
    "plywood": (33.0, 3.95, 430.0),
}

#: The chip part of the normal force changes its sign near this rake (after Woodson 1979, who saw
#: it between 20 and 30 degrees for 22 hardwoods); the edge part has no source.
_NEUTRAL_RAKE_RAD = radians(25.0)
_EDGE_NORMAL_SHARP = 0.7
#: Axial share: printed ratios of back force to cutting force are 0.43 to 0.78 tan(helix).
_AXIAL_PER_TAN_HELIX = 0.6


def _periodic(quadratic: tuple[float, float, float]) -> FloatArray:
    """Five numbers a, b.. of a + b cos 2GA + c sin 2GA + d cos 4GA + e sin 4GA.

    The printed quadratic jumps between 0 and 180 degrees, which are the same direction; this is
    fitted to it at every 10 degrees and has no jump.
    """
    angle = np.radians(np.arange(0.0, 181.0, 10.0))
    return np.asarray(
        np.linalg.lstsq(_basis(angle), np.polyval(quadratic, np.degrees(angle)), rcond=None)[0]
    )


def _basis(angle_rad: FloatArray) -> FloatArray:
    a = np.asarray(angle_rad, dtype=np.float64)
    return np.stack(
        [np.ones_like(a), np.cos(2 * a), np.sin(2 * a), np.cos(4 * a), np.sin(4 * a)], axis=-1
    )


_FITTED = {way: (_periodic(kn), _periodic(rub)) for way, (kn, rub) in _PRINTED.items()}


def edge_law(
    grain_angle_rad: FloatArray | float, density_kg_per_m3: float, way: str
) -> tuple[FloatArray, FloatArray]:
    """Chip and edge coefficients of solid wood.

    Parameters
    ----------
    grain_angle_rad : float or array
        From the edge's velocity to the fibres, measured towards the chip: 0 along, a quarter turn
        across, beyond that against the grain. [rad]
    density_kg_per_m3 : float
        As machined. [kg/m³]
    way : {"up", "down"}
        Whether the edge moves with the cutter's travel (up-milling) or against it.

    Returns
    -------
    chip_n_per_mm2, edge_n_per_mm : array
        Tangential force for each mm² of chip section, and for each mm of edge.

    Notes
    -----
    From five woods of 287 to 1080 kg/m³, chips of 0.04 to 0.10 mm, rake 25 degrees, sharp carbide.
    The printed fit errors by species run from 8 to 30 % of the mean.

    References
    ----------
    .. [1] Curti, Marcon, Denaud, Togni, Furferi, Goli 2021, Eur. J. Wood Wood Prod. 79:667, table 5
       (read in a public transcription), refitted with a period of half a turn.

    Examples
    --------
    grain_angle="30 deg" density="700 kg/m3" way=up -> chip 33.75 N/mm², edge 4.041 N/mm
    """
    basis = _basis(np.asarray(grain_angle_rad, dtype=np.float64))
    chip, rub = _FITTED[way]
    return density_kg_per_m3 * (basis @ chip), density_kg_per_m3 * (basis @ rub)


def panel_law(kind: str, density_kg_per_m3: float) -> tuple[float, float]:
    """Chip and edge coefficients of a panel. [N/mm², N/mm]

    Parameters
    ----------
    kind : {"mdf", "particleboard", "plywood"}
        Of panel.
    density_kg_per_m3 : float
        Of the board. [kg/m³]

    Returns
    -------
    chip_n_per_mm2, edge_n_per_mm : float
        Tangential force for each mm² of chip section, and for each mm of edge.

    Notes
    -----
    Scaled by density against the board that was measured, since no other board was.

    References
    ----------
    .. [1] MDF: Goli et al. 2018, read in a transcription; particleboard and plywood read off
       figures.

    Examples
    --------
    kind=mdf density="711 kg/m3" -> chip 31.44 N/mm², edge 3.36 N/mm
    """
    chip, rub, density = _PANELS[kind]
    share = density_kg_per_m3 / density
    return chip * share, rub * share


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeShares:
    """Normal and axial force as shares of the tangential. [-]"""

    normal_chip: float
    normal_edge: float
    axial: float


def edge_shares(rake_rad: float, helix_rad: float) -> EdgeShares:
    """How the force of a sharp edge splits into normal and axial shares of the tangential. [-]

    Parameters
    ----------
    rake_rad, helix_rad : float
        Of the edge. [rad]

    Returns
    -------
    normal_chip, normal_edge, axial : float
        tan(25° - rake); 0.7; 0.6 tan(helix).

    References
    ----------
    .. [1] Engineering estimates, after Woodson 1979 for the sign of the first; see
       docs/models/cutting.md.

    Examples
    --------
    rake="25 deg" helix="30 deg" -> normal_chip 0, normal_edge 0.7, axial 0.3464
    """
    return EdgeShares(
        normal_chip=tan(_NEUTRAL_RAKE_RAD - rake_rad),
        normal_edge=_EDGE_NORMAL_SHARP,
        axial=_AXIAL_PER_TAN_HELIX * tan(helix_rad),
    )


def grain_angle(edge_angle_rad: FloatArray | float, grain_rad: float) -> FloatArray:
    """Angle from the velocity of an edge to the fibres, towards the chip. [rad], 0 to pi

    Parameters
    ----------
    edge_angle_rad : float or array
        Where the edge is, seen from the cutter's axis, from X. The cutter turns clockwise seen from
        above. [rad]
    grain_rad : float
        Direction of the fibres, from X. [rad]

    Returns
    -------
    angle_rad : array
        (edge angle - 90° - grain) within half a turn.

    Notes
    -----
    The kept wood lies outwards. Fibres that dive outwards ahead of the edge are cut against the
    grain: an angle beyond a quarter turn.

    References
    ----------
    .. [1] Geometry.

    Examples
    --------
    edge_angle="120 deg" grain="0 deg" -> 0.5236 rad
    """
    velocity = np.asarray(edge_angle_rad, dtype=np.float64) - pi / 2.0
    return np.asarray(np.mod(velocity - grain_rad, pi))
