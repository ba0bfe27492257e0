"""How a cutter turns in its spindle: true or not, and how much slower under load."""

from dataclasses import dataclass

import numpy as np

from kerfwright.cutter import Cutter
from kerfwright.machine import Spindle
from kerfwright.physics.teeth import lag_rad_per_mm

#: Share of the speed lost at full power: slip of an induction motor; a hand router with and
#: without a regulator. Common practice, no source.
DROOP = {"variable frequency": (0.02, 0.06), "hand router": (0.03, 0.30)}


def middle_droop(spindle: Spindle) -> float:
    """Share of the speed lost at full power, the middle of what is usual. [-]"""
    return float(np.sqrt(np.prod(DROOP[spindle.kind])))


@dataclass(frozen=True, slots=True, kw_only=True)
class Turning:
    """Numbers for ``kernels.cutting.turning_force``."""

    rev_per_s: float  #: without a load
    spindle_w: float  #: what the spindle can give at that speed
    droop: float  #: share of the speed lost at that power
    runout_mm: float
    lag_rad_per_mm: float  #: of the edge behind its tip, at the widest place

    @classmethod
    def of(cls, cutter: Cutter, spindle: Spindle, rev_per_s: float) -> "Turning":
        """A cutter in a spindle."""
        return cls(
            rev_per_s=rev_per_s,
            spindle_w=float(spindle.power_w(rev_per_s)),
            droop=middle_droop(spindle),
            runout_mm=cutter.runout_mm,
            lag_rad_per_mm=float(lag_rad_per_mm(cutter.helix_rad, cutter.radius_mm)),
        )
