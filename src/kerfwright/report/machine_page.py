"""The machine's card as the page shows it: ``MachineCard`` of ``page/src/wire.ts``."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import floor, log10
from typing import Any

from kerfwright.basics import Estimate
from kerfwright.basics.shares import share_words as percent
from kerfwright.basics.units import INCH_MM, LBF_N, MINUTE_S
from kerfwright.formats import TomlFile
from kerfwright.machine import (
    QUESTIONS,
    UNKNOWN,
    AxisResults,
    Blank,
    Buys,
    Choice,
    FrameMode,
    Lever,
    MachineModel,
    MachineResults,
    entry_of,
    exact,
    is_asked,
    levers,
    spread_out,
    typed_at,
)
from kerfwright.report.axis_page import axis_page
from kerfwright.report.engineers_terms import engineers_term
from kerfwright.report.figures import clean, estimate_words
from kerfwright.report.give_map import GiveMap, give_as_plain, share_words
from kerfwright.report.known_words import known_words, source_words
from kerfwright.report.machine_card import CAUTION, SPREADS, answer, fact_groups
from kerfwright.report.machine_outline import Outline, machine_outline
from kerfwright.report.openings import openings
from kerfwright.report.swing_shape import sways
from kerfwright.report.swing_words import swing_means, swing_words

#: A figure that a lever moves by less than this share of itself stays the same.
_SAME = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Pinned:
    """All that was worked out for a card."""

    machine: MachineModel
    results: MachineResults
    modes: tuple[tuple[FrameMode, Estimate], ...]
    give: GiveMap
    buys: tuple[Buys, ...]


def page_card(
    toml: TomlFile, pinned: Pinned, demand: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """The whole card. ``demand`` holds, by axis, what the last proved job asked of its motor."""
    machine, results = pinned.machine, pinned.results
    questions = [_question(q, toml, machine) for q in QUESTIONS]
    blanks = [blank for question in questions for blank in question["blanks"] if blank["asked"]]
    known = sum(blank["known"] for blank in blanks)
    asked_of = demand or {}
    return {
        "name": clean(machine.name),
        "sentence": clean(_sentence(results)),
        "spread_words": SPREADS,
        "caution": CAUTION,
        "answered": f"{known} of {len(blanks)} answers are known",
        "known": known,
        "blanks": len(blanks),
        "questions": questions,
        "facts": _facts(machine, results),
        "drawing": drawing(machine),
        "axes": [
            axis_page(machine, axis, asked_of.get(axis.name.lower())) for axis in results.axes
        ],
        "demand_words": str(asked_of.get("words", "")),
        "swings_words": _untried(results),
        "give": give_as_plain(pinned.give),
        "modes": [_mode(machine, mode, hertz) for mode, hertz in pinned.modes],
        "opens": openings(machine, results),
        "levers": [_lever(lever, toml, machine) for lever in levers(machine)],
        "narrows_most": [_buys(one) for one in pinned.buys],
        "taken": [clean(words) for words in machine.assumed],
        "against": [],
    }


def _untried(results: MachineResults) -> str:
    """What to do about axes of which nobody tried where their motors swing."""
    axes = [axis.name for axis in results.axes if axis.swings is None]
    if not axes:
        return ""
    return (
        f"Nobody tried yet at which speeds {', '.join(axes)} swing and lose pull; the band is wide "
        "for that too. kerfwright stalls machine.toml says which runs show it"
    )


def _sentence(results: MachineResults) -> str:
    words = answer(results)
    return f"{words[:1].upper()}{words[1:]}."


def _question(question: Any, toml: TomlFile, machine: MachineModel) -> dict[str, Any]:
    return {
        "id": question.id,
        "ask": question.ask,
        "how": question.how,
        "picture": question.picture,
        "minutes": question.minutes,
        "blanks": [_blank(blank, toml, machine) for blank in question.blanks],
    }


def _blank(blank: Blank, toml: TomlFile, machine: MachineModel) -> dict[str, Any]:
    typed = typed_at(toml.data, blank.path)
    entry = entry_of(blank.path)
    options = list(entry.options) if isinstance(entry, Choice) else []
    words, source = _understood(blank.path, machine)
    if options and typed == UNKNOWN:
        words = f"taken as {machine.choices.get(blank.path, options[0])}"
    return {
        "path": blank.path,
        "label": blank.label,
        "example": blank.example,
        "typed": clean(typed),
        "words": words,
        "source": source,
        "known": typed != UNKNOWN,
        "choices": options,
        "asked": is_asked(blank, toml.data),
    }


def _understood(path: str, machine: MachineModel) -> tuple[str, str]:
    """What was understood, and where it is from; of X, Y and Z where they differ."""
    known = [(one, machine.known[one]) for one in spread_out(path) if one in machine.known]
    words = [known_words(one, value) for one, value in known]
    sources = dict.fromkeys(source_words(value) for _, value in known)
    if len(set(words)) <= 1:
        return (words[0] if words else ""), "; ".join(sources)
    named = [f"{name} {one}" for name, one in zip("XYZ", words, strict=False)]
    return "; ".join(named), "; ".join(sources)


def _facts(machine: MachineModel, results: MachineResults) -> list[dict[str, str]]:
    out = []
    for group, pairs in fact_groups(machine, results):
        for label, words in pairs:
            head, _, source = words.partition(", mostly from ")
            out.append(
                {
                    "group": group,
                    "label": clean(label),
                    "words": clean(head),
                    "source": f"its spread comes mostly from {clean(source)}" if source else "",
                    "engineer": engineers_term(label),
                }
            )
    return out


def drawing(machine: MachineModel) -> dict[str, Any]:
    """The machine to scale, all axes at the lower end of their travel and Z right up."""
    parts = machine_outline(machine)
    return {
        "travel_mm": [axis.travel_mm for axis in machine.axes],
        "table_mm": list(machine.table_mm),
        "nose_height_mm": machine.nose_height_mm,
        "parts": [
            {
                "name": part.name,
                "kind": part.kind,
                "shift": list(part.shift),
                "plan_mm": _plain(part.plan),
                "front_mm": _plain(part.front),
            }
            for part in parts
        ],
        "what_moves": (
            f"the {machine.choices['frame.moves']} travels along "
            f"{machine.choices['frame.moves_along'].upper()}"
        ),
    }


def _plain(outline: Outline) -> list[list[float]]:
    return [[round(x, 2), round(y, 2)] for x, y in outline]


def _mode(machine: MachineModel, mode: FrameMode, hertz: Estimate) -> dict[str, Any]:
    along = "XYZ"[mode.along]
    parts = [
        {"part": name, "share": share, "words": f"{share_words(share)}: the {name}"}
        for name, share in mode.shares.items()
        if share >= 0.05
    ]
    return {
        "words": f"{swing_words(mode)} along {along}",
        "at_hz": mode.hertz,
        "hertz_words": estimate_words(hertz, "Hz"),
        "parts": parts[:5],
        "means": swing_means(machine, mode),
        "sways": sways(machine, mode),
        "engineer": "first modes of masses on the assembled flexibility, Z down, mid bed",
    }


def _buys(buys: Buys) -> dict[str, Any]:
    return {
        "words": buys.words,
        "minutes": buys.minutes,
        "question": buys.question,
        "buys": (
            f"{buys.figure}: now between {_between(*buys.now, buys.unit)}; then known to "
            f"± {_half(*buys.after, buys.unit)}"
        ),
    }


_BOTH = {"mm": ("in", INCH_MM), "N": ("lbf", LBF_N)}


def _between(low: float, high: float, unit: str) -> str:
    """``0.08 and 0.18 mm (0.003 and 0.007 in)``, as fine as the two ends differ."""

    def row(factor: float, name: str) -> str:
        decimals = max(0, 1 - floor(log10(max(high - low, 1e-6) * factor)))
        return f"{low * factor:.{decimals}f} and {high * factor:.{decimals}f} {name}"

    other, size = _BOTH[unit]
    return f"{row(1.0, unit)} ({row(1.0 / size, other)})"


def _half(low: float, high: float, unit: str) -> str:
    """Half of what is left between two ends: ``0.01 mm (0.0004 in)``."""
    half = max((high - low) / 2.0, 1e-6)
    other, size = _BOTH[unit]

    def row(value: float, name: str) -> str:
        return f"{value:.{max(0, -floor(log10(value)))}f} {name}"

    return f"{row(half, unit)} ({row(half / size, other)})"


def _lever(lever: Lever, toml: TomlFile, machine: MachineModel) -> dict[str, Any]:
    path = spread_out(lever.path)[0]
    now = machine.values[path]
    stops = [
        {
            "words": known_words(path, exact(stop.value, "")),
            "changes": [{"path": c.path, "typed": c.typed} for c in stop.changes],
        }
        for stop in lever.stops
    ]
    # As it stands comes among the stops where it belongs; one that says the same goes.
    at = sum(stop.value < now for stop in lever.stops)
    if at < len(lever.stops) and abs(lever.stops[at].value / now - 1.0) < _SAME:
        del stops[at]
    words, source = _understood(lever.path, machine)
    stops.insert(at, {"words": words, "changes": []})
    return {
        "id": lever.id,
        "label": lever.label,
        "help": lever.help,
        "words": words,
        "source": source,
        "stops": stops,
        "now": at,
        "known": typed_at(toml.data, lever.path) != UNKNOWN,
    }


@dataclass(frozen=True, slots=True)
class _Compared:
    label: str
    unit: str
    before: Estimate
    after: Estimate
    more_is_better: bool


def against(before: Pinned, after: Pinned) -> list[dict[str, str]]:
    """What other values would change, figure by figure."""
    out = []
    for one in _compared(before, after):
        change = one.after.value - one.before.value
        was, now = (estimate_words(_bare(e), one.unit) for e in (one.before, one.after))
        verdict = "same"
        if abs(change) > _SAME * max(abs(one.before.value), 1e-9) and was != now:
            verdict = "better" if (change > 0.0) == one.more_is_better else "worse"
        out.append(
            {
                "label": one.label,
                "before": was,
                "after": now,
                "verdict": verdict,
                "by": "" if verdict == "same" else _by(one.before.value, one.after.value),
            }
        )
    return out


def _by(before: float, after: float) -> str:
    """``12 % less``; where it was nothing there is no share to tell."""
    if abs(before) < 1e-9:
        return ""
    share = percent(abs(after / before - 1.0))[0]
    return f"{share} {'more' if after > before else 'less'}"


def _bare(estimate: Estimate) -> Estimate:
    return Estimate(value=estimate.value, low=estimate.low, high=estimate.high)


def _compared(before: Pinned, after: Pinned) -> Iterator[_Compared]:
    for one, other in zip(before.results.nose, after.results.nose, strict=True):
        yield _Compared(f"give along {one.name}", "mm", one.push, other.push, False)
        if one.pressed is not None and other.pressed is not None:
            yield _Compared(f"wheels stay pressed along {one.name} up to", "N", one.pressed,
                            other.pressed, True)  # fmt: skip
    pairs = list(zip(before.results.axes, after.results.axes, strict=True))
    for a, b in pairs:
        yield _Compared(f"{a.name} pushes, at a crawl", "N", a.standing_thrust, b.standing_thrust,
                        True)  # fmt: skip
    for a, b in pairs:
        yield _Compared(f"{a.name}, top speed", "mm/min", _per_minute(a), _per_minute(b), True)
    for a, b in pairs:
        yield _Compared(f"{a.name}, least sure move", "mm", a.usable_step, b.usable_step, False)
    for (mode, was), (_, now) in zip(before.modes[:1], after.modes[:1], strict=True):
        yield _Compared(f"lowest swing, along {'XYZ'[mode.along]}", "Hz", was, now, True)


def _per_minute(axis: AxisResults) -> Estimate:
    speed = axis.top_speed
    value, low, high = (MINUTE_S * end for end in (speed.value, speed.low, speed.high))
    return Estimate(value=value, low=low, high=high)
