"""The piece of wood on the table."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from kerfwright.basics import KerfwrightError, Known
from kerfwright.stock.start import Start

#: "solid" follows the grain law by density; the panels have laws of their own.
WoodKind = Literal["solid", "plywood", "mdf", "particleboard"]


class BoardError(KerfwrightError):
    """A board that cannot exist as described."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wood:
    """A species or panel, as far as cutting it is concerned."""

    name: str
    kind: WoodKind
    density_kg_per_m3: float  #: at the moisture it is cut at
    family: Literal["hardwood", "softwood", "panel"]
    known: Mapping[str, Known] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A rectangular board. Its frame: zero at the left front top corner, Z up.

    Length runs along X, width along Y; the wood fills z from minus the thickness to 0, or less of
    it where ``start`` says so.
    """

    length_mm: float
    width_mm: float
    thickness_mm: float
    wood: Wood
    grain_rad: float = 0.0  #: direction of the fibres, from X towards Y
    moisture_percent: float = 8.0
    known: Mapping[str, Known] = field(default_factory=dict)
    start: Start | None = None  #: how it stands before the first cut, if not level and whole

    @property
    def highest_mm(self) -> float:
        """Height of its highest wood. [mm]"""
        return 0.0 if self.start is None else self.start.highest_mm

    def __post_init__(self) -> None:
        for name in ("length_mm", "width_mm", "thickness_mm"):
            value = getattr(self, name)
            if not 0.0 < value < 10_000.0:
                raise BoardError(f"the board's {name[:-3]} is {value:g} mm, not between 0 and 10 m")
