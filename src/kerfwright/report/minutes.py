"""What the person does or looks at through the job, in shop minutes."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from kerfwright.prove import Verdict
from kerfwright.prove.proof import Proof
from kerfwright.report.figures import clean


def minutes(proof: Proof) -> Iterator[dict[str, Any]]:
    """What the person does or looks at, in the order of the clock."""
    out = [*_changes(proof), *_looks(proof.verdict)]
    yield from sorted(out, key=lambda one: one["time_s"])


def _changes(proof: Proof) -> Iterator[dict[str, Any]]:
    """Cutter changes, where the next cutter first moves."""
    slot = proof.series.slot
    for k in np.flatnonzero(np.diff(slot) != 0).tolist():
        now = int(slot[k + 1])
        cutter = proof.setup.slots.get(now)
        if now <= 0 or slot[k] <= 0:
            continue
        words = f"change to the {cutter.name}" if cutter is not None else f"change to cutter {now}"
        if proof.setup.z_after_change == "set again":
            words += ", and set Z again"
        yield {
            "time_s": float(proof.series.time_s[k]),
            "words": clean(words),
            "short": "",
            "kind": "change",
            "finding": "",
        }


def _looks(verdict: Verdict) -> Iterator[dict[str, Any]]:
    for number, finding in enumerate(verdict.findings, start=1):
        if finding.time_s is None:
            continue
        by_hand = finding.code == "switch on by hand"
        if finding.severity == "note" and not by_hand:
            continue
        words = clean(finding.words) if by_hand else f"look here: {number}, {finding.code}"
        yield {
            "time_s": finding.time_s,
            "words": words,
            "short": "" if by_hand else str(number),
            "kind": "do" if by_hand else "look",
            "finding": finding.id,
        }
