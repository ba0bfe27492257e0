"""Everything that is in force between two lines, and its form for the kernel."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.units import INCH_MM
from kerfwright.kernels import program_state as kernel
from kerfwright.program.dialect import STRICT, Dialect
from kerfwright.program.pieces import Vector
from kerfwright.program.words import G80

NO_MOTION = -1  #: no motion code since the start
ALL_AXES = 7  #: bits 1, 2, 4 for X, Y, Z
OWN_TOLERANCE = -1.0  #: no G64 P is in force: the machine rounds corners as it is set


@dataclass(frozen=True, slots=True, kw_only=True)
class Compensation:
    """Cutter radius compensation in force (3.5.10)."""

    radius: float  #: of the cutter as it was when switched on [mm]
    side: int  #: 1 the cutter is left of the outline, -1 right
    code: int  #: 410 or 420 as written: with a diameter below 0 the side is the other one
    outline: tuple[float, float]  #: X and Y where the programmed outline has got to [mm]
    #: direction of the cutter's last move in X and Y, of length 1; None before the first
    tangent: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sticky:
    """What one line of a canned cycle hands to the next (3.5.16). Lengths in mm, seconds."""

    code: int  #: of the cycle, times ten
    numbers: Mapping[str, float]  #: words that stay: R, the depth word, P, Q, as numbers
    to_old_z: bool  #: whether that line ended at the height before it (G98)


@dataclass(slots=True, kw_only=True)
class State:
    """The modes and places of NISTIR 6556, 2.1 and 3.4. Copied before each line: no value in it
    is ever changed in place, so the copy is the way back if the line turns out faulty.
    """

    place: Vector = (0.0, 0.0, 0.0)  #: of the controlled point [mm]
    unit: float = 1.0  #: mm in one unit of the program
    incremental: bool = False
    motion: int = NO_MOTION  #: G code times ten of group 1
    normal: int = 2  #: axis normal to the plane: 2 G17, 1 G18, 0 G19
    path: int = 0  #: PathMode
    inverse_time: bool = False
    feed: float = 0.0  #: the F number, units per minute
    feed_before_units: bool = False  #: units changed since that F
    speed: float = 0.0  #: the S number, rev/min
    turning: int = 0  #: 1 clockwise, -1 counter-clockwise, 0 off
    spindle_rev_per_s: float = 0.0  #: as commanded last
    coolant: int = 0  #: 1 mist, 2 flood, added
    overrides: bool = True
    system: int = 1
    origin: Vector = (0.0, 0.0, 0.0)  #: of that system in the frame of the set-up [mm]
    g92: Vector = (0.0, 0.0, 0.0)
    length: float = 0.0  #: length offset in force [mm]
    length_on: bool = False
    to_old_z: bool = True  #: G98
    selected: int = 0  #: slot named by T
    slot: int = 0  #: slot of the cutter in the spindle
    compensation: Compensation | None = None
    cycle: Sticky | None = None
    said: int = 0  #: bits of the kernel's SAID_*
    said_at_move: int = -1  #: as it was at the first move
    said_at_arc: int = -1
    code_wanted: bool = False  #: the cutter was changed and no motion code has come since
    centres_absolute: bool = False  #: I J K are places, not offsets
    tolerance: float = OWN_TOLERANCE  #: of the path, as G64 P gave it [mm]
    doubt: int = 0  #: bits of axes whose place is not sure since a line could not be read

    def copy(self) -> "State":
        """Another one with the same values."""
        other = object.__new__(State)
        for name in State.__slots__:
            setattr(other, name, getattr(self, name))
        return other

    @property
    def shift(self) -> Vector:
        """Place of the program's numbers' zero. [mm]"""
        (ox, oy, oz), (gx, gy, gz) = self.origin, self.g92
        return ox + gx, oy + gy, oz + gz

    @property
    def programmed(self) -> Vector:
        """Where the program believes the point to be: the place, or the outline's end while
        cutter radius compensation keeps the cutter beside it. [mm]
        """
        if self.compensation is None:
            return self.place
        return *self.compensation.outline, self.place[2]

    @property
    def inches(self) -> bool:
        """Whether G20 is in force."""
        return self.unit == INCH_MM

    @property
    def plain(self) -> bool:
        """Whether the kernel may read on."""
        return (
            self.compensation is None
            and not self.inverse_time
            and not self.feed_before_units
            and not self.code_wanted
            and (self.motion <= 30 or self.motion == G80)
        )


class Shared:
    """The state as the kernel takes it, with the rules of reading in it."""

    def __init__(self, rules: Dialect) -> None:
        self.rules = rules
        self.whole = np.zeros(kernel.WHOLES, np.int64)
        self.real = np.zeros(kernel.REALS)
        self.told: NDArray[np.int64] = np.zeros((kernel.TOLD, 2), np.int64)
        for at, value in (
            # The interpreter tells of lines that are longer than the standard has them.
            (kernel.LONGEST_LINE, min(STRICT.longest_line, rules.longest_line)),
            (kernel.SEMICOLONS, rules.semicolon_comments),
            (kernel.NUMBER_DIGITS, rules.number_digits),
            (kernel.LOWER_CASE, rules.lower_case),
            (kernel.WIDE_COMMENTS, rules.wide_comments),
        ):
            self.whole[at] = value

    def give(self, state: State) -> None:
        """Write the state into the arrays."""
        whole, real = self.whole, self.real
        whole[kernel.MOTION] = state.motion // 10 if 0 <= state.motion <= 30 else -1
        whole[kernel.INCREMENTAL] = state.incremental
        whole[kernel.NORMAL] = state.normal
        whole[kernel.PATH] = state.path
        whole[kernel.SLOT] = state.slot
        whole[kernel.SAID] = state.said
        whole[kernel.SAID_AT_MOVE], whole[kernel.SAID_AT_ARC] = (
            state.said_at_move,
            state.said_at_arc,
        )
        whole[kernel.DOUBT] = state.doubt
        whole[kernel.CENTRES_ABSOLUTE] = state.centres_absolute
        real[kernel.PLACE : kernel.PLACE + 3] = state.place
        real[kernel.SHIFT : kernel.SHIFT + 3] = state.shift
        real[kernel.UNIT], real[kernel.FEED] = state.unit, state.feed
        real[kernel.SPEED], real[kernel.SPINDLE] = state.speed, state.spindle_rev_per_s
        real[kernel.ROUND_MM], real[kernel.ROUND_LOOSE_MM] = round_limits(state, self.rules)

    def take(self, state: State) -> None:
        """Write what the kernel changes back into the state."""
        whole, real = self.whole.tolist(), self.real.tolist()
        if whole[kernel.MOTION] >= 0:
            state.motion = 10 * whole[kernel.MOTION]
        state.incremental = bool(whole[kernel.INCREMENTAL])
        state.normal, state.path = whole[kernel.NORMAL], whole[kernel.PATH]
        state.said, state.doubt = whole[kernel.SAID], whole[kernel.DOUBT]
        state.said_at_move, state.said_at_arc = (
            whole[kernel.SAID_AT_MOVE],
            whole[kernel.SAID_AT_ARC],
        )
        state.place = (real[kernel.PLACE], real[kernel.PLACE + 1], real[kernel.PLACE + 2])
        state.feed = real[kernel.FEED]


def round_limits(state: State, rules: Dialect) -> tuple[float, float]:
    """How far start and end radius of an arc may differ: by the standard, and by the rules. [mm]"""
    if state.inches:
        return STRICT.round_inch_mm, max(STRICT.round_inch_mm, rules.round_inch_mm)
    return STRICT.round_mm, max(STRICT.round_mm, rules.round_mm)
