"""How a wood's sizes follow its moisture, along and across the grain."""

from dataclasses import dataclass
from functools import cache
from typing import Literal

from kerfwright.basics import Known
from kerfwright.physics.wood import moisture_movement
from kerfwright.stock.board import Wood
from kerfwright.stock.wood import members_of
from kerfwright.tables import read_table

#: How the board was cut from the log: its width runs along the growth rings, or across them.
Sawn = Literal["flat", "quarter", "don't know"]

_HANDBOOK = "Wood Handbook FPL-GTR-190, Table 13-5, and from its shrinkages"
#: Share of the size for each per cent of moisture. Along the grain of solid wood: 0.1 to 0.2 % in
#: all from green to oven-dry; panels in their plane. All from memory.
ALONG = (3.3e-5, 6.7e-5)
IN_PLANE = {"plywood": (1.0e-4, 2.5e-4), "mdf": (3.0e-4, 6.0e-4), "particleboard": (3e-4, 6e-4)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Share by which a size grows for each per cent of moisture that the wood gains."""

    along: Known  #: the grain
    across: Known


def movement_of(wood: Wood, sawn: Sawn = "don't know") -> Movement:
    """How a wood moves; where its name may mean several, what any of them does."""
    if wood.kind != "solid":
        ends = IN_PLANE[wood.kind]
        both = _range(*ends, f"{wood.kind} in its plane, from memory")
        return Movement(along=both, across=both)
    rows = [_moves()[one] for one in members_of(wood.name) if one in _moves()]
    ref = _HANDBOOK
    if not rows:
        rows, ref = list(_moves().values()), f"{_HANDBOOK}: any wood there, this one is not in it"
    radial, tangential = zip(*rows, strict=True)
    low = min(radial) if sawn != "flat" else min(tangential)
    high = max(tangential) if sawn != "quarter" else max(radial)
    # A single figure of a table stands for boards that differ by a tenth or so.
    return Movement(
        along=_range(*ALONG, "solid wood along the grain, from memory"),
        across=_range(0.9 * low, 1.1 * high, f"{ref}; a tenth either way is common practice"),
    )


def _range(low: float, high: float, ref: str) -> Known:
    return Known(value=0.5 * (low + high), kind="estimated", ref=ref, low=low, high=high)


@cache
def _moves() -> dict[str, tuple[float, float]]:
    """Species -> radial and tangential change for each per cent."""
    out = {}
    for row in read_table("species"):
        if row["shrink_R_pct"] and row["shrink_T_pct"]:
            shrinks = (float(row["shrink_R_pct"]), float(row["shrink_T_pct"]))
            radial, tangential = (float(moisture_movement(one)) for one in shrinks)
            out[row["species"]] = (radial, tangential)
    for row in read_table("dimensional_change"):
        if row["CR_per_pct"] and row["CT_per_pct"] and "do not use" not in row["note"]:
            out[row["species"]] = (float(row["CR_per_pct"]), float(row["CT_per_pct"]))
    return out
