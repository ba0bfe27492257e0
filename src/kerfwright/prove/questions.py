"""Questions that each have a module of their own, asked of a program that has been cut."""

from kerfwright.basics import Finding
from kerfwright.program import Program
from kerfwright.prove.bed_remedies import bed
from kerfwright.prove.drift import drift
from kerfwright.prove.entries import entries
from kerfwright.prove.facts import Facts
from kerfwright.prove.hold_down import hold_down
from kerfwright.prove.lifts import lifts
from kerfwright.prove.loose import pieces
from kerfwright.prove.margins import Machines
from kerfwright.prove.marks import marks
from kerfwright.prove.mid_band import mid_band
from kerfwright.prove.turning import turning
from kerfwright.prove.wear import wear
from kerfwright.prove.z_again import z_again


def questions(facts: Facts, program: Program, machines: Machines) -> list[Finding]:
    """What all of them found."""
    return [
        *turning(facts, program),
        *entries(facts),
        *lifts(facts),
        *z_again(facts, program),
        *marks(facts, program),
        *drift(facts, program),
        *mid_band(facts),
        *wear(facts, machines),
        *hold_down(facts, machines),
        *pieces(facts),
        *bed(facts),
    ]
