"""How a job stands on the machine when the program starts."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from kerfwright.basics import Known
from kerfwright.cutter import Cutter
from kerfwright.fixture import Bed, Clamp
from kerfwright.setup.accept import Accepted
from kerfwright.setup.hold import Hold
from kerfwright.setup.wanted import Climate, Wanted
from kerfwright.stock import Board


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """Board, zero, cutters and clamps.

    Three frames are in play, all with Z up: the program's (its zero is what the person set), the
    board's (left front top corner) and the machine's (X and Y from the lower end of the travel, Z
    from the table top). ``zero_on_board_mm`` is the program's zero in the board's frame,
    ``board_at_mm`` the board's corner in the machine's.
    """

    board: Board
    zero_on_board_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    zero_u_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)  #: standard uncertainty of the zero
    board_at_mm: tuple[float, float, float]
    z_after_change: Literal["set again", "kept"] = "set again"  #: what the person does with zero
    slots: Mapping[int, Cutter]
    rack: Mapping[str, Cutter] = field(default_factory=dict)  #: what else could be in a slot
    first_slot: int | None = None  #: what is in the spindle before the first cutter change
    below_board_mm: float = 0.0  #: how deep the job may cut into the spoil board
    tolerance_mm: float = 0.2  #: what counts as wrong, proud or shy
    clamps: tuple[Clamp, ...] = ()
    bed: Bed | None = None  #: what lies under the work and hangs over it; None: nothing was said
    hold: Hold | None = None  #: what keeps the board in its place; None: nothing was said
    wanted: tuple[Wanted, ...] = ()  #: sizes that the part is to have
    climate: Climate | None = None  #: None: nothing was said of it
    accepted: tuple[Accepted, ...] = ()  #: findings that the person lives with
    assumed: tuple[str, ...] = ()
    known: Mapping[str, Known] = field(default_factory=dict)

    @property
    def in_spindle(self) -> int | None:
        """Slot of the cutter that is there at the start: as told, or the only one there is."""
        if self.first_slot is None and len(self.slots) == 1:
            return next(iter(self.slots))
        return self.first_slot
