"""At which force what was pressed together opens: wheels, nuts, and what else gives way."""

from collections.abc import Iterator
from typing import Any

from kerfwright.basics import Estimate
from kerfwright.machine import PUSH_N, MachineModel, MachineResults
from kerfwright.report.figures import amount, estimate_words

#: Forces are shown up to this many times the push that the card speaks of; beyond, they are told.
_SHOWN = 8.0
#: A share below that is none.
_NONE = 0.005


def openings(machine: MachineModel, results: MachineResults) -> dict[str, Any]:
    """For the page: each force with its spread, the first to open first, and a scale. [N]"""
    rows = sorted(_rows(machine, results), key=lambda row: row[2].value)
    most = min(max([PUSH_N, *(row[2].high for row in rows)]), _SHOWN * PUSH_N)
    return {
        "rows": [
            {
                "label": label,
                "then": then,
                "words": estimate_words(_bare(force), "N"),
                "value": force.value,
                "low": force.low,
                "high": force.high,
            }
            for label, then, force in rows
        ],
        "most": most,
        "push": PUSH_N,
        "push_words": f"{amount(PUSH_N, 'N')}, the push that this card speaks of",
        "damp": damp_words(results),
    }


def _rows(machine: MachineModel, results: MachineResults) -> Iterator[tuple[str, str, Estimate]]:
    for nose in results.nose:
        if nose.pressed is not None:
            then = f"the {nose.first_free} run free on one side, and it gives more from there on"
            yield f"wheels, the nose pushed along {nose.name}", then, nose.pressed
    for axis in results.axes:
        if axis.nut_opens is not None:
            if machine.choices[f"axes.{axis.name.lower()}.screw.nut"] == "ball":
                then = "one row of balls runs free, and the drive gives more"
            else:
                then = "it opens towards its spring, and its play comes back"
            yield f"nut of {axis.name}, thrust along {axis.name}", then, axis.nut_opens


def damp_words(results: MachineResults) -> str:
    """What moisture does to the preload of wheels on wood; empty where there are none."""
    if results.damp_grows is None or results.damp_follows is None or results.damp_keeps is None:
        return ""
    keeps = _bare(results.damp_keeps)
    return (
        "Wheels on wood: when 3 % more or less moisture moves the gantry's wheels "
        f"{estimate_words(_bare(results.damp_grows), 'mm')} the way that loosens them, they keep "
        f"{_kept(keeps)} of their preload, and let go at that share of the "
        "forces above. Set them again when the season turns"
    )


def _kept(share: Estimate) -> str:
    if share.high < _NONE:
        return "nothing"
    if share.value < _NONE:
        return f"hardly any, at most {amount(share.high, 'share')},"
    return estimate_words(share, "share")


def _bare(estimate: Estimate) -> Estimate:
    return Estimate(value=estimate.value, low=estimate.low, high=estimate.high)
