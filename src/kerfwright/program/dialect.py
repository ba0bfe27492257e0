"""Rules of reading: the standard's, and looser ones for files as other software writes them."""

from dataclasses import dataclass
from typing import Literal

from kerfwright.basics.units import INCH_MM

LineEnds = Literal["any", "LF", "CR LF", "CR"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """What a reader accepts. The values here are those of the standard (NISTIR 6556).

    Everything that is read by a looser rule is told in ``Program.notes``, with how often and
    where first. The other rules are common practice, no source; G70 and G71 are in
    ISO 6983-1:1982 (from memory).
    """

    name: str
    lower_case: bool = True  #: letters may be small (3.3)
    blanks_in_numbers: bool = True  #: blanks mean nothing, even there (3.3)
    line_ends: LineEnds = "any"  #: CR, LF and both (3.1)
    longest_line: int = 256  #: characters (3.3)
    number_digits: int = 5  #: of an N number (3.3.1)
    number_anywhere: bool = False  #: an N number may stand behind other words
    semicolon_comments: bool = False  #: from ``;`` to the end of the line
    wide_comments: bool = False  #: letters beyond the 7-bit set inside comments
    end_may_be_missing: bool = False  #: neither M2, M30 nor a closing ``%``
    percent_anywhere: bool = False  #: ``%`` with text behind it, alone in the file, or not closed
    program_number: bool = False  #: a line with ``O`` or ``:`` and a number names the program
    byte_order_mark: bool = False  #: the three bytes of UTF-8 at the start
    skips_unknown: bool = False  #: words that the language does not have, or that no code uses
    #: Code, times ten, that axis words before any motion code stand for; None: a fault.
    bare_motion: Literal[0, 10] | None = None
    old_unit_codes: bool = False  #: G70 is G20 and G71 is G21
    centre_codes: bool = False  #: G90.1 and G91.1 say whether I J K are places
    tolerance_words: bool = False  #: P behind G64 is a path tolerance
    tolerance_heeded: bool = False  #: and the machine goes by it
    repeats_allowed: bool = False  #: of G and M words of one group: the last one counts;
    #: two kinds of motion, group 1, stay a fault
    full_circle_alone: bool = False  #: G2 or G3 with I J and no end point
    centres_absolute: bool = False  #: I J K are places, not offsets from the start of the arc
    round_mm: float = 0.002  #: difference of start and end radius (3.5.3.2)
    round_inch_mm: float = 0.0002 * INCH_MM  #: the same while inches are in force
    #: Half the chord of an arc given by R may be longer than R by this much: by the standard not
    #: at all, but the arithmetic rounds.
    chord_over_mm: float = 1e-9


STRICT = Dialect(name="standard")

#: Common practice, no source: what programs in the shop are seen to hold.
WORKSHOP = Dialect(
    name="workshop",
    longest_line=2000,
    number_digits=9,
    number_anywhere=True,
    semicolon_comments=True,
    wide_comments=True,
    end_may_be_missing=True,
    percent_anywhere=True,
    program_number=True,
    byte_order_mark=True,
    old_unit_codes=True,
    centre_codes=True,
    tolerance_words=True,
    repeats_allowed=True,
    full_circle_alone=True,
    round_mm=0.05,
    round_inch_mm=0.05,
    chord_over_mm=0.005,
)
