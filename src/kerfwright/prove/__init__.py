"""The chain from program to verdict: trajectory, sweep, loads, as-cut part, findings."""

from kerfwright.prove.proof import Proof, Series
from kerfwright.prove.verdict import AsCut, Margin, Outcome, Provenance, Totals, Verdict, Wall

__all__ = [
    "AsCut",
    "Margin",
    "Outcome",
    "Proof",
    "Provenance",
    "Series",
    "Totals",
    "Verdict",
    "Wall",
]
