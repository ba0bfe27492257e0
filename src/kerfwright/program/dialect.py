"""Rules of reading: the standard's, and looser ones for files as other software writes them."""

from dataclasses import dataclass

from kerfwright.basics.units import INCH_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """What a reader accepts. The values here are those of the standard (NISTIR 6556).

    Everything that is read by a looser rule is told in ``Program.notes``, with how often and
    where first. Unknown codes are errors under every rule.
    """

    name: str
    longest_line: int = 256  #: characters (3.3)
    number_digits: int = 5  #: of an N number (3.3.1)
    semicolon_comments: bool = False  #: from ``;`` to the end of the line
    wide_comments: bool = False  #: letters beyond the 7-bit set inside comments
    end_may_be_missing: bool = False  #: neither M2, M30 nor a closing ``%``
    percent_anywhere: bool = False  #: ``%`` with text behind it, alone in the file, or not closed
    program_number: bool = False  #: a line with ``O`` or ``:`` and a number names the program
    byte_order_mark: bool = False  #: the three bytes of UTF-8 at the start
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
    semicolon_comments=True,
    wide_comments=True,
    end_may_be_missing=True,
    percent_anywhere=True,
    program_number=True,
    byte_order_mark=True,
    repeats_allowed=True,
    full_circle_alone=True,
    round_mm=0.05,
    round_inch_mm=0.05,
    chord_over_mm=0.005,
)
