"""How the frame swings, in the words of the shop."""

from collections.abc import Iterator, Sequence
from typing import Any

from kerfwright.basics import Estimate
from kerfwright.machine import FrameMode, MachineModel, set_off
from kerfwright.report.figures import amount, estimate_words
from kerfwright.report.give_map import shares_words

#: A swing of less is not told: two thousandths of a millimetre. Common practice, no source.
_FELT_MM = 0.002


def swing_words(mode: FrameMode) -> str:
    """What it looks like."""
    if "table" in mode.moves:
        return "the table swings"
    along = mode.along
    nose, beam = (float(mode.moves[body][along]) for body in ("spindle", "gantry"))
    top = float(mode.moves["spindle's top"][along])
    if nose * top < 0.0 and abs(top) > 0.2 * abs(nose):
        return "the spindle nods, its nose one way and its top the other,"
    if nose * beam < 0.0 and abs(beam) > 0.2 * abs(nose):
        return "the gantry rocks, beam one way and nose the other,"
    if abs(beam) > 0.4 * abs(nose):
        return "gantry and spindle go to and fro together"
    return "the spindle swings, the beam hardly,"


def swing_means(machine: MachineModel, mode: FrameMode) -> str:
    """What it does to a cut: how far a start sets it off, and how long it goes on."""
    axis = machine.axes[mode.along]
    swing, settled = set_off(machine, mode)
    what = "table" if "table" in mode.moves else "nose"
    if swing < _FELT_MM:
        return f"a start along {axis.name.upper()} hardly sets it off; a cut may"
    return (
        f"each start along {axis.name.upper()} with the {axis.acceleration_mm_per_s2:.0f} mm/s² "
        f"set swings the {what} out by {amount(swing, 'mm')}; "
        f"down to a twentieth after {settled:.2g} s"
    )


def swing_hertz(mode: FrameMode) -> str:
    """``34 Hz``."""
    return estimate_words(Estimate(value=mode.hertz, low=mode.hertz, high=mode.hertz), "Hz")


def swing_pairs(machine: MachineModel, modes: Sequence[FrameMode]) -> Iterator[tuple[str, str]]:
    """Each mode for the card: its frequency, what it looks like, what gives, what a start does."""
    for mode in modes:
        yield (
            f"{swing_hertz(mode)}, along {'XYZ'[mode.along]}",
            f"{swing_words(mode).rstrip(',')}; {shares_words(mode.shares)}; "
            f"{swing_means(machine, mode)}",
        )


def swings_as_plain(machine: MachineModel, modes: Sequence[FrameMode]) -> list[dict[str, Any]]:
    """The modes for other programs. [Hz, mm, s]"""
    told = []
    for mode in modes:
        swing, settled = set_off(machine, mode)
        told.append(
            {
                "hertz": mode.hertz,
                "along": "xyz"[mode.along],
                "moves": {body: way.tolist() for body, way in mode.moves.items()},
                "shares": dict(mode.shares),
                "swing_mm": swing,
                "settled_s": settled,
            }
        )
    return told
