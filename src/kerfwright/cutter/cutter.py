"""One cutter, measured or as its maker states it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import pi, tan
from typing import Literal

from kerfwright.basics import KerfwrightError, Known

Shape = Literal["flat", "ball", "v"]


class CutterError(KerfwrightError):
    """A cutter that cannot exist as described."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """A rotating cutter held in the collet.

    ``known`` tells for each dimension how it was come by; a name missing there was given as
    exact. Angles in radians.
    """

    name: str
    shape: Shape
    diameter_mm: float  #: of the cutting part at its widest
    flutes: int
    flute_length_mm: float  #: from the tip, measured along the axis
    shank_diameter_mm: float
    stick_out_mm: float  #: from the tip to the collet nut
    included_angle_rad: float = pi  #: between the flanks of a V; pi for the others
    tip_diameter_mm: float = 0.0  #: flat at the point of a V
    helix_rad: float = 0.0
    rake_rad: float = 0.0
    runout_mm: float = 0.0  #: total indicator reading at the cutting part
    material: Literal["carbide", "hss"] = "carbide"
    known: Mapping[str, Known] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()  #: what was not said, and what was taken, in words

    def __post_init__(self) -> None:
        if not 0.0 <= self.tip_diameter_mm < self.diameter_mm:
            raise CutterError(f"cutter {self.name}: its tip is wider than the cutter")
        for name in ("diameter_mm", "flutes", "flute_length_mm", "shank_diameter_mm"):
            if not getattr(self, name) > 0:
                raise CutterError(f"cutter {self.name}: {name} must be above 0")
        if self.stick_out_mm < self.flute_length_mm:
            raise CutterError(f"cutter {self.name}: its flutes are longer than its stick-out")
        if self.shape == "v" and not 0.0 < self.included_angle_rad < pi:
            raise CutterError(f"cutter {self.name}: a V needs an angle between 0 and 180 degrees")

    @property
    def radius_mm(self) -> float:
        """Half the cutting diameter. [mm]"""
        return self.diameter_mm / 2.0

    @property
    def flank_slope(self) -> float:
        """Rise of a V's flank for each mm outwards; 0 for the other shapes. [-]"""
        return 1.0 / tan(self.included_angle_rad / 2.0) if self.shape == "v" else 0.0
