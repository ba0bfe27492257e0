"""How a program is read on a machine: the one place where machine.toml's words become rules.

Every errand that reads a program with a machine at hand reads it by ``read_on``.
"""

from dataclasses import replace
from typing import Final, Literal

from kerfwright.machine import Controller
from kerfwright.program import WORKSHOP, Dialect

_BARE: Final[dict[str, Literal[0, 10] | None]] = {"stops": None, "feed": 10, "rapid": 0}


def rules_of(controller: Controller) -> Dialect:
    """The rules by which this controller reads; what machine.toml does not say is WORKSHOP's."""
    reads = controller.reads
    return replace(
        WORKSHOP,
        name="machine.toml",
        lower_case=reads.lower_case,
        blanks_in_numbers=reads.blanks_in_numbers,
        line_ends=reads.line_ends,
        longest_line=reads.longest_line or WORKSHOP.longest_line,
        number_anywhere=reads.late_numbers,
        semicolon_comments=reads.semicolons,
        end_may_be_missing=reads.missing_end,
        byte_order_mark=reads.byte_order_mark,
        skips_unknown=controller.unknown_words == "skips",
        bare_motion=_BARE[reads.bare_coordinates],
        old_unit_codes=reads.knows_g70,
        centre_codes=reads.knows_g90_1,
        tolerance_words=reads.knows_g64_p,
        tolerance_heeded=controller.corner_rule == "path tolerance",
        centres_absolute=controller.arc_centres == "absolute",
    )
