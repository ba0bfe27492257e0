"""The verdict in words, for a terminal or a text file: the answer first, then why."""

import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import replace

from kerfwright.basics import Finding, Remedy
from kerfwright.basics.units import INCH_MM
from kerfwright.prove import AsCut, Margin, Provenance, Totals, Verdict, Wall
from kerfwright.report.figures import (
    amount,
    both_ways,
    chance_words,
    clean,
    duration,
    estimate_words,
    leaning,
    leaning_estimate,
    moment,
    shop_unit,
    spot_words,
    time_span,
)
from kerfwright.report.parts_words import cutter_pairs, parts_pairs, wanted_pairs

WIDTH = 92
MOST_WALLS = 5
#: A wall out of square by less is not worth a word.
LEANS_MM = 0.01

ANSWER = {"clear": "CLEAR", "care": "WITH CARE", "stop": "STOP"}
SEVERITY = {"stop": "STOP", "caution": "caution", "note": "note"}

SPREADS = "The true value lies in the spread given behind it nineteen times in twenty."

CAUTIONS = (
    "Wear eye and ear protection and keep the dust out of your lungs. Keep hands, hair, sleeves "
    "and gloves away from a turning cutter; pull the plug before you change it. Stay with the "
    "machine while it cuts, within reach of its stop. Follow your local codes, and leave mains "
    "wiring to a licensed electrician. This is a forecast from the numbers given, not a permit."
)


def describe(verdict: Verdict, width: int = WIDTH) -> str:
    """The whole verdict as plain text.

    Parameters
    ----------
    verdict : Verdict
        What the proof says.
    width : int
        Longest line. [characters]

    Returns
    -------
    str
        Lines ended by line feeds; no control characters, whatever the program's text held.
    """
    paragraphs = [
        _wrap(f"{ANSWER[verdict.outcome]}: {verdict.sentence}", width),
        _wrap(SPREADS, width),
    ]
    if verdict.findings:
        paragraphs.append("FOUND")
        paragraphs += [
            "\n".join(_finding(number, finding, width))
            for number, finding in enumerate(verdict.findings, start=1)
        ]
    if verdict.ascut is not None:
        paragraphs.append(_pairs("THE PART AS CUT", ascut_pairs(verdict.ascut), width))
        wanted = list(wanted_pairs(verdict.ascut))
        if wanted:
            paragraphs.append(_pairs("SIZES WANTED", wanted, width))
        sizes = list(parts_pairs(verdict.ascut))
        if sizes:
            paragraphs.append(_pairs("WHAT IS CUT OUT", sizes, width))
    if verdict.margins:
        paragraphs.append(_pairs("TIGHTEST MOMENTS", map(margin_words, verdict.margins), width))
    paragraphs.append(_pairs("TOTALS", totals_pairs(verdict.totals), width))
    assumed = assumed_words(verdict)
    if assumed:
        paragraphs.append(_list("ASSUMED, BECAUSE NOT GIVEN", assumed, width))
    if verdict.not_checked:
        paragraphs.append(_list("NOT CHECKED", verdict.not_checked, width))
    paragraphs.append("BEFORE YOU CUT\n" + _wrap(CAUTIONS, width, "  ", "  "))
    paragraphs.append(_wrap(_made_from(verdict.provenance), width))
    return "\n\n".join(paragraphs) + "\n"


def assumed_words(verdict: Verdict) -> tuple[str, ...]:
    """What was assumed for this job; of the machine how much, since its own card tells what."""
    many = len(verdict.machine_assumed)
    if not many:
        return verdict.assumed
    things = "one thing is" if many == 1 else f"{many} things are"
    of_machine = (
        f"of the machine {things} not known, and taken from the usual ranges: kerfwright machine"
        ' lists them, and "mostly from" above says which one matters'
    )
    return (*verdict.assumed, of_machine)


def limit_words(finding: Finding) -> str:
    """What was found against what is allowed, or nothing where nothing was measured."""
    unit = shop_unit(finding.code, finding.unit)
    if not unit and finding.value.value == 0.0 and finding.limit == 0.0:
        return ""
    if finding.unit == "slot":  # the number of a slot is a name, not a measure
        return ""
    return f"found {estimate_words(finding.value, unit)}; limit {amount(finding.limit, unit)}"


def remedy_words(remedy: Remedy) -> str:
    """A remedy, and what the model found after trying it."""
    words = f"do: {both_ways(remedy.words.rstrip('.'))}"
    for change in remedy.changes:
        words += f" [{change.path}: {change.old} -> {change.new}]"
    if remedy.tried is not None:
        words += f". Tried in the model: {tried_words(remedy.tried)}"
    if remedy.not_tried:
        words += f". Not tried in the model: {both_ways(remedy.not_tried.rstrip('.'))}"
    if remedy.more_s is not None:
        words += f". {cost_words(remedy.more_s)}"
    return words + "."


def tried_words(tried: Finding) -> str:
    """What the model found after trying a remedy."""
    words = both_ways(f"{tried.words[:1].lower()}{tried.words[1:]}".rstrip("."))
    unit = shop_unit(tried.code, tried.unit)
    if tried.unit == "slot" or (tried.value.value == 0.0 and tried.limit == 0.0):
        return words
    return f"{words}: {amount(tried.value.value, unit)}, limit {amount(tried.limit, unit)}"


def cost_words(more_s: float) -> str:
    """What a remedy costs in time."""
    if abs(more_s) < 0.5:
        return "Takes no longer"
    about = f"{abs(more_s):.0f} s" if abs(more_s) < 90.0 else f"{abs(more_s) / 60.0:.1f} min"
    return f"Takes about {about} {'more' if more_s > 0.0 else 'less'}"


def _finding(number: int, finding: Finding, width: int) -> Iterator[str]:
    head = f"{number:3d}  {SEVERITY[finding.severity]}: {finding.code}"
    if finding.line > 0:
        head += f", line {finding.line}"
    if finding.time_s is not None:
        head += f", {moment(finding.time_s)} into the job"
    yield _wrap(head, width, "", "       ")
    details = [both_ways(finding.words)]
    if finding.spot is not None:
        details.append(f"at {spot_words(finding.spot)}")
    details.append(limit_words(finding))
    if finding.likelihood is not None:
        details.append(f"likely {chance_words(finding.likelihood)}")
    if finding.accepted:
        details.append(f"accepted, because: {finding.accepted}")
    details += [remedy_words(remedy) for remedy in finding.remedies]
    for detail in filter(None, details):
        yield _wrap(detail, width, "     ", "       ")


def margin_words(margin: Margin) -> tuple[str, str]:
    """Name and words of the tightest moment for one limit."""
    unit = shop_unit(margin.name, margin.unit)
    return margin.words.rstrip("."), (
        f"{estimate_words(margin.value, unit)}; limit {amount(margin.limit, unit)}; "
        f"line {margin.line}, at {moment(margin.time_s)}"
    )


def ascut_pairs(ascut: AsCut) -> Iterator[tuple[str, str]]:
    """Name and words of what the part will be like."""
    yield "tolerance", amount(ascut.tolerance_mm, "mm")
    yield (
        "95 parts in 100",
        f"of what is cut lie within {amount(ascut.ninety_five_mm, 'mm')} of the program; "
        f"{ascut.outside_percent:.3g} % lies beyond the tolerance",
    )
    yield "on average", leaning(ascut.mean_mm)
    yield "most proud", f"{leaning_estimate(ascut.proud)}; {spot_words(ascut.proud_spot)}"
    yield "most shy", f"{leaning_estimate(ascut.shy)}; {spot_words(ascut.shy_spot)}"
    if ascut.ruled_by:
        yield "comes mostly from", f"the {ascut.ruled_by}"
    yield from cutter_pairs(ascut)
    worst = sorted(ascut.walls, key=lambda wall: -abs(wall.worst_mm))
    for wall in worst[:MOST_WALLS]:
        yield _wall(wall)
    if len(worst) > MOST_WALLS:
        yield "other walls", f"{len(worst) - MOST_WALLS}, all nearer to the program"


def _wall(wall: Wall) -> tuple[str, str]:
    lines = f"line {wall.first_line}"
    if wall.last_line != wall.first_line:
        lines = f"lines {wall.first_line}-{wall.last_line}"
    offset = replace(wall.offset, mostly_from="")  # the same for all; the file has it
    lean = wall.top_mm - wall.foot_mm
    square = f"; top {leaning(lean)} of the foot" if abs(lean) >= LEANS_MM else ""
    return (
        f"wall {wall.side} of {lines}",
        f"{leaning_estimate(offset)}; at worst {leaning(wall.worst_mm)}{square}; "
        f"{wall.length_mm:.0f} mm long, {wall.depth_mm:.1f} deep",
    )


def totals_pairs(totals: Totals) -> Iterator[tuple[str, str]]:
    """Name and words of each total."""
    spread = time_span(*totals.time_spread_s)
    yield "time", f"{duration(totals.time_s)} ({spread}, nineteen times in twenty)"
    yield "taking wood", duration(totals.cutting_time_s)
    yield "program", f"{totals.lines} lines, {totals.moves} moves"
    yield "path at feed", _metres(totals.cut_mm)
    yield "path at rapid", _metres(totals.rapid_mm)
    yield (
        "made into chips",
        f"{totals.removed_mm3 / 1e6:.3g} litres of solid wood "
        f"({totals.removed_mm3 / INCH_MM**3:.3g} cubic inches)",
    )
    for axis, low, high in zip("XYZ", totals.lowest_mm, totals.highest_mm, strict=True):
        yield f"{axis} of the program", f"from {amount(low, 'mm')} to {amount(high, 'mm')}"


def _metres(length_mm: float) -> str:
    return f"{length_mm / 1000.0:.3g} m ({length_mm / INCH_MM / 12.0:.3g} ft)"


def _made_from(made: Provenance) -> str:
    return (
        f"From {made.program_file} ({made.program_sha256[:12]}), machine {made.machine} "
        f"({made.machine_sha256[:12]}), cells of {made.cell_mm:g} mm ({made.cell_why}), "
        f"Kerfwright {made.kerfwright} ({made.code_sha256[:12]})."
    )


def _pairs(title: str, pairs: Iterable[tuple[str, str]], width: int) -> str:
    pairs = list(pairs)
    column = min(max(len(name) for name, _ in pairs), 30) + 4
    lines = (
        _wrap(words, width, f"  {clean(name)}".ljust(column - 1) + " ", " " * column)
        for name, words in pairs
    )
    return "\n".join([title, *lines])


def _list(title: str, items: Iterable[str], width: int) -> str:
    return "\n".join([title, *(_wrap(item, width, "  - ", "    ") for item in items)])


def _wrap(text: str, width: int, first: str = "", rest: str = "") -> str:
    return textwrap.fill(
        clean(text),
        width,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    )
