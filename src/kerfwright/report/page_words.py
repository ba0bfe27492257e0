"""The verdict as the page shows it: every figure already in the words of the shop."""

from collections.abc import Iterator
from dataclasses import replace
from math import log
from typing import Any

from kerfwright.basics import Finding, Remedy, Spot
from kerfwright.loads import FORCE_LAW, log_spread_in
from kerfwright.prove import Verdict
from kerfwright.prove.proof import Proof
from kerfwright.report.figures import (
    amount,
    both_ways,
    chance_words,
    clean,
    distance,
    duration,
    estimate_words,
    shop_unit,
)
from kerfwright.report.minutes import minutes
from kerfwright.report.parts_words import parts_pairs
from kerfwright.report.tryable import kind_of, why_not
from kerfwright.report.words import (
    CAUTIONS,
    SPREADS,
    ascut_pairs,
    assumed_words,
    cost_words,
    margin_words,
    totals_pairs,
    tried_words,
)


def page_verdict(proof: Proof, made_at: str) -> dict[str, Any]:
    """The verdict for the page, plain values only; ``page/src/wire.ts`` names them."""
    verdict = proof.verdict
    return {
        "verdict": verdict.outcome,
        "sentence": clean(verdict.sentence),
        "findings": [_finding(one) for one in verdict.findings],
        "facts": [
            {"label": clean(label), "words": clean(words), "why": why}
            for label, words, why in _facts(verdict)
        ],
        "assumed": [clean(one) for one in assumed_words(verdict)],
        "not_checked": [clean(one) for one in verdict.not_checked],
        "cautions": CAUTIONS,
        "minutes": list(minutes(proof)),
        "total_s": verdict.totals.time_s,
        "made_at": made_at,
    }


def _facts(verdict: Verdict) -> Iterator[tuple[str, str, str]]:
    for label, words in totals_pairs(verdict.totals):
        yield label, words, ""
    for margin in verdict.margins:
        yield margin_words(margin)[0], margin_words(margin)[1], margin.value.mostly_from
    if verdict.ascut is not None:
        for label, words in (*ascut_pairs(verdict.ascut), *parts_pairs(verdict.ascut)):
            yield label.strip(), words, SPREADS


def _finding(finding: Finding) -> dict[str, Any]:
    unit = shop_unit(finding.code, finding.unit)
    counted = finding.unit != "slot" and bool(unit or finding.value.value or finding.limit)
    chance = finding.likelihood
    return {
        "id": finding.id,
        "code": finding.code,
        "severity": finding.severity,
        "words": clean(both_ways(finding.words)),
        "number_words": estimate_words(replace(finding.value, mostly_from=""), unit)
        if counted
        else "",
        "from_words": clean(finding.value.mostly_from) if counted else "",
        "limit_words": _limit(finding.limit, unit) if counted else "",
        "chance_words": "" if chance is None else chance_words(chance),
        "line": finding.line,
        "time_s": finding.time_s,
        "spot_mm": _spot(finding.spot),
        "place_words": _place(finding.spot),
        "remedies": [_remedy(one) for one in finding.remedies],
        "accepted": clean(finding.accepted),
        "plain": {
            "value": finding.value.value,
            "low": finding.value.low,
            "high": finding.value.high,
            "limit": finding.limit,
            "unit": finding.unit,
        },
    }


def _remedy(remedy: Remedy) -> dict[str, Any]:
    model = ""
    if remedy.tried is not None:
        model = f"Tried in the model: {clean(tried_words(remedy.tried))}."
    if remedy.not_tried:
        model += f" Not tried in the model: {clean(both_ways(remedy.not_tried.rstrip('.')))}."
    return {
        "words": clean(both_ways(remedy.words.rstrip("."))),
        "model_words": model.strip(),
        "cost_words": "" if remedy.more_s is None else cost_words(remedy.more_s),
        "can_try": bool(remedy.changes) and all(map(kind_of, remedy.changes)),
        "why_not": why_not(remedy),
        "changes": [{"path": c.path, "old": c.old, "new": c.new} for c in remedy.changes],
    }


def _spot(spot: Spot | None) -> list[float] | None:
    return None if spot is None else [spot.x_mm, spot.y_mm, spot.z_mm]


def _place(spot: Spot | None) -> list[str]:
    """How far right of the board's left front corner, and how far back of it."""
    return [] if spot is None else [distance(spot.x_mm), distance(spot.y_mm)]


def _limit(limit: float, unit: str) -> str:
    return amount(limit, unit) if limit else "none"


def guess(proof: Proof) -> dict[str, Any]:
    """What the person is asked to compare with after the cut."""
    totals = proof.verdict.totals
    low, high = totals.time_spread_s
    wood = proof.setup.board.wood
    sizes = []
    ascut = proof.verdict.ascut
    for part in ascut.parts if ascut is not None else ():
        for size in part.dimensions:
            name = f"part {part.number}, {size.name}" if part.number else f"rest, {size.name}"
            sizes.append(
                {
                    "name": name,
                    "words": estimate_words(replace(size.size, mostly_from=""), "mm"),
                    "value_mm": size.size.value,
                    "low_mm": size.size.low,
                    "high_mm": size.size.high,
                    "programmed_mm": size.programmed_mm,
                    "shares": {
                        which: [
                            getattr(size.shares, which).mm,
                            getattr(size.shares, which).unsure_mm,
                        ]
                        for which in ("set_up", "machine", "cut")
                    },
                }
            )
    return {
        "time_words": f"about {duration(totals.time_s)} ({duration(low)} to {duration(high)})",
        "time_s": totals.time_s,
        "time_spread_s": [low, high],
        "sizes": sizes[:MOST_SIZES],
        "slot": proof.setup.in_spindle,
        "law": {
            "wood": wood.name,
            "log_u": log_spread_in(wood),
            "log_factor": log(wood.known[FORCE_LAW].value) if FORCE_LAW in wood.known else 0.0,
        },
    }


MOST_SIZES = 12
