"""Where the flank of the cutter stood at some groups, on this machine and on those it might be."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Known
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.play import play_offsets
from kerfwright.loads import log_spread_in
from kerfwright.machine import MachineModel
from kerfwright.prove.run_path import (
    AsRun,
    missed_from_zero_mm,
    one_error,
    play_mm,
    step_unsure_mm,
)
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.setup import Setup

FloatArray = NDArray[np.float64]

DRAWS = 1000
SEED = 20_263
#: The side of the play is run through the whole program for so many of the draws.
_PLAYED, _LEAST_PLAYED, _PLAYED_GROUPS = 200, 40, 6e7
#: A swing's phase is not known to better than half of it.
_SWING_UNSURE = 0.5

FORCE, PLAY, MISSES = "the force of the cut", "play in the machine", "how far the axes miss"
STEPS, SWINGS = "the motors' steps", "how the machine swings"
DIAMETER, RUNOUT = "the cutter's diameter", "how true the cutter runs"
Z_ZERO = "how Z was zeroed"
#: What each comes from, of the three that a person can do something about.
ROOM: Mapping[str, str] = {
    FORCE: "cut", PLAY: "machine", MISSES: "machine", STEPS: "machine", SWINGS: "machine",
    DIAMETER: "set-up", RUNOUT: "set-up", Z_ZERO: "set-up",
}  # fmt: skip
_GEOMETRY = ("square_xy", "square_xz", "square_yz", "scale_x", "scale_y", "bow_x_back",
             "bow_y_right")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """How far walls stand proud at some groups, by what makes it. [mm]"""

    nominal: dict[str, FloatArray]  #: (k,)
    off: dict[str, FloatArray]  #: (draws, k) from the nominal


class Flanks:
    """Walls at any groups: the same draws for all, so that what is common stays common."""

    def __init__(
        self,
        swept: Swept,
        run: AsRun,
        tools: Tooling,
        setup: Setup,
        machine: MachineModel,
        softness: FloatArray,
    ) -> None:
        """``softness`` (draws, 2): give along X and Y of machines drawn, over this one's."""
        self._swept, self._run, self._tools = swept, run, tools
        self._setup, self._machine = setup, machine
        self._rng = np.random.default_rng(SEED)
        law = log_spread_in(setup.board.wood)
        self._force = np.exp(law * self._rng.normal(size=DRAWS))
        self._give = self._force[:, None] * softness[np.arange(DRAWS) % len(softness)]
        self._swing = _SWING_UNSURE * self._rng.normal(size=DRAWS)
        self._play = play_mm(swept, machine)[:, :2]
        self._drawn_play = self._played()
        self._slope = {key: self._off(f"geometry.{key}") for key in _GEOMETRY}
        self._cutters = {
            slot: (self._off_of(cutter, "diameter_mm"), self._off_of(cutter, "runout_mm"))
            for slot, cutter in setup.slots.items()
        }

    def shift(self, group: NDArray[np.int64], out: FloatArray) -> Shift:
        """At groups (k,), walls that stand in the direction ``out`` (k, 2) from the cutter."""
        slot = self._tools.slot[self._swept.segment[group]]
        by_axis = -self._swept.give_mm[group, :2].astype(np.float64) * out
        give = by_axis.sum(axis=1)
        play = -(self._play[group] * out).sum(axis=1)
        swing = -(self._run.swing_mm[group, :2].astype(np.float64) * out).sum(axis=1)
        whole = -(self._run.offset_mm[group, :2] * out).sum(axis=1)
        runout = np.array([0.5 * self._setup.slots[s].runout_mm for s in slot.tolist()])
        drawn = self._drawn_play[np.arange(DRAWS) % len(self._drawn_play)][:, group]
        nothing = np.zeros((DRAWS, len(group)))
        diameter, true = nothing.copy(), nothing
        for number in np.unique(slot).tolist():
            mine = slot == number
            wide, round_ = self._cutters[number]
            diameter[:, mine] = -0.5 * wide[:, None]
            true[:, mine] = -0.5 * np.maximum(round_, -self._setup.slots[number].runout_mm)[:, None]
        return Shift(
            nominal={
                FORCE: give,
                PLAY: play,
                SWINGS: swing,
                MISSES: whole - give - play - swing,
                RUNOUT: -runout,
            },
            off={
                FORCE: (self._give - 1.0) @ by_axis.T,
                PLAY: -(drawn * out).sum(axis=2) - play,
                SWINGS: self._swing[:, None] * swing,
                MISSES: -self._missed(group, out),
                DIAMETER: diameter,
                RUNOUT: true,
            },
        )

    def steps_mm(self, out: FloatArray) -> FloatArray:
        """How far whole walls (k, 2) may stand off by the motors' steps, drawn. (DRAWS, k)"""
        half = np.array([step_unsure_mm(axis) / 0.95 for axis in self._machine.axes[:2]])
        return np.asarray(
            (self._rng.uniform(-1.0, 1.0, (DRAWS, len(out), 2)) * half * out).sum(axis=2)
        )

    def _missed(self, group: NDArray[np.int64], out: FloatArray) -> FloatArray:
        at = self._swept.column[group, cutting.X : cutting.Z + 1].astype(np.float64)
        at = np.concatenate([np.array(self._setup.zero_on_board_mm)[None], at])
        missed = np.zeros((DRAWS, len(group)))
        for key, drawn in self._slope.items():
            if not drawn.any():
                continue
            one = replace(self._machine, geometry=one_error(key))
            moved = missed_from_zero_mm(at, self._setup, one)[1:, :2]
            missed += drawn[:, None] * (moved * out).sum(axis=1)
        return missed

    def _played(self) -> NDArray[np.float32]:
        """Side and size of the play for the first draws. (draws, groups, 2)"""
        groups = len(self._play)
        count = int(np.clip(_PLAYED_GROUPS / max(groups, 1), _LEAST_PLAYED, _PLAYED))
        axes = self._machine.axes
        force = self._swept.column[:, cutting.FORCE_X : cutting.FORCE_Z + 1]
        force = force.astype(np.float64, order="C")  # row by row, as the kernel is compiled for
        motion = self._swept.motion_mm.astype(np.float64)
        friction = [self._off(f"axes.{axis.name}.guide_friction") for axis in axes[:2]]
        play = [self._off(f"axes.{axis.name}.{axis.drive}.play") for axis in axes[:2]]
        out = np.zeros((count, groups, 2), np.float32)
        offset = np.zeros((groups, 3))
        for k in range(count):
            holds = np.array([max(axes[a].friction_n + friction[a][k], 0.0) for a in (0, 1)])
            loose = np.array([max(axes[a].play_mm + play[a][k], 0.0) for a in (0, 1)])
            # Z is of no concern to a wall.
            play_offsets(
                force * self._force[k], motion, np.append(holds, np.inf), np.append(loose, 0.0),
                np.zeros(3), offset,
            )  # fmt: skip
            out[k] = offset[:, :2]
        return out

    def _off(self, path: str) -> FloatArray:
        """Draws of a value of machine.toml, from the one taken. (DRAWS,)"""
        return drawn_off(self._machine.known.get(path), self._rng)

    def _off_of(self, cutter: Cutter, name: str) -> FloatArray:
        return drawn_off(cutter.known.get(name), self._rng)


def drawn_off(known: Known | None, rng: np.random.Generator) -> FloatArray:
    """Draws of a value from the one that is taken for it. (DRAWS,)"""
    if known is not None and known.u is not None:
        return rng.normal(0.0, known.u, DRAWS)
    if known is not None and known.low is not None and known.high is not None:
        return rng.uniform(known.low, known.high, DRAWS) - known.value
    return np.zeros(DRAWS)
