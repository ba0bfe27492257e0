"""The chain from program to verdict: trajectory, sweep, loads, as-cut part, findings."""

from kerfwright.prove.proof import Proof, Series
from kerfwright.prove.verdict import (
    AsCut,
    Cusp,
    CutOut,
    Dimension,
    Kerf,
    Margin,
    Outcome,
    Provenance,
    Share,
    Shares,
    Totals,
    Verdict,
    Wall,
    WantedSize,
)

__all__ = [
    "AsCut",
    "Cusp",
    "CutOut",
    "Dimension",
    "Kerf",
    "Margin",
    "Outcome",
    "Proof",
    "Provenance",
    "Series",
    "Share",
    "Shares",
    "Totals",
    "Verdict",
    "Wall",
    "WantedSize",
]
