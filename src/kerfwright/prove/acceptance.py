"""Findings that the job file accepts, each with the person's own reason."""

from collections.abc import Sequence
from dataclasses import replace

from kerfwright.basics import Finding, InputError
from kerfwright.setup.accept import Accepted


def accept(
    found: Sequence[Finding], accepted: Sequence[Accepted]
) -> tuple[list[Finding], list[str]]:
    """The findings with the reasons of those accepted, and what else is to be said.

    Raises
    ------
    InputError
        If a finding is accepted that is certain.
    """
    by_id = {one.id: one for one in accepted}
    out = []
    for finding in found:
        one = by_id.get(finding.id)
        if one is None:
            out.append(finding)
            continue
        if finding.severity == "stop":
            raise InputError(
                one.place,
                f'"{one.id}" is certain and cannot be accepted: {finding.words}',
                finding.remedies[0].words if finding.remedies else "mend the program or the set-up",
            )
        out.append(replace(finding, accepted=one.reason))
    there = {finding.id for finding in found}
    words = [
        f'the job file accepts "{one.id}", which was not found this time'
        for one in accepted
        if one.id not in there
    ]
    return out, words
