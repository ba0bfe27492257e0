"""Force law, chip, pull left in the motors, give at the cutter's tip."""

from kerfwright.loads.law import EdgeLaw, edge_law_for, log_spread_in
from kerfwright.loads.motors import axis_numbers
from kerfwright.loads.reach import compliance_at, cutter_compliance_mm_per_n, give_mm, rod_of

__all__ = [
    "EdgeLaw",
    "axis_numbers",
    "compliance_at",
    "cutter_compliance_mm_per_n",
    "edge_law_for",
    "give_mm",
    "log_spread_in",
    "rod_of",
]
