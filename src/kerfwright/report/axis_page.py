"""One axis on the page's card: curves with words at every place, what holds it, what was asked."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from kerfwright.basics import Estimate
from kerfwright.basics.units import INCH_MM, MINUTE_S
from kerfwright.machine import AxisModel, AxisResults, Band, MachineModel
from kerfwright.report.figures import amount, chance_words, estimate_words
from kerfwright.report.machine_card import swings_words

#: What holds an axis only at this many times its speed is not told.
_FAR = 4.0


def axis_page(
    machine: MachineModel, axis: AxisResults, asked: Mapping[str, Any] | None
) -> dict[str, Any]:
    """Curves over speed, in mm/min, N and N m, and what limits the axis.

    ``asked``: ``speed_mm_per_s`` and ``torque_nmm``, what the last proved job asked of one motor.
    """
    speed = axis.speed_mm_per_s * MINUTE_S
    index = "XYZ".index(axis.name)
    usual = machine.values.get("controller.usual_feed")
    return {
        "name": axis.name,
        "limits": limits(axis),
        "speed": speed.round(2).tolist(),
        "thrust": _band(axis.thrust, 1.0),
        "torque": _band(axis.pull, 1e-3),
        "words": [_at(axis, k) for k in range(len(speed))],
        "ticks": _ticks(float(speed[-1])),
        "torque_ticks": _round_steps(float(axis.pull.high.max()) / 1e3),
        "thrust_ticks": _thrust_ticks(machine.axes[index], float(axis.pull.high.max())),
        "rapid": MINUTE_S * axis.top_speed.value,
        "rapid_words": f"rapid {amount(round(MINUTE_S * axis.top_speed.value), 'mm/min')}",
        "usual": None if usual is None else MINUTE_S * usual,
        "usual_words": "" if usual is None else _usual(axis, usual),
        "asked": _asked(asked),
        "lead_words": f"one motor turn moves {estimate_words(_bare(axis.lead), 'mm')}",
        "motors": machine.axes[index].motors,
    }


def limits(axis: AxisResults) -> list[str]:
    """What holds an axis back, the first thing first."""
    words = []
    if axis.moves < 0.975:
        words.append(f"friction and drag are near its pull: it moves {chance_words(axis.moves)}")
    held = max(axis.top_ruled_by, key=lambda name: axis.top_ruled_by[name])
    top = amount(round(MINUTE_S * axis.top_speed.value), "mm/min")
    by = {
        "controller": f"{top} is what the controller is set to",
        "motor": f"{top} is all that the motor's pull allows",
        "whip": f"at {top} the screw is near whipping",
    }
    words.append(f"Speed: {by[held]}; {_room(axis, held)}")
    crawl, rapid = axis.standing_thrust, axis.thrust_at_top
    push = f"Push: {estimate_words(_bare(crawl), 'N')} at a crawl, "
    if rapid.value > 0.98 * crawl.value:
        push += "and as much at its rapid speed"
    else:
        push += f"{estimate_words(_bare(rapid), 'N')} at its rapid speed"
    words.append(push)
    words.append(
        f"Fineness: {amount(axis.usable_step.value, 'mm')} is the least move that surely comes; "
        f"play {estimate_words(_bare(axis.play), 'mm')}"
    )
    if axis.swings is not None:
        words.append(f"Swings at middle speeds, as tried: loses {swings_words(axis.swings)}")
    words.append(f"Stiffness of its drive: {estimate_words(_bare(axis.stiffness), 'N/mm')}")
    if axis.nut_opens is not None:
        words.append(f"Its nut opens at {estimate_words(_bare(axis.nut_opens), 'N')}")
    if axis.falls is not None and axis.falls > 0.025:
        words.append(f"Falls when the power is cut, {chance_words(axis.falls)}: hold it up first")
    return words


def _room(axis: AxisResults, held: str) -> str:
    """What comes next when that is out of the way."""
    at = {"motor": axis.motor_top, "whip": axis.whip_speed}
    names = {"motor": "the motor alone would reach", "whip": "the screw whips at"}
    rest = [
        f"{names[name]} {amount(float(f'{MINUTE_S * speed.value:.2g}'), 'mm/min')}"
        for name, speed in at.items()
        if speed is not None and name != held and speed.value < _FAR * axis.top_speed.value
    ]
    return ", ".join(rest) or f"nothing else holds it below {_FAR:.0f} times that"


def _bare(estimate: Estimate) -> Estimate:
    return Estimate(value=estimate.value, low=estimate.low, high=estimate.high)


def _band(band: Band, scale: float) -> dict[str, list[float]]:
    return {
        name: [float(f"{scale * v:.4g}") for v in values]
        for name, values in (("value", band.value), ("low", band.low), ("high", band.high))
    }


def _at(axis: AxisResults, k: int) -> str:
    speed = amount(round(MINUTE_S * float(axis.speed_mm_per_s[k])), "mm/min")
    thrust, pull = (_one(band, k) for band in (axis.thrust, axis.pull))
    torque = Estimate(value=pull.value / 1e3, low=pull.low / 1e3, high=pull.high / 1e3)
    return (
        f"at {speed}: pushes {estimate_words(thrust, 'N')}; one motor pulls "
        f"{estimate_words(torque, 'N m')}"
    )


def _one(band: Band, k: int) -> Estimate:
    value, low, high = (float(each[k]) for each in (band.value, band.low, band.high))
    return Estimate(value=value, low=min(low, value), high=max(high, value))


def _usual(axis: AxisResults, feed_mm_per_s: float) -> str:
    """The push left at the feed that is cut with most."""
    ends = [
        float(np.interp(feed_mm_per_s, axis.speed_mm_per_s, each))
        for each in (axis.thrust.value, axis.thrust.low, axis.thrust.high)
    ]
    thrust = Estimate(value=ends[0], low=min(ends[:2]), high=max(ends[0], ends[2]))
    return (
        f"at the usual feed of {amount(MINUTE_S * feed_mm_per_s, 'mm/min')} it pushes "
        f"{estimate_words(thrust, 'N')}"
    )


def _ticks(last: float) -> list[dict[str, Any]]:
    """A few round speeds, in both units."""
    return [
        {"at": float(at), "mm": f"{at:.0f}", "inch": f"{at / INCH_MM:.0f}"}
        for at in _round_steps(last)
    ]


def _round_steps(last: float) -> list[float]:
    """From 0 up to a last value in three to six round steps."""
    if not last > 0.0:
        return [0.0]
    step = 10.0 ** float(np.floor(np.log10(last / 2.0)))
    step *= 5.0 if last / step > 10.0 else 2.0 if last / step > 5.0 else 1.0
    return [float(f"{at:.6g}") for at in np.arange(0.0, last + 0.01 * step, step)]


def _thrust_ticks(axis: AxisModel, most_nmm: float) -> list[dict[str, float]]:
    """Round thrusts, each at the torque of one motor that gives it, speed held: a second scale."""
    steady = float(axis.demand_nmm(0.0, 1e-9, 0.0))
    per_newton = axis.raising_mm / axis.motors
    thrusts = _round_steps(max(most_nmm - steady, 0.0) / per_newton)
    return [{"thrust": n, "torque": 1e-3 * (steady + per_newton * n)} for n in thrusts]


def _asked(asked: Mapping[str, Any] | None) -> dict[str, list[float]] | None:
    if asked is None:
        return None
    return {
        "speed": [MINUTE_S * v for v in asked["speed_mm_per_s"]],
        "torque": [1e-3 * v for v in asked["torque_nmm"]],
    }
