"""What stands above the flutes and turns or rides with them: shank, collet nut, nose, dust boot.

Each is a stack of discs over the cutter's tip, in two sizes: the largest that it may be, which
finds whatever may touch, and the smallest, which says what touches for certain.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Estimate, Finding, Known, Remedy
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.cutter import Cutter
from kerfwright.machine import MachineModel
from kerfwright.setup import Setup

FloatArray = NDArray[np.float64]

CUTTER, SHANK, NUT, NOSE, BOOT = "cutter", "shank", "collet nut", "spindle nose", "dust boot"
_PARTS = 4  #: into which a spread is divided to say how likely it is that something touches
_MIDDLING = 0.5  #: likelihood where nothing tells
_DISC_MM = 0.1  #: height of the steps that stand for what is not flat, inside it


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """One of the bodies above one cutter's tip. Discs (d, 2): radius, height above the tip. [mm]"""

    name: str
    slot: int
    most: FloatArray  #: as large and low as it may be
    sure: FloatArray  #: as small and high as it may be
    given: bool  #: whether every size of it was measured or written, none taken as usual
    unknown: tuple[str, ...] = ()  #: sizes that were taken, in words

    def raised(self, mm: float) -> "Body":
        """The same with the cutter sticking out further."""
        up = np.array([0.0, mm])
        return replace(self, most=self.most + up, sure=self.sure + up)

    def in_spread(self, across_mm: float, up_mm: float) -> "Body":
        """The same with its sure part taken in by the spread of where the program's zero is."""
        sure = self.sure + np.array([-across_mm, up_mm])
        return replace(self, sure=sure[sure[:, 0] > 0.0])


def bodies(setup: Setup, machine: MachineModel) -> list[Body]:
    """All of them, over each cutter of the set-up."""
    out = []
    across, up = zero_spread_mm(setup)
    for slot, cutter in sorted(setup.slots.items()):
        own = [_cutter(slot, cutter), *_above(slot, cutter, machine)]
        out += [body.in_spread(across, up) for body in own]
    return out


def zero_spread_mm(setup: Setup) -> tuple[float, float]:
    """How far the program may stand beside its place and above it, nineteen times in twenty."""
    x, y, z = setup.zero_u_mm
    return TWO_SIDED_95 * float(np.hypot(x, y)), TWO_SIDED_95 * z


def shank_of(slot: int, cutter: Cutter) -> Body | None:
    """The shank where it is wider than the cutter; a narrower one stands in the cutter's way.

    None above an undercut: how long its neck is nobody says.
    """
    if cutter.shank_diameter_mm <= cutter.diameter_mm or cutter.undercuts:
        return None
    diameter = _known(cutter.known, "shank_diameter_mm", cutter.shank_diameter_mm)
    flutes = _known(cutter.known, "flute_length_mm", cutter.flute_length_mm)
    return _disc(SHANK, slot, diameter, [(flutes, 1.0)], {"shank": diameter, "flutes": flutes})


def _cutter(slot: int, cutter: Cutter) -> Body:
    """Cutting part and shank together, for what is no wood."""
    rim = cutter.rim_mm
    height = np.linspace(0.0, rim, max(1, ceil(rim / _DISC_MM)) + 1 if rim > 0.0 else 1)
    wide = np.array([cutter.widest_below_mm(float(z)) for z in height])
    discs = np.column_stack([wide, height])[wide > 0.0]
    shank = shank_of(slot, cutter)
    most = sure = discs
    if shank is not None:
        most = np.vstack([discs, shank.most])
        sure = np.vstack([discs, shank.sure]) if shank.given else discs
    return Body(name=CUTTER, slot=slot, most=most, sure=sure, given=True)


def _above(slot: int, cutter: Cutter, machine: MachineModel) -> Iterable[Body]:
    spindle = machine.spindle

    def known(key: str, value: float) -> Known:
        return _known(machine.known, f"spindle.{key}", value)

    out = _known(cutter.known, "stick_out_mm", cutter.stick_out_mm)
    nut = known("nut_diameter", spindle.nut_diameter_mm)
    high = known("nut_height", spindle.nut_height_mm)
    nose = known("nose_diameter", spindle.nose_diameter_mm)
    boot = known("boot_diameter", spindle.boot_diameter_mm)
    below = known("boot_below_nut", spindle.boot_below_nut_mm)
    sizes = {"stick-out": out, "nut": nut}
    if nut.value > 0.0:
        yield _disc(NUT, slot, nut, [(out, 1.0)], sizes)
    if nose.value > 0.0:
        sizes = {"stick-out": out, "height of the nut": high, "nose": nose}
        yield _disc(NOSE, slot, nose, [(out, 1.0), (high, 1.0)], sizes)
    if boot.value > 0.0:
        sizes = {"stick-out": out, "boot": boot, "boot below the nut": below}
        yield _disc(BOOT, slot, boot, [(out, 1.0), (below, -1.0)], sizes)


def _disc(
    name: str,
    slot: int,
    diameter: Known,
    heights: Sequence[tuple[Known, float]],
    sizes: Mapping[str, Known],
) -> Body:
    low = sum(sign * end_of(known, -sign) for known, sign in heights)
    high = sum(sign * end_of(known, sign) for known, sign in heights)
    taken = [word for word, known in sizes.items() if known.kind == "default"]
    return Body(
        name=name,
        slot=slot,
        most=np.array([[end_of(diameter, 1.0) / 2.0, low]]),
        sure=np.array([[end_of(diameter, -1.0) / 2.0, high]]),
        given=not taken,
        unknown=tuple(taken),
    )


def higher(setup: Setup, machine: MachineModel, body: Body, mm: int, after: Finding) -> Remedy:
    """Bring a body so much higher above the tip; ``after``: what was found with it."""
    if body.name == BOOT:
        old = machine.spindle.boot_below_nut_mm
        change = Change(path="spindle.boot_below_nut", old=f"{old:g} mm", new=f"{old - mm:g} mm")
        words = f"Set the dust boot {mm} mm higher"
    else:
        out = setup.slots[body.slot].stick_out_mm
        path = f"slots.{body.slot}.stick_out"
        change = Change(path=path, old=f"{out:g} mm", new=f"{out + mm:g} mm")
        words = f"Let cutter {body.slot} stick out {mm} mm more, if its shank is long enough"
    return Remedy(words=words, changes=(change,), tried=after)


def tried(found: Finding, words: str) -> Finding:
    """What the model found after a remedy: nothing more of the kind."""
    nothing = Estimate(value=0.0, low=0.0, high=0.0)
    return replace(
        found, id=f"{found.id}-tried", severity="note", words=words, value=nothing,
        likelihood=None, remedies=(),
    )  # fmt: skip


def end_of(known: Known, sign: float) -> float:
    """The upper (sign 1) or lower (-1) end of a value: of a range all of it."""
    if known.low is not None and known.high is not None:
        return known.high if sign > 0.0 else known.low
    return known.interval()[1 if sign > 0.0 else 0]


def part_of_spread(body: Body, meets: Callable[[FloatArray, float], object | None]) -> float:
    """The part of a body's spread in which it meets something, from 0.05 to 0.95.

    ``meets`` takes discs and how far they are from ``most`` (0) to ``sure`` (1). All sizes are
    taken to go from one end to the other together, as if one of them ruled: a rough likelihood.
    """
    if len(body.sure) != len(body.most):
        return _MIDDLING
    shares = (np.arange(_PARTS) + 0.5) / _PARTS
    met = [meets(body.most + share * (body.sure - body.most), float(share)) for share in shares]
    return float(np.clip(sum(one is not None for one in met) / _PARTS, 0.05, 0.95))


def _known(known: Mapping[str, Known], key: str, value: float) -> Known:
    return known.get(key) or Known(value=value, kind="measured", ref="exact")
