"""Force law, chip, pull left in the motors, give at the cutter's tip."""

from kerfwright.loads.law import FORCE_LAW, EdgeLaw, edge_law_for, log_spread_in
from kerfwright.loads.motors import axis_numbers
from kerfwright.loads.reach import (
    compliance_at,
    cutter_compliance_mm_per_n,
    give_mm,
    rod_of,
    whole_compliance,
)
from kerfwright.loads.soft import follow_give, soft_cuts
from kerfwright.loads.turning import Turning
from kerfwright.loads.work import work_of, works_of

__all__ = [
    "EdgeLaw",
    "Turning",
    "axis_numbers",
    "compliance_at",
    "cutter_compliance_mm_per_n",
    "FORCE_LAW",
    "edge_law_for",
    "follow_give",
    "give_mm",
    "log_spread_in",
    "rod_of",
    "soft_cuts",
    "whole_compliance",
    "work_of",
    "works_of",
]
