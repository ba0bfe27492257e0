"""What stall tests say: in words, as lines for machine.toml, and for other programs."""

import json
import textwrap
from collections.abc import Sequence
from math import floor, log10
from typing import Any

from kerfwright.basics import Estimate
from kerfwright.basics.units import MINUTE_S
from kerfwright.commission import SwingBand
from kerfwright.machine import Change, MachineModel
from kerfwright.report.figures import amount
from kerfwright.report.stall_form import AxisPlan

VERSION = "stalls 1"
WIDTH = 92
#: How what was found is marked in machine.toml, and found again.
REF = "stall tests"
#: A loss is told by its ends where its spread is a large part of it.
_WIDE = 0.5
#: The share of the pull is kept where the runs halved its spread, or nearly.
_NARROWER = 0.7
_MOST_TOLD = 8  #: runs that nothing explains
CAUTION = (
    "Take the cutter out and pull the spindle's plug; soft limits on, the emergency stop within "
    "reach, hands, sleeves and cords clear of all that moves. Do not pull by hand on a machine "
    "that runs: hang a weight on a cord over a pulley, low, with nothing under it, so that it "
    "rises as the axis moves. After a stall the place is lost: find the zero again before the "
    "next run. Follow your local codes."
)


def runs_words(machine: MachineModel, plans: Sequence[AxisPlan], width: int = WIDTH) -> str:
    """The runs to make, for a person at the machine."""
    if not plans:
        return (
            f"{machine.name}: no axis can turn its motor three times a second within its travel; "
            "there is nothing to try.\n"
        )
    parts = [
        _wrap(
            f"{machine.name}: where do its motors swing? Some 5 to 15 turns a second they lose "
            "part of their pull, and only trying tells how much. Run each axis from end to end at "
            "each speed, slowest first, and write down: smooth, rough, stalled. On Z the way up "
            "counts.",
            width,
        )
    ]
    for plan in plans:
        first = f"{plan.axis.upper()}  "
        speeds = ", ".join(
            f"{feed:g} ({n})" for n, feed in zip(plan.turns, plan.feed_mm_per_min, strict=True)
        )
        words = f"{speeds} mm/min (turns a second)"
        if plan.pull_n:
            words += f"; then once more with {amount(plan.pull_n, 'N')} against it"
        if plan.ends_by:
            words += f"; held by {plan.ends_by}"
        parts.append(_wrap(words, width, first, " " * len(first)))
    parts.append("BEFORE YOU RUN IT\n" + _wrap(CAUTION, width, "  ", "  "))
    parts.append(
        _wrap(
            "A sheet to fill in:  kerfwright stalls MACHINE --form stalls.toml    What it says:  "
            "kerfwright stalls MACHINE --tests stalls.toml",
            width,
        )
    )
    return "\n\n".join(parts) + "\n"


def stalls_words(
    machine: MachineModel, bands: Sequence[SwingBand], changes: Sequence[Change], width: int = WIDTH
) -> str:
    """What the runs say, axis by axis; what to write into machine.toml; what to try next."""
    parts = [_wrap(f"{machine.name}: {_sentence(bands)}", width)]
    for band in bands:
        parts.append(_list(f"{band.axis.upper()}, {_count(band)}", _axis(machine, band), width))
    if changes:
        parts.append("FOR machine.toml\n" + textwrap.indent("\n".join(lines_of(changes)), "  "))
    return "\n\n".join(parts) + "\n"


def _sentence(bands: Sequence[SwingBand]) -> str:
    told = [f"{band.axis.upper()} {_short(band)}" for band in bands]
    return "; ".join(told) + ". All ends hold nineteen times in twenty."


def _short(band: SwingBand) -> str:
    if band.shows == "a band":
        return (
            f"swings between {band.begins.value:.3g} and {band.ends.value:.3g} turns a second and "
            f"loses {_per_cent(band.loses)} of its pull there"
        )
    if band.shows == "no band":
        return (
            f"loses no more than {100.0 * band.loses.high:.0f} % of its pull anywhere between "
            f"{band.tried[0]:.3g} and {band.tried[1]:.3g} turns a second"
        )
    return "was tried too little to say where it swings"


def _count(band: SwingBand) -> str:
    many = {ran: sum(run.ran == ran for run in band.runs) for ran in ("smooth", "rough", "stalled")}
    said = ", ".join(f"{count} {ran}" for ran, count in many.items() if count)
    return f"{len(band.runs)} runs: {said}"


def _axis(machine: MachineModel, band: SwingBand) -> list[str]:
    lead = machine.axes["xyz".index(band.axis)].lead_mm
    out = []
    if band.shows == "a band":
        out += [
            f"it swings from {_speed(band.begins, lead)}",
            f"up to {_speed(band.ends, lead)}: half of the loss is left there",
            f"where it is worst {_per_cent(band.loses)} of its pull is lost",
        ]
    elif band.shows == "no band":
        out.append(
            "it was never felt to lose pull: what may be hidden between the runs is kept as the "
            "most that it may lose"
        )
    else:
        low, high = (100.0 * end for end in band.open_loss)
        out.append(
            f"at {_at(band.open_at, lead)} it may lose {low:.0f} to {high:.0f} % of its pull, for "
            "all that these runs say; nothing is kept"
        )
    share, before = band.pull_share, band.pull_share_before
    out.append(
        f"otherwise it pulls {share.low:.2f} to {share.high:.2f} of what is computed "
        f"({before[0]:.2f} to {before[1]:.2f} before)"
    )
    if all(run.ran != "stalled" for run in band.runs):
        most = max(run.pull_n for run in band.runs)
        out.append(
            f"it never stalled, with up to {most:.3g} N against it: that only bounds what it loses "
            "from above; runs with more against it tell more"
        )
    out += [
        f"line {band.runs[i].place().line} ({_at(float(band.turns[i]), lead)}, "
        f"{band.runs[i].ran}) is not explained by what the others say: run it again"
        for i in band.unexplained[:_MOST_TOLD]
    ]
    if band.shows != "no band":
        out.append(f"one more run would say most at {_at(band.open_at, lead)}")
    return out


def band_changes(bands: Sequence[SwingBand], file: str) -> tuple[Change, ...]:
    """What of it goes into machine.toml."""
    out = []
    for band in bands:
        ref = f"{REF}, {len(band.runs)} runs, {file}"[:150]
        values: dict[str, str] = {}
        if band.shows != "too little":
            values = {
                "swings_from": _typed(band.begins, "rev/s"),
                "swings_to": _typed(band.ends, "rev/s"),
                "swings_lose": _typed(_scaled(band.loses, 100.0), "%"),
                "swings_tried_to": f"{floor(100.0 * band.tried[1]) / 100.0:g} rev/s",
            }
        before = band.pull_share_before
        if band.pull_share.high - band.pull_share.low < _NARROWER * (before[1] - before[0]):
            values["pull_share"] = _typed(band.pull_share, "")
        out += [
            Change(path=f"axes.{band.axis}.motor.{key}", typed=typed, kind="measured", ref=ref)
            for key, typed in values.items()
        ]
    return tuple(out)


def lines_of(changes: Sequence[Change]) -> list[str]:
    """Changes as lines of machine.toml."""
    out: list[str] = []
    for change in changes:
        section, _, key = change.path.rpartition(".")
        if f"[{section}]" not in out:
            out.append(f"[{section}]")
        out.append(f'{key} = {{ is = "{change.typed}", from = "{change.kind}", '
                   f'ref = "{change.ref}" }}')  # fmt: skip
    return out


def stalls_text(
    machine: MachineModel, bands: Sequence[SwingBand], changes: Sequence[Change]
) -> str:
    """The same for other programs, as JSON. [rev/s, N, shares of 1]"""
    plain = {
        "kerfwright": VERSION,
        "machine": {"name": machine.name, "sha256": machine.sha256},
        "axes": [_plain(band) for band in bands],
        "lines": lines_of(changes),
    }
    return json.dumps(plain, indent=1, ensure_ascii=False, allow_nan=False)


def _plain(band: SwingBand) -> dict[str, Any]:
    return {
        "axis": band.axis,
        "shows": band.shows,
        "begins_rev_per_s": _ends(band.begins),
        "ends_rev_per_s": _ends(band.ends),
        "loses": _ends(band.loses),
        "pull_share": _ends(band.pull_share),
        "pull_share_before": list(band.pull_share_before),
        "tried_rev_per_s": list(band.tried),
        "try_next_rev_per_s": band.open_at,
        "runs": [
            {
                "number": i + 1,
                "rev_per_s": float(turns),
                "pull_n": run.pull_n,
                "ran": run.ran,
                "explained": i not in band.unexplained,
            }
            for i, (run, turns) in enumerate(zip(band.runs, band.turns, strict=True))
        ],
    }


def _ends(estimate: Estimate) -> dict[str, float]:
    return {"value": estimate.value, "low": estimate.low, "high": estimate.high}


def _scaled(estimate: Estimate, factor: float) -> Estimate:
    value, low, high = (factor * e for e in (estimate.value, estimate.low, estimate.high))
    return Estimate(value=value, low=low, high=high)


def _typed(estimate: Estimate, unit: str) -> str:
    """``9.1 ± 0.4 rev/s``, or ``5 to 60 %`` where the spread is a large part, or lies aslant."""
    low, high = estimate.low, estimate.high
    if low == high:
        return f"{estimate.value:.3g} {unit}".strip()
    half = 0.5 * (high - low)
    aslant = abs(0.5 * (low + high) - estimate.value) > 0.25 * half
    decimals = max(1 - floor(log10(half)), 0)
    if aslant or half > _WIDE * estimate.value:
        # A range is cut by a fortieth at either end where its nineteen in twenty are told.
        cut = (high - low) / 38.0
        return f"{max(low - cut, 0.0):.{decimals}f} to {high + cut:.{decimals}f} {unit}".strip()
    return f"{0.5 * (low + high):.{decimals}f} ± {half:.{decimals}f} {unit}".strip()


def _speed(turns: Estimate, lead_mm: float) -> str:
    low, high = turns.low, turns.high
    return f"{_at(turns.value, lead_mm)}, {low:.3g} to {high:.3g} turns"


def _at(turns: float, lead_mm: float) -> str:
    feed = amount(float(f"{MINUTE_S * turns * lead_mm:.3g}"), "mm/min")
    return f"{turns:.3g} turns a second, {feed}"


def _per_cent(share: Estimate) -> str:
    value, low, high = (100.0 * end for end in (share.value, share.low, share.high))
    return f"{value:.0f} % ({low:.0f} to {high:.0f})"


def _wrap(text: str, width: int, first: str = "", rest: str = "") -> str:
    return textwrap.fill(
        text, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def _list(title: str, items: Sequence[str], width: int) -> str:
    return "\n".join([title, *(_wrap(item, width, "  - ", "    ") for item in items)])
