"""Every code of a finding has a program that raises it and a near miss; and words for anyone."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from kerfwright.report.figures import both_ways
from kerfwright.report.words import limit_words, remedy_words

from .every_finding import CASES

PROVE = Path(__file__).parents[2] / "src" / "kerfwright" / "prove"
#: Words that only an engineer or a machinist of the trade's books knows.
JARGON = (
    "engagement", "modal", "compliance", "stiffness", "kinematic", "trajectory", "deflection",
    "backlash", "torque", "chatter", "climb", "conventional milling", "doc ", "woc", "feedrate",
    "sfm", "toolpath", "tool path", "endmill", "bit ", "tool ", "layer", "standard deviation",
    "sigma", "percentile", "likelihood", "resonance", "eigen", "axial", "radial", "tangential",
    "specific cutting", "rpm", "cantilever", "moment of inertia", "coefficient",
)  # fmt: skip
#: Of the whole part, or of the set-up: at its place on the board.
AT_A_PLACE = (
    "part off size", "clamp without a track", "screw in the wrong place", "wanted size off",
    "wanted size not found", "wood will move",
)  # fmt: skip
UNITS = {"mm", "mm²", "mm³", "N", "W", "s", "m", "rev/min", "mm/s", "share", "slot", ""}


def test_every_code_has_its_pair():
    codes = set()
    for path in PROVE.glob("*.py"):
        codes |= codes_in(path.read_text(encoding="utf-8"))
    assert codes == set(CASES)


def test_every_code_is_in_the_docs():
    page = (PROVE.parents[2] / "docs" / "verdict.md").read_text(encoding="utf-8")
    assert [code for code in CASES if f"`{code}`" not in page] == []


def codes_in(source):
    """Codes that a module gives to findings: by keyword, by place, or as a constant."""
    tree = ast.parse(source)
    named = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign):
            for target, value in pairs(node):
                if isinstance(value, ast.Constant) and isinstance(value.value, str):
                    named[target] = value.value
    out = set()
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        function = node.func.id if isinstance(node.func, ast.Name) else ""
        place = {"at_segment": 2, "at_group": 2, "_at_margin": 1}.get(function)
        given = [word.value for word in node.keywords if word.arg == "code"]
        if place is not None and len(node.args) > place:
            given.append(node.args[place])
        for value in given:
            if isinstance(value, ast.Constant):
                out.add(value.value)
            elif isinstance(value, ast.Name) and value.id in named:
                out.add(named[value.id])
            elif isinstance(value, ast.Name) and value.id == "code":
                out |= {
                    text.value
                    for assign in ast.walk(tree)
                    if isinstance(assign, ast.Assign) and ("code" in [t for t, _ in pairs(assign)])
                    for text in ast.walk(assign.value)
                    if isinstance(text, ast.Constant) and isinstance(text.value, str)
                }
    return out


def pairs(node):
    for target in node.targets:
        if isinstance(target, ast.Name):
            yield target.id, node.value
        elif isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
            for one, value in zip(target.elts, node.value.elts, strict=True):
                if isinstance(one, ast.Name):
                    yield one.id, value


@pytest.fixture
def found(proved, machine, monkeypatch):
    def run(case, which):
        for name, value in case.patch.items():
            monkeypatch.setattr(name, value)
        given = dict(getattr(case, which))
        if "on" in given:
            given["on"] = given["on"](machine)
        return proved(**given).verdict.findings

    return run


@pytest.mark.parametrize("code", sorted(CASES))
def test_a_program_raises_it(found, code):
    case = CASES[code]
    told = [finding for finding in found(case, "raises") if finding.code == code]
    assert told, f"{code} was not found"
    first = told[0]
    assert first.severity == case.severity
    if case.line:
        assert first.line == case.line, first.words
    for finding in told:
        reads_well(finding)


@pytest.mark.parametrize("code", sorted(CASES))
def test_a_near_miss_does_not(found, code):
    assert code not in [finding.code for finding in found(CASES[code], "near")]


def reads_well(finding):
    """Words, number, limit, unit, place and remedy, for someone who never read a handbook."""
    said = [finding.words, limit_words(finding), *map(remedy_words, finding.remedies)]
    for text in said:
        lowered = f" {text.lower()} "
        for word in JARGON:
            assert not re.search(rf"\b{re.escape(word)}", lowered), f"{word!r} in {text!r}"
        assert "safe" not in lowered
    assert finding.unit in UNITS, finding.unit
    # How much, and how much it may be: with its unit, in sentence and figures.
    if finding.code not in WITHOUT_A_FIGURE:
        assert re.search(r"\d", finding.words), finding.words
        assert re.match(r"found .*\d.*; limit .*\d", limit_words(finding))
    if finding.unit in ("mm", "mm/s", "N", "mm²", "m"):
        assert re.search(r" (in|in/s|lbf|sq in|ft)\b", limit_words(finding))
    # Where inches stand, every length of a sentence has them.
    assert both_ways(both_ways(finding.words)) == both_ways(finding.words)
    assert finding.line > 0 or finding.code in AT_A_PLACE
    assert finding.time_s is not None or finding.code in ("units", *AT_A_PLACE)
    assert finding.value.low <= finding.value.value <= finding.value.high
    assert finding.remedies, finding.words
    assert all(len(remedy.words) > 10 for remedy in finding.remedies)
    assert not finding.remedies[0].words.startswith("Or ")
    # Each was tried in the model, or says why not: never both, never neither.
    assert [one.words for one in finding.remedies if bool(one.tried) == bool(one.not_tried)] == []
    assert any(r.changes or r.tried or re.search(r"\d", r.words) for r in finding.remedies) or (
        finding.code in WITHOUT_NUMBERS
    )
    if finding.severity == "stop":
        assert finding.likelihood is None
    assert re.fullmatch(r"[\w .,()-]+", finding.id)
    assert len(finding.words) > 20
    assert finding.words[0].isupper()


#: Findings that are there or not.
WITHOUT_A_FIGURE = {
    "change ignored", "missing cutter", "no wood", "screw in the wrong place", "spindle off",
    "spindle backwards", "wanted size not found",
}  # fmt: skip

#: What to do there has no size: something is to be started, looked at or exchanged.
WITHOUT_NUMBERS = {
    "no wood", "spindle off", "change ignored", "cutter may creep out", "cutter pushed aside",
    "drill sideways", "spindle slows", "swings", "spindle backwards",
    "part off size",
}  # fmt: skip


@cache
def source(name):
    return (PROVE / name).read_text(encoding="utf-8")


def test_codes_are_found_in_the_sources():
    assert codes_in('CODE = "a b"\nat_group(f, g, CODE, "stop", w, m, ())') == {"a b"}
    assert codes_in('at_segment(f, s, "c d", "note", w, m, ())\nFinding(code="e")') == {"c d", "e"}
    assert {"chip too thin", "chip too thick"} <= codes_in(source("chip.py"))
