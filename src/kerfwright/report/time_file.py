"""A prediction of time for other programs, as JSON. docs/time.md explains each name."""

import json
from typing import Any

from kerfwright.basics import Estimate
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.commission import Fitted, Prediction, RuleFit
from kerfwright.report.fitted_lines import fitted_lines
from kerfwright.report.time_words import advice, sentence

VERSION = "time 1"


def time_text(prediction: Prediction) -> str:
    """The text of the file: JSON, every number so that it reads back the same."""
    return json.dumps(time_as_plain(prediction), indent=1, ensure_ascii=False, allow_nan=False)


def time_as_plain(prediction: Prediction) -> dict[str, Any]:
    """The prediction as dictionaries, lists, text and numbers. [s, mm]"""
    timed = prediction.timed
    weights = {belief.rule: belief.weight for belief in prediction.beliefs}
    return {
        "kerfwright": VERSION,
        "sentence": sentence(prediction),
        "time": _estimate(timed.time),
        "moving_s": timed.moving_s,
        "waiting_s": timed.wait_s,
        "fastest_s": prediction.fastest_s,
        "program": {
            "file": prediction.program_file,
            "sha256": prediction.program_sha256,
            "lines": prediction.lines,
            "moves": prediction.moves,
        },
        "machine": {"name": prediction.machine, "sha256": prediction.machine_sha256},
        "sections": [
            {
                "label": one.label,
                "first_line": one.first_line,
                "last_line": one.last_line,
                "feed_s": one.feed_s,
                "rapid_s": one.rapid_s,
                "wait_s": one.wait_s,
            }
            for one in prediction.sections
        ],
        "cutters": [
            {
                "slot": one.slot,
                "name": prediction.cutter_names.get(one.slot, ""),
                "feed_s": one.feed_s,
                "rapid_s": one.rapid_s,
                "wait_s": one.wait_s,
                "feed_mm": one.feed_mm,
                "rapid_mm": one.rapid_mm,
            }
            for one in prediction.cutters
        ],
        "waits": [
            {"name": one.name, "count": len(one.seconds), "total_s": one.total_s}
            for one in timed.waiting
        ],
        "spread": [
            {"name": one.name, "low_s": one.low_s, "high_s": one.high_s, "share": one.share}
            for one in timed.contributions
        ],
        "rules": [
            {"rule": rule, "weight": weights[rule], "time_s": seconds}
            for rule, seconds in timed.rule_times_s.items()
        ],
        "timed": None if prediction.fitted is None else _fitted(prediction),
        "assumed": list(prediction.assumed),
        "next": list(advice(prediction)),
    }


def _fitted(prediction: Prediction) -> dict[str, Any]:
    fitted = prediction.fitted
    if fitted is None or prediction.before is None:
        raise ValueError("no timed programs were asked")
    return {
        "before": _estimate(prediction.before),
        "programs": _programs(fitted),
        "fits": [_rule(one) for one in fitted.rules],
        "lines": list(fitted_lines(fitted)),
    }


def _programs(fitted: Fitted) -> list[dict[str, Any]]:
    return [
        {
            "name": one.name,
            "took_s": one.took_s,
            "plus_minus_s": TWO_SIDED_95 * one.u_s,
            "model_s": float(expected),
            "explained": number not in fitted.unexplained,
        }
        for number, (one, expected) in enumerate(
            zip(fitted.observed, fitted.expected_s, strict=True)
        )
    ]


def _rule(fit: RuleFit) -> dict[str, Any]:
    return {
        "rule": fit.rule,
        "weight": fit.weight,
        "values": [
            {
                "path": value.path,
                "value": value.known.value,
                "u": value.known.u,
                "log_u": value.log_u,
                "weak": value.weak,
            }
            for value in fit.values
        ],
    }


def _estimate(estimate: Estimate) -> dict[str, Any]:
    return {
        "value_s": estimate.value,
        "low_s": estimate.low,
        "high_s": estimate.high,
        "coverage": estimate.coverage,
        "mostly_from": estimate.mostly_from,
    }
