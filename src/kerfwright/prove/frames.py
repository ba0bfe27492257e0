"""The frame where the job is cut: how it swings there, and how it may as well."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.loads import compliance_at
from kerfwright.machine import MachineModel, NoseModes, nose_modes
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.setup import Setup

FloatArray = NDArray[np.float64]

PLACE: Final = (cutting.X, cutting.Y, cutting.Z)
#: Pitches tried between the lowest and the highest: a mode may meet a harmonic at any of them. A
#: peak half way between two of the demo's is told a third too low at a damping of 0.02.
PITCHES = 13
#: A normal spread has tails: damping keeps this share of its middle at least, as where it is drawn.
_LEAST_SHARE: Final = 0.05


def where_it_cuts(swept: Swept, tools: Tooling, setup: Setup) -> tuple[FloatArray, Cutter] | None:
    """The middle of what is cut, in the machine's frame (3,), and the cutter that cuts most there.

    None where nothing is cut.
    """
    cut = np.flatnonzero(swept.column[:, cutting.TAKEN] > 0.0)
    if not len(cut):
        return None
    place = np.array([np.median(swept.column[cut, axis]) for axis in PLACE], np.float64)
    slots, many = np.unique(tools.slot[swept.segment[cut]], return_counts=True)
    return place + np.array(setup.board_at_mm), setup.slots[int(slots[np.argmax(many)])]


def frames_of(
    swept: Swept, tools: Tooling, setup: Setup, machine: MachineModel, drawn: Sequence[MachineModel]
) -> tuple[NoseModes, ...]:
    """How the machine swings where the job is cut, then how it may as well. Empty: nothing is cut.

    All springs are taken as softer or stiffer together, over what give and moving mass of the
    machines drawn make of the frequencies, with the least damping that is likely; and as they are
    with the most.
    """
    where = where_it_cuts(swept, tools, setup)
    if where is None:
        return ()
    (x, y, z), cutter = where
    nose = float(z + cutter.stick_out_mm)
    stands = np.diagonal(compliance_at(machine, *np.array([[x], [y], [nose]]))[0])
    own = nose_modes(machine, float(x), float(y), nose, stands)
    known = machine.known.get("frame.damping")
    least, most = known.interval() if known is not None else (machine.damping, machine.damping)
    least = max(least, _LEAST_SHARE * machine.damping)
    pitches = _pitches(machine, drawn).tolist()
    return (own, own.pitched(1.0, most), *(own.pitched(pitch, least) for pitch in pitches))


def _pitches(machine: MachineModel, drawn: Sequence[MachineModel]) -> FloatArray:
    """Frequencies over those of this machine, from the lowest to the highest of those drawn.

    All of them: one mode alone is farther off than all together.
    """
    own = _soft(machine)
    if not drawn or not own.all():
        return np.ones(1)
    many = np.sqrt(own / np.array([_soft(one) for one in drawn]))
    return np.geomspace(float(many.min()), float(many.max()), PITCHES)


def _soft(machine: MachineModel) -> FloatArray:
    """Give along X and Y in the middle with Z down times the mass that moves, (2,)."""
    give = machine.compliance_mm_per_n
    middle = np.diagonal(give[give.shape[0] // 2, give.shape[1] // 2, 0])[:2]
    return np.asarray(middle * [axis.mass_kg for axis in machine.axes[:2]])
