"""The machine's card for the page: computed once, asked about often, tried with other values."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate
from kerfwright.basics.units import GRAVITY_MM_PER_S2
from kerfwright.formats import read_toml
from kerfwright.formats.toml_file import TomlFile, parse_toml
from kerfwright.machine import (
    PUSH_N,
    Buys,
    Change,
    FrameMode,
    MachineModel,
    MachineResults,
    answered,
    crowd_of,
    frame_modes,
    results_of,
    worth_trying,
)
from kerfwright.physics.inertia import inertia_force_n
from kerfwright.report.give_map import GiveMap, give_words, parts_there
from kerfwright.report.machine_page import Pinned, against, page_card

FloatArray = NDArray[np.float64]

SEED = 1
DRAWS = 160
DRAWS_TRIED = 40  #: for an answer while a slider moves
_MODES_DRAWN = 40
_ENDS = (2.5, 97.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class PinnedCard:
    """The card of one machine file as it stood."""

    toml: TomlFile
    pinned: Pinned
    rough: Pinned  #: with as few draws as what is tried has, to compare with that

    def as_plain(self, demand: dict[str, Any] | None = None) -> dict[str, Any]:
        """As ``wire.ts`` has it; ``demand`` is what the last proved job asked of the motors."""
        return page_card(self.toml, self.pinned, demand)

    def at(self, x_mm: float, y_mm: float, height: int, along: int) -> dict[str, Any]:
        """What the pointer is on: in words, and which parts give there."""
        place = (self.pinned.give, x_mm, y_mm, height, along)
        return {"words": give_words(*place), "parts": parts_there(*place)}

    def tried(
        self, changes: Sequence[Change], demand: dict[str, Any] | None = None
    ) -> dict[str, Any]:
        """The card with other values, nothing kept, and what they would change.

        Raises
        ------
        AnswerError
            If a value is refused.
        """
        text, machine = answered(self.toml.text, changes, self.toml.file)
        toml = parse_toml(text, self.toml.file)
        pinned = _pinned(machine, DRAWS_TRIED, ())
        card = page_card(toml, pinned, demand)
        return card | {"against": against(self.rough, pinned), "narrows_most": []}


def pin_card(path: Path) -> PinnedCard:
    """Read a machine and work its card out.

    Raises
    ------
    InputError, InputErrors
        If the file cannot be read.
    """
    toml = read_toml(path)
    machine = answered(toml.text, (), toml.file)[1]
    crowd = crowd_of(machine, SEED, DRAWS)
    return PinnedCard(
        toml=toml,
        pinned=_of(machine, crowd, worth_trying(machine, crowd)),
        rough=_of(machine, crowd[:DRAWS_TRIED], ()),
    )


def _pinned(machine: MachineModel, draws: int, buys: tuple[Buys, ...]) -> Pinned:
    return _of(machine, crowd_of(machine, SEED, draws), buys)


def _of(machine: MachineModel, crowd: Sequence[MachineModel], buys: tuple[Buys, ...]) -> Pinned:
    results = results_of(machine, crowd, SEED)
    return Pinned(
        machine=machine,
        results=results,
        modes=_modes(machine, crowd),
        give=_give(machine, crowd, results),
        buys=buys,
    )


def _modes(
    machine: MachineModel, crowd: Sequence[MachineModel]
) -> tuple[tuple[FrameMode, Estimate], ...]:
    """The lowest ways of swinging, each with the spread of its frequency, rank by rank."""
    own = frame_modes(machine)
    many = np.array([[mode.hertz for mode in frame_modes(m)] for m in crowd[:_MODES_DRAWN]])
    low, high = np.percentile(many, _ENDS, axis=0)
    return tuple(
        (
            mode,
            Estimate(
                value=mode.hertz, low=min(float(a), mode.hertz), high=max(float(b), mode.hertz)
            ),
        )
        for mode, a, b in zip(own, low, high, strict=True)
    )


def _give(machine: MachineModel, crowd: Sequence[MachineModel], results: MachineResults) -> GiveMap:
    def own(m: MachineModel) -> FloatArray:
        return PUSH_N * np.diagonal(m.compliance_mm_per_n, axis1=-2, axis2=-1)

    value = own(machine)
    low, high = np.percentile(np.stack([own(m) for m in crowd]), _ENDS, axis=0)
    return GiveMap(
        at_mm=machine.compliance_at_mm,
        give_mm=value,
        low_mm=np.minimum(low, value),
        high_mm=np.maximum(high, value),
        shares=machine.compliance_shares,
        sag_mm=_sag(machine),
        along=tuple(nose.name for nose in results.nose),
    )


def _sag(machine: MachineModel) -> FloatArray:
    """How much lower the carriage's own weight hangs the nose than where it hangs least. (nx, ny)

    The weight of carriage and spindle times the give up and down, Z down, less its least.
    """
    carriage = machine.axes[1 if machine.choices["frame.moves_along"] == "x" else 0]
    weight = float(inertia_force_n(carriage.mass_kg, GRAVITY_MM_PER_S2))
    up = machine.compliance_mm_per_n[:, :, 0, 2, 2] * weight
    return np.asarray(up - up.min())
