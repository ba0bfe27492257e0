"""The machine's card in words: what it can do, what it stands on, what was taken for granted."""

import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence

from kerfwright.basics import Estimate
from kerfwright.basics.units import INCH_MM
from kerfwright.machine import (
    PUSH_N,
    USUAL_MM,
    AxisResults,
    Controller,
    FrameMode,
    MachineModel,
    MachineResults,
    NoseResults,
    Swings,
    amount_words,
    words_at,
)
from kerfwright.report.electrics_words import electrics_pairs
from kerfwright.report.figures import amount, chance_words, clean, estimate_words
from kerfwright.report.swing_words import swing_pairs

WIDTH = 92
WORTH = "WORTH MEASURING NEXT"  #: title of what would narrow most figures
_COLUMN = 25
_KINDS = {
    "measured": "MEASURED",
    "datasheet": "FROM DATA SHEETS AND LABELS",
    "estimated": "ESTIMATED",
}
SPREADS = (
    "A figure is followed by the ends between which it lies nineteen times in twenty, and by what "
    "its spread mostly comes from."
)
CAUTION = (
    "Pull the plug before you measure or push anything, and keep clear of what can fall. Follow "
    "your local codes, and leave mains wiring to a licensed electrician. Vibration can defeat a "
    "screw that locks itself."
)

#: What a push by hand shows is told where it is less by this share. Common practice, no source.
_BY_HAND = 0.05


def card_words(
    machine: MachineModel,
    results: MachineResults,
    modes: Sequence[FrameMode] = (),
    width: int = WIDTH,
) -> str:
    """The whole card as plain text.

    Parameters
    ----------
    machine, results : MachineModel, MachineResults
        The machine and what it can do.
    modes : sequence of FrameMode
        How it swings, if that is to be told.
    width : int
        Longest line. [characters]
    """
    groups = fact_groups(machine, results)
    if modes:
        groups.insert(-1, ("how it swings, Z down", list(swing_pairs(machine, modes))))
    parts = [
        _wrap(f"{machine.name}: {answer(results)}", width),
        _wrap(SPREADS, width),
        *(_pairs(title.upper(), iter(pairs), width) for title, pairs in groups),
    ]
    next_test = worth_measuring(machine, results)
    if next_test:
        parts.append(_list(WORTH, next_test, width))
    for kind, title in _KINDS.items():
        lines = _given(machine, kind)
        if lines:
            parts.append(_list(title, lines, width))
    if machine.assumed:
        parts.append(_list("TAKEN, BECAUSE NOT GIVEN", machine.assumed, width))
    parts.append("BEFORE YOU TOUCH IT\n" + _wrap(CAUTION, width, "  ", "  "))
    made = f"From {results.draws} draws of the description {machine.sha256[:12]}."
    return "\n\n".join([*parts, made]) + "\n"


def fact_groups(
    machine: MachineModel, results: MachineResults
) -> list[tuple[str, list[tuple[str, str]]]]:
    """Every figure of the card with its name, in groups with a title."""
    return [
        *((f"axis {axis.name}", list(_axis(axis, machine))) for axis in results.axes),
        (
            f"pushed between spindle nose and table with {amount(PUSH_N, 'N')}",
            [*_nose(results), *_work(results), *_damp(results)],
        ),
        ("spindle, table, controller", list(_rest(machine, results))),
        ("drivers and supply, the low-voltage side", list(electrics_pairs(machine, results))),
    ]


def answer(results: MachineResults) -> str:
    """The machine in one sentence."""
    worst = max(results.nose, key=lambda nose: nose.push.value)
    part, share = next(iter(worst.shares.items()))
    first = (
        f"pushed with {PUSH_N:.0f} N along {worst.name}, in the middle and with Z down, the nose "
        f"moves {_middle(worst.push, 'mm')}, {100 * share:.0f} % of it in the {part}"
    )
    slow = [axis for axis in results.axes if axis.top_ruled_by["controller"] < 0.95]
    if not slow:
        return first + "; every axis reaches its rapid speed"
    names = " and ".join(axis.name for axis in slow)
    return first + f"; {names} may not reach the rapid speed that is set"


def worth_measuring(machine: MachineModel, results: MachineResults) -> list[str]:
    """Values that were not measured and rule most figures, the ruling ones first."""
    soft = {words_at(p): p for p, known in machine.known.items() if known.kind != "measured"}
    ruled = Counter(
        estimate.mostly_from
        for estimate in _estimates(results)
        if estimate.mostly_from in soft and _loose(estimate)
    )
    return [
        f"{words}: now {amount_words(soft[words], machine.known[soft[words]])}; rules {count} of "
        "the figures above"
        for words, count in ruled.most_common(3)
    ]


def _loose(estimate: Estimate) -> bool:
    """Whether a figure is known to no better than a tenth."""
    return estimate.high - estimate.low > 0.2 * abs(estimate.value)


def _estimates(results: MachineResults) -> Iterator[Estimate]:
    for axis in results.axes:
        for name in ("standing_thrust", "usable_step", "top_speed", "stiffness", "play"):
            yield getattr(axis, name)
    for nose in results.nose:
        yield from (nose.push, nose.softest)


def _axis(axis: AxisResults, machine: MachineModel) -> Iterator[tuple[str, str]]:
    model = machine.axes["XYZ".index(axis.name)]
    yield "travel", _middle(axis.travel, "mm")
    yield "one motor turn", f"moves {_middle(axis.lead, 'mm')}, by {axis.drive}"
    per_inch = _times(axis.positions_per_mm, INCH_MM)
    yield (
        "positions",
        f"{model.positions_per_rev} a turn; {_three(axis.positions_per_mm)} to the mm, "
        f"{_three(per_inch)} to the inch; {_micrometres(axis.step)} each",
    )
    if axis.moves < 0.975:
        yield "moves at all", f"{chance_words(axis.moves)}: friction and drag are near its pull"
    yield "least sure move", _micrometres(axis.usable_step) + " against its own friction"
    yield "top speed", f"{_speed(axis.top_speed)}, held by {_ruled(axis)}"
    reached = axis.motor_top.value < 0.999 * model.curve_rev_per_s[-1] * model.lead_mm
    yield "the motor alone", f"{'up to' if reached else 'beyond'} {_speed(axis.motor_top)}"
    if axis.whip_speed is not None:
        yield "the screw whips", f"at {_speed(axis.whip_speed)}; stay below 0.8 of it"
    if axis.buckles is not None:
        most = axis.standing_thrust.value
        near = "" if axis.buckles.low > most else ": less than its motor can push"
        yield "the screw buckles", f"at {estimate_words(axis.buckles, 'N')}{near}"
    yield "push at a crawl", estimate_words(axis.standing_thrust, "N")
    yield "push at the top speed", estimate_words(axis.thrust_at_top, "N")
    yield "sudden change of speed", f"follows up to {_speed(axis.largest_jump)}"
    slip = f"loses {_middle(axis.slip, 'mm')}, four full steps"
    if axis.skew is not None:
        slip += f"; of one motor it skews the gantry by {1000 * axis.skew.value:.2g} mm in a metre"
    yield "one slip", slip
    yield "swings on the motor", f"at {_middle(axis.resonance, 'Hz')}"
    yield "loses pull, swinging", swings_words(axis.swings)
    yield "stiffness of the drive", estimate_words(axis.stiffness, "N/mm")
    yield "play at reversal", _middle(axis.play, "mm")
    if axis.nut_opens is not None:
        yield "its nut opens", _nut_opens(axis.nut_opens, machine, axis)
    if axis.holds_at_rest is not None:
        yield "holds, standing idle", estimate_words(axis.holds_at_rest, "N")
    yield "power cut", _power_cut(axis)


def swings_words(swings: Swings | None) -> str:
    """Between which speeds a motor swings, and what it loses there."""
    if swings is None:
        return "not tried; its pull is spread for that: kerfwright stalls says how to find out"
    loses, begins, ends = (
        Estimate(value=e.value, low=e.low, high=e.high)
        for e in (swings.loses, swings.begins, swings.ends)
    )
    return f"{estimate_words(loses, 'share')} at worst, between {_speed(begins)} and {_speed(ends)}"


def _nut_opens(opens: Estimate, machine: MachineModel, axis: AxisResults) -> str:
    at = f"at {estimate_words(opens, 'N')}"
    if machine.choices[f"axes.{axis.name.lower()}.screw.nut"] == "ball":
        return f"one row of balls runs free {at}"
    return f"towards its spring (at twice this if both halves are fast) {at}"


def _power_cut(axis: AxisResults) -> str:
    if axis.pushed_back <= 0.025:
        words = "stays where it is when pushed"
    elif axis.pushed_back >= 0.975:
        words = "can be pushed along by hand: the drive does not lock itself"
    else:
        words = f"can be pushed along, {chance_words(axis.pushed_back)}"
    if axis.falls is not None:
        words += (
            "; does not fall by its weight"
            if axis.falls <= 0.025
            else f"; falls by its weight, {chance_words(axis.falls)}: hold the spindle up before "
            "you switch the power off"
        )
    return words


def _ruled(axis: AxisResults) -> str:
    names = {
        "controller": "the controller's setting",
        "motor": "the motor's pull",
        "whip": "the screw, which would whip",
    }
    held = [(share, name) for name, share in axis.top_ruled_by.items() if share > 0.0]
    if len(held) == 1:
        return names[held[0][1]]
    return ", ".join(
        f"{names[name]} {chance_words(share)}" for share, name in sorted(held, reverse=True)
    )


def _nose(results: MachineResults) -> Iterator[tuple[str, str]]:
    for nose in results.nose:
        yield f"along {nose.name}, in the middle", "moves " + estimate_words(nose.push, "mm")
        yield "", _shares(nose)
        if nose.by_hand.value < (1.0 - _BY_HAND) * nose.push.value:
            yield (
                "pushed by hand",
                f"a dial on the table shows {estimate_words(nose.by_hand, 'mm')}: what is on the "
                "work's side does not feel it",
            )
        if nose.pressed is not None:
            yield (
                "wheels stay pressed",
                f"up to {estimate_words(nose.pressed, 'N')}; then the {nose.first_free} run free "
                "on one side and give more",
            )
        x, y, z = nose.softest_at_mm
        yield (
            "softest place",
            f"{estimate_words(nose.softest, 'N/mm')}; at X {x:.0f}, Y {y:.0f}, nose {z:.0f} mm "
            "above the table",
        )


def _work(results: MachineResults) -> Iterator[tuple[str, str]]:
    """The board on the table, which gives on top of it all."""
    length, width, thick = USUAL_MM
    gives = "; ".join(
        f"along {nose.name} {1000.0 * nose.work.value:.1f} µm, {1000.0 * nose.work.low:.1f} to "
        f"{1000.0 * nose.work.high:.1f}, {100.0 * nose.work_share:.0f} % of the whole"
        for nose in results.nose
    )
    yield (
        "and the work",
        f"a board of {length:.0f} by {width:.0f} by {thick:.0f} mm, held by four screws in its "
        f"corners, gives as well: {gives} (ranges from common practice, no source)",
    )


def _damp(results: MachineResults) -> Iterator[tuple[str, str]]:
    """Wheels on wooden uprights, once these take up damp."""
    if results.damp_grows is None or results.damp_follows is None:
        return
    keeps = results.damp_keeps
    yield (
        "in damp weather",
        f"3 % more moisture moves the gantry's wheels {_middle(results.damp_grows, 'mm')} apart; "
        f"their preload follows {_middle(results.damp_follows, 'mm')}"
        + ("" if keeps is None else f" and keeps {_middle(keeps, 'share')} of itself"),
    )


def _shares(nose: NoseResults) -> str:
    """The parts that make nine tenths of the movement."""
    words, told = [], 0.0
    for part, share in nose.shares.items():
        if told > 0.9:
            break
        words.append(f"{part} {100.0 * share:.0f} %")
        told += share
    return "of that " + ", ".join(words)


def _rest(machine: MachineModel, results: MachineResults) -> Iterator[tuple[str, str]]:
    spindle, controller = machine.spindle, machine.controller
    low, high = 60.0 * spindle.lowest_rev_per_s, 60.0 * spindle.highest_rev_per_s
    yield (
        "spindle",
        f"{spindle.kind}, {low:.0f} to {high:.0f} rev/min, "
        f"{estimate_words(results.spindle_power, 'W')} at the shaft at its highest speed",
    )
    if not spindle.follows_program:
        yield "spindle words", "do nothing: it is switched on by hand"
    if spindle.dial_rev_per_s:
        speeds = (f"{i}: {60 * v:.0f}" for i, v in enumerate(spindle.dial_rev_per_s, start=1))
        yield "dial", ", ".join(speeds) + " rev/min"
    width, depth = machine.table_mm
    yield "table", f"{amount(width, 'mm')} by {amount(depth, 'mm')}"
    yield "spoil board", amount(machine.spoil_board_mm, "mm")
    yield "nose above the table", f"{amount(machine.nose_height_mm, 'mm')} with Z at its top"
    yield "corners", _corners(machine)
    yield (
        "rapid, acceleration",
        "; ".join(
            f"{a.name.upper()} {60 * a.set_rapid_mm_per_s:.0f} mm/min, "
            f"{a.acceleration_mm_per_s2:.0f} mm/s²"
            for a in machine.axes
        ),
    )
    yield (
        "at a cutter change",
        f"{controller.cutter_change}; about {controller.cutter_change_s / 60.0:.1f} min",
    )
    yield (
        "reads",
        f"{_units(controller)}; arc centres "
        f"{controller.arc_centres}; {controller.unknown_words} at a word that it does not know",
    )


def _units(controller: Controller) -> str:
    if controller.default_units is None:
        return "units as a program says; if it says none, those that fit this machine, or it asks"
    return f"{controller.default_units} until a program says otherwise"


def _corners(machine: MachineModel) -> str:
    controller = machine.controller
    if controller.corner_rule == "path tolerance":
        return f"rounded, off the path by up to {amount(controller.corner_tolerance_mm, 'mm')}"
    if controller.corner_rule == "exact stop":
        return "stops at every corner"
    steps = ", ".join(
        f"{name} {60 * step:.0f}"
        for name, step in zip("XYZ", controller.corner_speed_step_mm_per_s, strict=True)
    )
    return f"each axis may change its speed at once by {steps} mm/min"


def _given(machine: MachineModel, kind: str) -> list[str]:
    """Values of one kind, axes of which the same is said joined: ``X, Y: full steps ... 200``."""
    axes_of: dict[str, list[str]] = {}
    for path, known in machine.known.items():
        if known.kind != kind:
            continue
        axis, parted, rest = words_at(path).partition(": ")
        if not (parted and axis[0] in "XYZ"):
            axis, rest = "", words_at(path)
        origin = "" if known.ref == "as written in machine.toml" else f" ({known.ref})"
        axes_of.setdefault(f"{rest} {amount_words(path, known)}{origin}", []).append(axis)
    return [f"{', '.join(axes)}: {words}" if axes[0] else words for words, axes in axes_of.items()]


def _times(estimate: Estimate, factor: float) -> Estimate:
    return Estimate(
        value=estimate.value * factor,
        low=estimate.low * factor,
        high=estimate.high * factor,
        mostly_from=estimate.mostly_from,
    )


def _three(estimate: Estimate) -> str:
    ends = (estimate.value, estimate.low, estimate.high)
    value, low, high = (f"{end:.5g}" for end in ends)
    return value if low == high else f"{value} ({low} to {high})"


def _micrometres(estimate: Estimate) -> str:
    """A length too short for the mm of ``figures``."""
    ends = (estimate.value, estimate.low, estimate.high)
    value, low, high = (f"{1000.0 * end:.3g}" for end in ends)
    inches = f"{estimate.value / INCH_MM:.5f} in"
    spread = "" if low == high else f", {low} to {high}"
    return f"{value} µm{spread} ({inches})"


def _speed(estimate: Estimate) -> str:
    def rounded(value: float) -> float:
        return float(f"{60.0 * value:.3g}")

    shown = Estimate(
        value=rounded(estimate.value),
        low=rounded(estimate.low),
        high=rounded(estimate.high),
        mostly_from=estimate.mostly_from,
    )
    return estimate_words(shown, "mm/min")


def _middle(estimate: Estimate, unit: str) -> str:
    """Without the ruling input, where a sentence has no room for it."""
    return estimate_words(
        Estimate(value=estimate.value, low=estimate.low, high=estimate.high), unit
    )


def _pairs(title: str, pairs: Iterator[tuple[str, str]], width: int) -> str:
    lines = [title]
    for name, words in pairs:
        head = f"  {clean(name)}".ljust(_COLUMN) + " "
        lines.append(_wrap(words, width, head, " " * (_COLUMN + 1)))
    return "\n".join(lines)


def _list(title: str, items: Sequence[str], width: int) -> str:
    return "\n".join([title, *(_wrap(item, width, "  - ", "    ") for item in items)])


def _wrap(text: str, width: int, first: str = "", rest: str = "") -> str:
    return textwrap.fill(
        clean(text), width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )
