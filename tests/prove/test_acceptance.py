"""A finding may be accepted with a reason, a certain one never."""

from dataclasses import replace

import pytest

from kerfwright.basics import InputError, Place
from kerfwright.report import describe, verdict_as_plain
from kerfwright.setup.accept import Accepted

SLOW = "G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\nG1 X80 F150\nG0 Z5"
FAST = "G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\nG0 X40\nG1 X80 F1500\nG0 Z5"


def accepting(id_):
    place = Place(file="job.toml", line=30, column=6, text=f'id = "{id_}"')
    return lambda setup: replace(
        setup, accepted=(Accepted(id=id_, reason="a brass test piece", place=place),)
    )


def test_an_accepted_caution_is_told_with_its_reason(proved):
    verdict = proved(SLOW, change=accepting("chip-too-thin-7")).verdict
    (found,) = verdict.findings
    assert found.accepted == "a brass test piece"
    assert verdict.outcome == "care"
    assert verdict.sentence.endswith("what was found, you have accepted.")
    assert "accepted, because: a brass test piece" in describe(verdict)
    assert verdict_as_plain(verdict)["findings"][0]["accepted"] == "a brass test piece"


def test_what_is_certain_cannot_be_accepted(proved):
    with pytest.raises(InputError, match=r"job\.toml:30:6: .*is certain and cannot be accepted"):
        proved(FAST, change=accepting("rapid-through-wood-7"))


def test_an_acceptance_of_nothing_is_told(proved):
    verdict = proved(SLOW, change=accepting("loose-piece-9")).verdict
    assert [f.accepted for f in verdict.findings] == [""]
    assert any('accepts "loose-piece-9", which was not found' in one for one in verdict.assumed)
    assert "look at one thing first" in verdict.sentence
