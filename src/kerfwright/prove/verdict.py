"""What a proof says in the end. ``report`` writes it; docs/verdict.md explains each name."""

from dataclasses import dataclass
from typing import Literal

from kerfwright.basics import Estimate, Finding, Spot

#: "clear": nothing found that stops it or asks for care; "care": cautions; "stop": a stop.
Outcome = Literal["clear", "care", "stop"]
Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Sums over the whole program. Positions in the program's frame."""

    lines: int
    moves: int
    time_s: float
    time_spread_s: tuple[float, float]  #: nineteen times in twenty
    cutting_time_s: float  #: time in which a cutter takes wood
    rapid_mm: float
    cut_mm: float  #: path at feed, whether wood is there or not
    removed_mm3: float
    lowest_mm: Vector  #: extents of all ends and arcs
    highest_mm: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """The tightest moment for one limit of machine, cutter or spindle.

    ``name`` is one of: "pull left x", "pull left y", "pull left z", "power", "deflection",
    "chip thickest", "chip thinnest". ``value`` and ``limit`` are in ``unit``.
    """

    name: str
    words: str
    value: Estimate
    limit: float
    unit: str
    line: int
    time_s: float
    spot: Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one of set-up, machine and cut does to a figure."""

    mm: float  #: how far it moves the figure
    unsure_mm: float  #: by how much that may be off, half width of nineteen times in twenty


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """Where an error comes from."""

    set_up: Share
    machine: Share
    cut: Share


NO_SHARE = Share(mm=0.0, unsure_mm=0.0)
NO_SHARES = Shares(set_up=NO_SHARE, machine=NO_SHARE, cut=NO_SHARE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A size of a part that is cut out, between walls."""

    name: str  #: "across X", "hole 1 across Y", "wall to wall 1", "gap between walls 1", ...
    programmed_mm: float
    size: Estimate  #: as it will be [mm]
    likelihood: float  #: that it is off by more than the tolerance
    shares: Shares
    spot: Spot
    #: How much it grows for each unit by which the wood grows along and across the grain. [mm]
    grows_mm: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedSize:
    """A size that the job asks for, against the one that comes out."""

    name: str
    meant_mm: float
    low_mm: float  #: it is right from here
    high_mm: float  #: to here
    part: int  #: number of the part
    dimension: str  #: which of its sizes
    programmed_mm: float
    size: Estimate  #: as it comes from the machine [mm]
    likelihood: float  #: that it is too small or too large
    later: Estimate | None  #: in the house [mm]; None where the job says nothing of the climate
    later_likelihood: float | None
    spot: Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOut:
    """A piece of wood that the job cuts free, or what is left of the board around its holes."""

    number: int  #: from 1, the largest first; 0: what is left of the board
    inside: int  #: the part in whose hole it lies; 0: none
    area_mm2: float
    middle: Spot
    dimensions: tuple[Dimension, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kerf:
    """How wide the slots of one cutter are; of a V cutter its grooves at the top of the board."""

    slot: int
    cutter: str
    meant_mm: float  #: the cutter's diameter; of a groove the width at its median depth
    per_z: float  #: wider by so much for each mm that the cutter stands lower; 0 for upright ones
    width: Estimate  #: [mm]
    length_mm: float  #: of slot, passes on one another counted each
    shares: Shares


@dataclass(frozen=True, slots=True, kw_only=True)
class Cusp:
    """What stands between neighbouring passes of one cutter, at its worst place."""

    kind: Literal["scallop", "ridge"]  #: of a round end; of a flat one that leans
    slot: int
    cutter: str
    height: Estimate  #: square to the surface [mm]
    typical_mm: float  #: half of the places lie below
    spacing_mm: float  #: of the passes there, along the surface
    line: int
    spot: Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """One straight or gently bent run of the path that left an upright wall.

    Offset: how far the wall stands from where the program puts it; above 0 the wood is proud
    (too much left), below 0 shy (too much gone).
    """

    first_line: int
    last_line: int
    side: Literal["left", "right"]  #: of the travel
    length_mm: float
    depth_mm: float
    offset: Estimate  #: mean along the wall and over its height [mm]
    foot_mm: float  #: mean along its foot; a wall whose top stands elsewhere is out of square
    top_mm: float  #: mean along its upper edge
    worst_mm: float
    spot: Spot
    shares: Shares = NO_SHARES  #: of the offset


@dataclass(frozen=True, slots=True, kw_only=True)
class AsCut:
    """The part as it will really be, against the part as programmed."""

    cell_mm: float
    tolerance_mm: float
    mean_mm: float  #: of the height error, weighted by area; above 0 proud
    ninety_five_mm: float  #: 95 % of the touched area is within this
    proud: Estimate  #: the highest place above the programmed surface
    proud_spot: Spot
    shy: Estimate  #: the lowest place below it, as a number below 0
    shy_spot: Spot
    outside_percent: float  #: of the touched area beyond the tolerance
    ruled_by: Literal["set-up", "machine", "cut", ""]  #: what the error comes from mostly
    walls: tuple[Wall, ...]
    proud_shares: Shares = NO_SHARES
    shy_shares: Shares = NO_SHARES
    parts: tuple[CutOut, ...] = ()  #: the largest first
    kerfs: tuple[Kerf, ...] = ()
    cusps: tuple[Cusp, ...] = ()
    wanted: tuple[WantedSize, ...] = ()  #: sizes that the job asks for


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """What the numbers were made from."""

    kerfwright: str  #: version
    code_sha256: str
    program_file: str
    program_sha256: str
    machine: str
    machine_sha256: str
    tables_sha256: str
    cell_mm: float
    cell_why: str  #: why the cells are of this size
    threads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The answer."""

    outcome: Outcome
    sentence: str  #: the answer in a sentence
    findings: tuple[Finding, ...]  #: stops first, then by time
    totals: Totals
    margins: tuple[Margin, ...]
    ascut: AsCut | None  #: None when nothing is cut
    assumed: tuple[str, ...]  #: of the job, its program and its time
    machine_assumed: tuple[str, ...]  #: what the machine's description leaves open
    not_checked: tuple[str, ...]
    provenance: Provenance
