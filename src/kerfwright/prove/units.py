"""A program that states units which make no sense on this machine, asked as a question."""

from kerfwright.basics import Finding, Remedy
from kerfwright.machine import MachineModel
from kerfwright.program import Program
from kerfwright.prove.margins import exact
from kerfwright.setup import Setup
from kerfwright.setup.units import SMALLEST_MM, doubt


def units(program: Program, setup: Setup, machine: MachineModel) -> list[Finding]:
    """The finding, if there is one."""
    widths = (cutter.diameter_mm for cutter in setup.slots.values())
    asked = doubt(program, machine, min(widths, default=SMALLEST_MM))
    if asked is None:
        return []
    return [
        Finding(
            id=f"units-{asked.line}",
            code="units",
            severity="caution",
            words=asked.words,
            value=exact(asked.value_mm),
            limit=asked.limit_mm,
            unit="mm",
            line=asked.line,
            remedies=(
                Remedy(
                    words=asked.remedy,
                    changes=(asked.change,),
                    not_tried="which units are meant only you can say",
                ),
            ),
        )
    ]
