"""A prediction of time in words: the answer first, then where it goes, then what it stands on."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.basics.units import HOUR_S, MINUTE_S
from kerfwright.commission import Fitted, Prediction, RuleFit
from kerfwright.report.figures import clean, duration, moment, time_span
from kerfwright.report.fitted_lines import amount_words, fitted_lines
from kerfwright.trajectory.time import PLANNER, RAPIDS, Contribution
from kerfwright.trajectory.waits import CHANGES, SET_Z, STARTS, STOPS, SWITCH

WIDTH = 92
MOST_ROWS = 24
MOST_CONTRIBUTIONS = 6
LEAST_SHARE = 0.01
_HARDLY = 0.97  #: of the time; less gain is not told
_INDENT = "  "

_WAIT_ADVICE = {
    CHANGES: "Time one cutter change by the clock, and write cutter_change_time under [controller]",
    SET_Z: "Time how long you set Z again, and write set_z_time under [controller]",
    STOPS: "Time one program stop by the clock, and write stop_time under [controller]",
    STARTS: "Time the spindle's start, and write spindle_start_time under [controller]",
    SWITCH: "Time how long you switch the router, and write router_switch_time under [controller]",
}


def time_words(prediction: Prediction, width: int = WIDTH) -> str:
    """The whole prediction as plain text, lines ended by line feeds."""
    paragraphs = [_wrap(sentence(prediction), width)]
    paragraphs.append(_table("BY SECTION", _section_rows(prediction)))
    paragraphs.append(_table("BY CUTTER", _cutter_rows(prediction)))
    paragraphs.append(_list("WHAT THE SPREAD COMES FROM", _spread(prediction), width))
    paragraphs.append(_list("HOW FAST THE MOTORS COULD BE", [_motors(prediction)], width))
    if prediction.fitted is not None:
        paragraphs.append(_list("WHAT YOUR TIMED PROGRAMS SAY", fit_words(prediction), width))
        paragraphs.append(_table("CLOCK AND MODEL", _clock_rows(prediction.fitted)))
        paragraphs.append(
            "FOR machine.toml\n"
            + textwrap.indent("\n".join(fitted_lines(prediction.fitted)), _INDENT)
        )
    if prediction.assumed:
        paragraphs.append(_list("ASSUMED, BECAUSE NOT GIVEN", prediction.assumed, width))
    paragraphs.append(_list("WHAT WOULD NARROW IT MOST", advice(prediction), width))
    return "\n\n".join(paragraphs) + "\n"


def sentence(prediction: Prediction) -> str:
    """The answer in one sentence: "About 1 h 50 min; between 1 h 35 and 2 h 05, ..."."""
    time = prediction.timed.time
    words = f"About {duration(time.value)}; between {_between(time.low, time.high)}, "
    words += "nineteen times in twenty"
    return f"{words}, mostly from {time.mostly_from}." if time.mostly_from else f"{words}."


def _motors(prediction: Prediction) -> str:
    """What other settings of the controller could gain."""
    told, could = prediction.timed.time.value, prediction.fastest_s
    if could > _HARDLY * told:
        return (
            "hardly faster: with a third of their pull in hand they can do what they are told now"
        )
    return (
        f"about {duration(could)}, if the controller asked of them all that they follow with a"
        " third of their pull in hand, at the feeds as programmed; a frame or a cutter may not like"
        " it, so raise accelerations and rapids little by little, the spindle empty at first"
    )


def advice(prediction: Prediction) -> tuple[str, ...]:
    """What the person can do to know it better, the best first."""
    out: list[str] = []
    for one in prediction.timed.contributions:
        if one.share < 0.1 or len(out) == 2:
            break
        out.append(_advice_for(one, prediction.fitted is not None))
        if prediction.fitted is not None and one.name == PLANNER:
            break
    return tuple(dict.fromkeys(out))


def _advice_for(one: Contribution, fitted: bool) -> str:
    if one.name in _WAIT_ADVICE:
        return _WAIT_ADVICE[one.name]
    if one.name == RAPIDS:
        return (
            "Read the rapid speeds off your controller's settings, and write them as rapid under"
            " [controller.x], [controller.y] and [controller.z]"
        )
    if fitted and one.name == PLANNER:
        return "Nothing more by the clock: what is left is how closely any planning can be followed"
    if fitted:
        return (
            "Time more programs by the clock, unlike those that you have: with many sharp corners,"
            " with short plunges, with long straight cuts"
        )
    return (
        "Time three programs of yours by the clock, as unlike each other as you have them, write"
        " them in timed.toml, and add  --timed timed.toml"
    )


def fit_words(prediction: Prediction) -> Iterator[str]:
    """What the timed programs say, sentence by sentence."""
    fitted, time = prediction.fitted, prediction.timed.time
    if fitted is None:
        return
    best = fitted.best
    many = len(fitted.observed)
    good = 100.0 * 0.5 * (time.high - time.low) / time.value
    fits = f"Your {many} programs fit {best.rule!r}" if fitted.sure else (
        f"Your {many} programs fit {best.rule!r} best ({100 * best.weight:.0f} in 100)"
    )  # fmt: skip
    yield f"{fits} with {_values_words(best)}; this prediction is good to about {good:.1f} %"
    if prediction.before is not None:
        low, high = prediction.before.low, prediction.before.high
        yield f"Before they were asked it lay between {_between(low, high)}"
    for other in fitted.rules[1:]:
        yield (
            f"They fit {other.rule!r} too ({100 * other.weight:.0f} in 100), with"
            f" {_values_words(other)}: it is in the spread"
        )
    if fitted.stated is not None and fitted.stated != best.rule:
        yield f"machine.toml says {fitted.stated!r}, as estimated; the clock says otherwise"
    weak = dict.fromkeys(value.name for value in best.values if value.weak)
    for name in weak:
        yield f"They hardly show {name}: it stays about as open as it was"
    for number in fitted.unexplained:
        one, expected = fitted.observed[number], fitted.expected_s[number]
        yield (
            f"{clean(one.name)} cannot be explained: {moment(one.took_s)} by the clock, and"
            f" {moment(float(expected))} by what fits the others; look for a pause, a feed turned"
            " up or down by hand, another version of the program"
        )


def _values_words(fit: RuleFit) -> str:
    """Each setting once: ``the acceleration of X and Y 420 ± 12 mm/s², ...``."""
    words = []
    for name in dict.fromkeys(value.name for value in fit.values):
        amounts: dict[str, list[str]] = {}
        for value in fit.values:
            if value.name == name:
                axis = value.path.split(".")[1].upper()
                amounts.setdefault(amount_words(value), []).append(axis)
        if len(amounts) == 1:
            words.append(f"{name} {next(iter(amounts))}")
        else:
            each = (f"{amount} on {' and '.join(axes)}" for amount, axes in amounts.items())
            words.append(f"{name} {', '.join(each)}")
    return "; ".join(words) or "all settings as they are"


def _spread(prediction: Prediction) -> Iterator[str]:
    timed = prediction.timed
    contributions = [one for one in timed.contributions if one.share >= LEAST_SHARE]
    for one in contributions[:MOST_CONTRIBUTIONS]:
        yield f"{one.name}: alone between {_between(one.low_s, one.high_s)}"
    if len(timed.rule_times_s) > 1:
        times = ", ".join(f"{moment(s)} by {rule!r}" for rule, s in timed.rule_times_s.items())
        yield f"by corner rule: {times}"
    if [one.name for one in contributions] == [PLANNER]:
        yield "nothing else that moves the time is open"


def _section_rows(prediction: Prediction) -> Iterator[Sequence[str]]:
    yield ("lines", "at feed", "in rapids", "waiting", "in all", "")
    for one in prediction.sections[:MOST_ROWS]:
        times = (one.feed_s, one.rapid_s, one.wait_s, one.total_s)
        yield (f"{one.first_line}-{one.last_line}", *map(moment, times), clean(one.label))
    rest = prediction.sections[MOST_ROWS:]
    if rest:
        columns = zip(*((s.feed_s, s.rapid_s, s.wait_s, s.total_s) for s in rest), strict=True)
        sums = (moment(sum(column)) for column in columns)
        yield (f"{rest[0].first_line}-{rest[-1].last_line}", *sums, f"{len(rest)} more sections")


def _cutter_rows(prediction: Prediction) -> Iterator[Sequence[str]]:
    yield ("slot", "in all", "at feed", "way at feed", "way in rapids", "")
    for one in prediction.cutters:
        name = clean(prediction.cutter_names.get(one.slot, ""))
        yield (
            str(one.slot) if one.slot else "none said",
            moment(one.total_s),
            moment(one.feed_s),
            _metres(one.feed_mm),
            _metres(one.rapid_mm),
            name,
        )


def _clock_rows(fitted: Fitted) -> Iterator[Sequence[str]]:
    yield ("clock", "", "model", "off", "")
    for number, (one, expected) in enumerate(zip(fitted.observed, fitted.expected_s, strict=True)):
        off = 100.0 * (float(expected) / one.took_s - 1.0)
        left_out = "" if number not in fitted.unexplained else ", not explained"
        yield (
            moment(one.took_s),
            f"± {TWO_SIDED_95 * one.u_s:.3g} s",
            moment(float(expected)),
            f"{off:+.1f} %".replace("-", "−"),
            clean(one.name) + left_out,
        )


def _between(low_s: float, high_s: float) -> str:
    """Two ends, fine enough to be told apart: ``1 h 35 and 2 h 05``."""
    if high_s < MINUTE_S:
        return f"{low_s:.1f} and {high_s:.1f} s"
    low, high = time_span(low_s, high_s).split(" to ")
    if high_s >= 10 * MINUTE_S and high_s - low_s < (4 if high_s < HOUR_S else 5) * MINUTE_S:
        low, high = moment(low_s), moment(high_s)
    return f"{low} and {high}"


def _metres(length_mm: float) -> str:
    return f"{length_mm / 1000.0:.1f} m"


def _table(title: str, rows: Iterable[Sequence[str]]) -> str:
    """Columns to the right but the last, which is words."""
    rows = list(rows)
    wide = [max(len(row[k]) for row in rows) for k in range(len(rows[0]) - 1)]
    lines = (
        _INDENT
        + "  ".join(cell.rjust(width) for cell, width in zip(row[:-1], wide, strict=True))
        + f"  {row[-1]}"
        for row in rows
    )
    return "\n".join([title, *(line.rstrip() for line in lines)])


def _list(title: str, items: Iterable[str], width: int) -> str:
    return "\n".join([title, *(_wrap(clean(item), width, "  - ", "    ") for item in items)])


def _wrap(text: str, width: int, first: str = "", rest: str = "") -> str:
    return textwrap.fill(
        text, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )
