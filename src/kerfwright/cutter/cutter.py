"""One cutter, measured or as its maker states it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import cos, pi, sin, tan
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kerfwright.basics import KerfwrightError, Known

Shape = Literal[
    "flat", "ball", "v", "bull", "taper", "drill", "profile", "dovetail", "t-slot", "round-over"
]
#: Shapes that have an angle between their flanks.
ANGLED: tuple[Shape, ...] = ("v", "taper", "drill")
#: Shapes told by the corners of their outline.
CORNERED: tuple[Shape, ...] = ("profile", "dovetail", "t-slot", "round-over")
MOST_CORNERS = 40
_ARC_STEPS = 24  #: in a quarter turn of a drawn arc


class CutterError(KerfwrightError):
    """A cutter that cannot exist as described."""


MOST_FLUTES = 24  #: what the kernels have room for; files allow fewer


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
    included_angle_rad: float = pi  #: between the flanks of a V, a taper, a drill; else pi
    tip_diameter_mm: float = 0.0  #: flat at the point of a V
    corner_radius_mm: float = 0.0  #: of a bull nose; of what a round-over leaves
    tip_radius_mm: float = 0.0  #: of the ball at the end of a taper
    #: Radius and height above the tip of each corner of a ``CORNERED`` shape, from the axis up.
    corners_mm: tuple[tuple[float, float], ...] = ()
    helix_rad: float = 0.0
    rake_rad: float = 0.0
    runout_mm: float = 0.0  #: total indicator reading at the cutting part
    material: Literal["carbide", "hss"] = "carbide"
    centre_cutting: bool | None = None  #: whether its end cuts as far as the axis; None: not said
    known: Mapping[str, Known] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()  #: what was not said, and what was taken, in words

    def __post_init__(self) -> None:
        if not 0.0 <= self.tip_diameter_mm < self.diameter_mm:
            raise CutterError(f"cutter {self.name}: its tip is wider than the cutter")
        for name in ("diameter_mm", "flutes", "flute_length_mm", "shank_diameter_mm"):
            if not getattr(self, name) > 0:
                raise CutterError(f"cutter {self.name}: {name} must be above 0")
        if self.flutes > MOST_FLUTES:
            raise CutterError(f"cutter {self.name}: more than {MOST_FLUTES} flutes")
        if self.stick_out_mm < self.flute_length_mm:
            raise CutterError(f"cutter {self.name}: its flutes are longer than its stick-out")
        if self.shape in ANGLED and not 0.0 < self.included_angle_rad < pi:
            what = {"v": "V"}.get(self.shape, self.shape)
            raise CutterError(
                f"cutter {self.name}: a {what} needs an angle between 0 and 180 degrees"
            )
        if self.shape == "bull" and not 0.0 < self.corner_radius_mm <= self.radius_mm:
            raise CutterError(
                f"cutter {self.name}: its corner's radius is not between 0 and half its diameter"
            )
        if self.shape == "taper" and not (
            0.0 < self.tip_radius_mm * cos(self.included_angle_rad / 2.0) < self.radius_mm
        ):
            raise CutterError(f"cutter {self.name}: the ball at its end is wider than the cutter")
        if self.shape in CORNERED:
            self._check_corners()

    def _check_corners(self) -> None:
        corners = np.array(self.corners_mm, dtype=np.float64).reshape(-1, 2)
        wrong = ""
        if not 2 <= len(corners) <= MOST_CORNERS:
            wrong = f"its outline has {len(corners)} corners, not 2 to {MOST_CORNERS}"
        elif corners[0].any():
            wrong = "its outline does not begin at the axis, at 0 x 0"
        elif not np.isfinite(corners).all() or (corners[1:, 0] <= 0.0).any():
            wrong = "its outline comes back to the axis"
        elif (np.diff(corners[:, 1]) < 0.0).any():
            wrong = "its outline goes down again: corners are told from the tip upwards"
        elif (np.abs(np.diff(corners, axis=0)).max(axis=1) < 1e-6).any():
            wrong = "its outline has the same corner twice in a row"
        elif abs(corners[:, 0].max() - self.radius_mm) > 0.01:
            wrong = (
                f"its outline is {2.0 * corners[:, 0].max():g} mm wide, and its diameter is"
                f" {self.diameter_mm:g} mm"
            )
        if wrong:
            raise CutterError(f"cutter {self.name}: {wrong}")

    @property
    def radius_mm(self) -> float:
        """Half the cutting diameter. [mm]"""
        return self.diameter_mm / 2.0

    @property
    def flank_slope(self) -> float:
        """Rise of a flank for each mm outwards; 0 for shapes without an angle. [-]"""
        return 1.0 / tan(self.included_angle_rad / 2.0) if self.shape in ANGLED else 0.0

    @property
    def disc_arc_lean(self) -> tuple[float, float, float]:
        """Disc at the end and arc from there on, their radii [mm], and the flank's lean [rad].

        For shapes that are not told by corners. The flank begins where it is square to the arc.
        """
        lean = self.included_angle_rad / 2.0 if self.shape in ANGLED else 0.0
        if self.shape == "ball":
            return 0.0, self.radius_mm, 0.0
        if self.shape == "bull":
            return self.radius_mm - self.corner_radius_mm, self.corner_radius_mm, 0.0
        if self.shape == "taper":
            return 0.0, self.tip_radius_mm, lean
        if self.shape in ("v", "drill"):
            return self.tip_diameter_mm / 2.0, 0.0, lean
        return self.radius_mm, 0.0, 0.0

    @property
    def rim_mm(self) -> float:
        """Height above the tip at which the cutter first is as wide as it gets. [mm]"""
        if self.shape in CORNERED:
            return max(self.corners_mm, key=lambda corner: corner[0])[1]
        disc, arc, lean = self.disc_arc_lean
        straight = self.radius_mm - disc - arc * cos(lean)
        return arc * (1.0 - sin(lean)) + (straight / tan(lean) if lean > 0.0 else 0.0)

    @property
    def undercuts(self) -> bool:
        """Whether wood can stay above what it cuts."""
        return any(b[0] < a[0] for a, b in zip(self.corners_mm, self.corners_mm[1:], strict=False))

    @property
    def cuts_sideways(self) -> bool:
        """Whether it is made to move sideways in the wood. A drill only goes straight down."""
        return self.shape != "drill"

    @property
    def plunges(self) -> bool | None:
        """Whether it is made to go straight down into the wood; None where that is not known.

        Cutters that undercut come in from the side; a round-over has its guide at the end.
        """
        if self.shape == "drill":
            return True
        if self.undercuts or self.shape == "round-over":
            return False
        if self.centre_cutting is None and self.shape in ("ball", "v", "taper"):
            return True
        return self.centre_cutting

    def radius_at_mm(self, height_mm: ArrayLike) -> NDArray[np.float64]:
        """Radius of the cutting part at heights above the tip; above its rim as there. [mm]"""
        z = np.maximum(np.asarray(height_mm, dtype=np.float64), 0.0)
        if self.shape in CORNERED:
            radius, height = np.array(self.corners_mm).T
            return np.asarray(np.interp(z, height, radius))
        disc, arc, lean = self.disc_arc_lean
        top = arc * (1.0 - sin(lean))
        low = np.minimum(z, top)
        radius = disc + np.sqrt(low * (2.0 * arc - low)) + np.maximum(z - top, 0.0) * tan(lean)
        return np.asarray(np.minimum(radius, self.radius_mm))

    def widest_below_mm(self, height_mm: float) -> float:
        """Largest radius of the cutting part up to a height above the tip. [mm]"""
        below = [r for r, z in self.corners_mm if z <= height_mm]
        return max([float(self.radius_at_mm(height_mm)), *below])

    def outline_mm(self) -> NDArray[np.float64]:
        """Corners of the outline from the axis up to the top of the flutes: radius, height. (k, 2)

        Arcs are cut up into short chords, for pictures and for bodies that stand about.
        """
        top = max(self.flute_length_mm, self.rim_mm)
        if self.shape in CORNERED:
            corners = np.array(self.corners_mm)
        else:
            disc, arc, lean = self.disc_arc_lean
            turn = np.linspace(0.0, pi / 2.0 - lean, _ARC_STEPS + 1 if arc > 0.0 else 1)
            corners = np.column_stack([disc + arc * np.sin(turn), arc * (1.0 - np.cos(turn))])
            corners = np.vstack([[0.0, 0.0], corners, [self.radius_mm, self.rim_mm]])
        corners = np.vstack([corners, [corners[-1, 0], max(top, corners[-1, 1])]])
        moved = np.abs(np.diff(corners, axis=0)).max(axis=1) > 1e-9
        return np.asarray(corners[np.concatenate([[True], moved])])
