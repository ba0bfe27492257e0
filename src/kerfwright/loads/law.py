"""The force law made ready for one board and one cutter."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import Cutter
from kerfwright.kernels.engagement import BINS
from kerfwright.physics import cutting
from kerfwright.stock import Board, Wood

FloatArray = NDArray[np.float64]
_FINE = 9  #: angles averaged within a bin


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeLaw:
    """Coefficients for an edge in each bin of angle about the cutter, up and down the travel."""

    chip_n_per_mm2: FloatArray  #: (2, BINS)
    edge_n_per_mm: FloatArray  #: (2, BINS)
    shares: cutting.EdgeShares
    log_spread: float  #: standard deviation of ln(true / law)


#: Key in ``Wood.known`` of the factor on the law that parts cut on this machine have shown; its
#: ``u`` is that of the factor's logarithm.
FORCE_LAW = "force_law"


def edge_law_for(board: Board, cutter: Cutter) -> EdgeLaw:
    """The law for a cutter in a board, averaged over each bin of the engagement."""
    law = _published(board, cutter)
    shown = board.wood.known.get(FORCE_LAW)
    if shown is None:
        return law
    return replace(
        law,
        chip_n_per_mm2=law.chip_n_per_mm2 * shown.value,
        edge_n_per_mm=law.edge_n_per_mm * shown.value,
    )


def _published(board: Board, cutter: Cutter) -> EdgeLaw:
    shares = cutting.edge_shares(cutter.rake_rad, cutter.helix_rad)
    wood = board.wood
    if wood.kind != "solid":
        chip, rub = cutting.panel_law(wood.kind, wood.density_kg_per_m3)
        return EdgeLaw(
            chip_n_per_mm2=np.full((2, BINS), chip),
            edge_n_per_mm=np.full((2, BINS), rub),
            shares=shares,
            log_spread=log_spread_in(wood),
        )
    width = 2.0 * np.pi / BINS
    fine = (np.arange(_FINE) + 0.5) / _FINE * width
    angles = -np.pi + np.arange(BINS)[:, None] * width + fine
    grain = cutting.grain_angle(angles, board.grain_rad)
    both = [cutting.edge_law(grain, wood.density_kg_per_m3, way) for way in ("up", "down")]
    return EdgeLaw(
        chip_n_per_mm2=np.stack([chip.mean(axis=1) for chip, _ in both]),
        edge_n_per_mm=np.stack([rub.mean(axis=1) for _, rub in both]),
        shares=shares,
        log_spread=log_spread_in(wood),
    )


def log_spread_in(wood: Wood) -> float:
    """Standard deviation of ln(true / law) in a wood."""
    shown = wood.known.get(FORCE_LAW)
    if shown is not None and shown.u is not None:
        return shown.u
    if wood.kind != "solid":
        return cutting.LOG_SPREAD
    # A factor of two, nineteen times in twenty, is what the law has shown inside its densities;
    # nothing is known outside them, so the spread is doubled there.
    low, high = cutting.DENSITY_RANGE_KG_PER_M3
    inside = low <= wood.density_kg_per_m3 <= high
    return cutting.LOG_SPREAD * (1.0 if inside else 2.0)
