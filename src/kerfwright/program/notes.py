"""What was tolerated or assumed in reading: each thing once, with how often and where first."""

from typing import Final

UNITS_NOT_SAID = "neither G20 nor G21 comes before the first move"
#: Key -> words, with the places {count}, {line}, {worst} and {shown}. Their order is the order of
#: telling.
_WORDS: Final = {
    "mark": "the file begins with a byte-order mark, which was passed over",
    "units": f"{UNITS_NOT_SAID}: read as mm",
    "units_inch": f"{UNITS_NOT_SAID}: read as inches, as the machine is set",
    "distance": "neither G90 nor G91 comes before the first move: read as G90, places",
    "plane": "no plane is chosen before the first arc: read as G17, XY",
    "program_number": "{count} with a program number, first on line {line}, passed over",
    "percent": "{count} with a % that the standard does not have there, first on line {line}",
    "percent_end": "the % on line {line} was read as the end of the program",
    "percent_open": "the % on line {line} opens the program and none closes it",
    "end": "the file ends without M2 or M30: it may have been cut short",
    "semicolon": "{count} with a remark behind a semicolon, first on line {line}",
    "wide": "{count} with letters in a remark that the standard does not have, first on "
    "line {line}",
    "number": "{count} with an N number of more than 5 digits, first on line {line}",
    "late_number": "{count} with an N number that is not first on it, first on line "
    "{line}: passed over",
    "long": "{count} with more than 256 characters, first on line {line}",
    "gap": "{count} with a blank inside a number, first on line {line}: read as one number",
    "slash_run": "{count} with a slash in front, first on line {line}: carried out, as the switch "
    "for such lines is taken to be off",
    "slash_skipped": "{count} with a slash in front, first on line {line}: left out, as the switch "
    "for such lines is on",
    "skipped": "{count} with words that this machine does not know and skips, first {shown} on "
    "line {line}",
    "bare": "no motion code comes before the coordinates on line {line}: read as {shown}, as this "
    "machine does",
    "old_units": "{count} with G70 or G71, first on line {line}: read as inches (G20) or "
    "millimetres (G21)",
    "centres_said": "{count} with G90.1 or G91.1, first on line {line}: it says whether I J K are "
    "places of arc centres or offsets from the start",
    "tolerance": "{count} with a path tolerance (G64 P), first on line {line}: this machine "
    "rounds corners by up to that much",
    "tolerance_ignored": "{count} with a path tolerance (G64 P), first on line {line}: this "
    "machine does not go by it",
    "repeat": "{count} with two codes that exclude each other, first on line {line}: "
    "the last one counts",
    "many_m": "{count} with more than 4 M words, first on line {line}",
    "centres": "I J K were read as places of arc centres, not as offsets from the start of the arc",
    "circle": "{count} with a full circle and no end point, first on line {line}",
    "round": "{count} with an arc whose start and end radius differ by more than the standard "
    "allows, first on line {line}; the largest difference is {worst:.4f} mm",
    "chord": "{count} with an arc whose ends are farther apart than twice its radius, first on "
    "line {line}, by up to {worst:.4f} mm: read as half circles",
    "shaky": "{count} with an arc that R describes poorly (near a half or a full circle), first on "
    "line {line}: a small rounding of its end moves the arc far",
    "units_late": "the units change after the first move, on line {line}",
    "feed_units": "{count} at a feed that was given before the units changed, first on line "
    "{line}: the number now counts in the new units",
    "feed_line": "F and a change of units stand on one line, first on line {line}: "
    "the feed was read in the new units",
    "motion": "{count} with coordinates and no motion code after a cutter change, first on line "
    "{line}",
    "dwell": "{count} with a dwell of 100 s or more, first on line {line}: "
    "the standard counts P in seconds",
    "machine_zero": "{count} with a place counted from the machine's own zero (G53, G28, G30 or "
    "G10), first on line {line}: that zero is not known and was taken as the set-up's",
    "no_length": "G43 on line {line} names a slot whose length is not known: taken as 0",
    "probe": "{count} with a probing move, first on line {line}: contact was assumed at its "
    "programmed end",
    "old_z": "{count} with G98 after G99 within one run of holes, first on line {line}: the "
    "cutter returns to the height it had before that line",
}


class Notes:
    """Counts of the things in ``_WORDS``."""

    def __init__(self) -> None:
        self._told: dict[str, tuple[int, int, float]] = {}
        self._shown: dict[str, str] = {}

    def tell(
        self, key: str, line: int, worst: float = 0.0, count: int = 1, shown: str = ""
    ) -> None:
        """Count a thing on a line; ``worst`` is its size where it has one, ``shown`` what stands
        there: the first one is told.
        """
        if key not in _WORDS:
            raise KeyError(key)
        before, first, most = self._told.get(key, (0, line, 0.0))
        self._told[key] = before + count, min(first, line), max(most, worst)
        self._shown.setdefault(key, shown)

    def has(self, key: str) -> bool:
        """Whether the thing was told."""
        return key in self._told

    def words(self) -> tuple[str, ...]:
        """All of them in words."""
        told = []
        for key, words in _WORDS.items():
            if key in self._told:
                count, line, worst = self._told[key]
                lines = "1 line" if count == 1 else f"{count} lines"
                shown = self._shown[key]
                told.append(words.format(count=lines, line=line, worst=worst, shown=shown))
        return tuple(told)
