"""What can be wrong with a program, each thing with a kind, a place, words and a remedy."""

from kerfwright.basics import InputError, Place

#: The kinds of fault, from the clauses of NISTIR 6556.
KINDS = frozenset(
    (
        *("line_too_long", "syntax", "letter_unknown", "number", "line_number"),
        *("comment_not_closed", "comment_nested", "parameter_index", "math"),
        *("g_code_unknown", "m_code_unknown", "modal_group_repeated", "too_many_m"),
        *("word_repeated", "percent_not_closed", "stray_percent", "no_program_end"),
        *("coordinate_system_index", "axis_missing", "axis_conflict", "g80_axis_words"),
        *("word_missing", "word_unused", "range", "rotary_axis"),
        *("feed_zero", "feed_inverse_missing", "g53_mode", "arc_centre_missing"),
        *("arc_radius_mismatch", "arc_radius_small", "arc_endpoint", "arc_format"),
        *("probe_too_close", "probe_no_contact", "probe_inverse_time"),
        *("crc_already_on", "crc_plane", "crc_forbidden", "crc_concave_corner"),
        *("crc_tool_radius", "crc_gouge", "cycle_r_below_z", "cycle_inverse_time"),
        *("cycle_crc", "cycle_spindle"),
        # About files that are no programs at all.
        *("not_text", "too_large", "line_end", "units"),
    )
)


class ProgramError(InputError):
    """One line of a cutting program that cannot be run as written.

    ``kind`` is one of ``KINDS``. Line 0 stands for the whole file.
    """

    def __init__(self, place: Place, problem: str, remedy: str, kind: str) -> None:
        self.kind = kind
        super().__init__(place, problem, remedy)
        self.args = (place, problem, remedy, kind)  # all of them, so that it can be pickled


class Fault(Exception):
    """A fault on the line in hand; the reader knows which line that is and makes it an error."""

    def __init__(self, kind: str, column: int, problem: str, remedy: str) -> None:
        if kind not in KINDS:
            raise ValueError(f"no kind of fault is called {kind}")
        self.kind, self.column, self.problem, self.remedy = kind, column, problem, remedy
        super().__init__(kind, column, problem, remedy)
