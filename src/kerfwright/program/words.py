"""One line of text into words, settings and comments (NISTIR 6556, 3.3).

Nothing is carried out here. Codes are kept as whole numbers: G words times ten (G59.1 is 591).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import floor

from kerfwright.kernels.program_arcs import FARTHEST
from kerfwright.program.dialect import STRICT, Dialect
from kerfwright.program.expressions import NEAR_INTEGER, Values, letter_o, typographic_minus
from kerfwright.program.problem import Fault

LETTERS = frozenset("ABCDFGHIJKLMPQRSTXYZ")
MOST_M_WORDS = 4  # 3.3.5
STANDARD_LINE = STRICT.longest_line
LONGEST_DWELL_S = 1e7  #: ours: a third of a year

G80 = 800
CENTRES_GROUP = 14  #: ours: G90.1 and G91.1 are not in the standard
#: G70 and G71 in the codes that mean the same.
_OLD_UNITS = {700: 200, 710: 210}
#: G code times ten -> modal group (3.4, table 4). Group 0 is not modal.
G_GROUPS: dict[int, int] = {
    **dict.fromkeys((0, 10, 20, 30, 382, 800, 810, 820, 830, 840, 850, 860, 870, 880, 890), 1),
    **dict.fromkeys((170, 180, 190), 2),
    **dict.fromkeys((900, 910), 3),
    **dict.fromkeys((930, 940), 5),
    **dict.fromkeys((200, 210), 6),
    **dict.fromkeys((400, 410, 420), 7),
    **dict.fromkeys((430, 490), 8),
    **dict.fromkeys((980, 990), 10),
    **dict.fromkeys((540, 550, 560, 570, 580, 590, 591, 592, 593), 12),
    **dict.fromkeys((610, 611, 640), 13),
    **dict.fromkeys((901, 911), CENTRES_GROUP),
    **dict.fromkeys((40, 100, 280, 300, 530, 920, 921, 922, 923), 0),
}
M_GROUPS: dict[int, int] = {
    **dict.fromkeys((0, 1, 2, 30, 60), 4),
    6: 6,
    **dict.fromkeys((3, 4, 5), 7),
    **dict.fromkeys((7, 8, 9), 8),
    **dict.fromkeys((48, 49), 9),
}

_MESSAGE = re.compile(r"\s*m\s*s\s*g\s*,(.*)", re.I | re.S)
_LINE_NUMBER = re.compile(r"[ \t]*(\d[\d \t]*)?")
_MARK = "\xef\xbb\xbf"
_NOT_PRINTABLE = re.compile(r"[^\t -~]")
_REMARK = re.compile(r"\([^)]*\)?")
_SMALL = re.compile(r"[a-z]")
_GAP = re.compile(r"(?<=[\d.])[ \t]+(?=[\d.])")
_NOT_WIDE = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """The number behind a letter, and the letter's column."""

    value: float
    column: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """A G word times ten, or an M word, and its column."""

    code: int
    column: int


@dataclass(slots=True, kw_only=True)
class Line:
    """What one line says, every value worked out with the parameters as they were before it."""

    skipped: bool = False  #: begins with a slash
    words: dict[str, Word] = field(default_factory=dict)
    g: dict[int, Code] = field(default_factory=dict)  #: by modal group
    m: dict[int, Code] = field(default_factory=dict)  #: by modal group
    settings: list[tuple[int, float]] = field(default_factory=list)
    message: str | None = None
    unknown_g: Code | None = None  #: a G code that was passed over
    #: What a looser rule let pass, with the first word of that kind where it is to be shown.
    tolerated: dict[str, str] = field(default_factory=dict)

    def skip(self, word: str) -> None:
        """Note a word that was passed over because the machine does so."""
        self.tolerated.setdefault("skipped", word)

    def g_code(self, group: int) -> int | None:
        """The code of a group, times ten, if the line has one."""
        code = self.g.get(group)
        return None if code is None else code.code

    def m_code(self, group: int) -> int | None:
        """The M code of a group, if the line has one."""
        code = self.m.get(group)
        return None if code is None else code.code

    def column(self, *letters: str) -> int:
        """Column of the first of these words that the line has, else 1."""
        return next((self.words[letter].column for letter in letters if letter in self.words), 1)


def read_line(text: str, parameters: Mapping[int, float], rules: Dialect) -> Line:
    """Read one line, without its end.

    Raises
    ------
    Fault
        At the first thing that is not as section 3.3 has it.
    """
    if len(text) > rules.longest_line:
        raise Fault(
            "line_too_long",
            rules.longest_line + 1,
            f"the line has more than {rules.longest_line} characters",
            "break it into several lines or shorten its comments",
        )
    line = Line()
    if len(text) > STANDARD_LINE:
        line.tolerated["long"] = ""
    _check_letters(line, text, rules)
    values = Values(text, parameters)
    if values.skip() == "/":
        line.skipped = True
        values.at += 1
    if values.skip() in ("N", "n"):
        _read_line_number(line, values, rules)
    while next_one := values.skip():
        if next_one == "(":
            _read_comment(line, values, rules)
        elif next_one == ";" and rules.semicolon_comments:
            _check_characters(line, text[values.at :], values.at, rules)
            line.tolerated["semicolon"] = ""
            line.message = None
            break
        elif next_one == "#":
            _read_setting(line, values)
        else:
            _read_word(line, values, next_one, rules)
    return line


def _check_letters(line: Line, text: str, rules: Dialect) -> None:
    """Small letters and blanks inside numbers: fine by the standard, a fault for some machines."""
    bare = _REMARK.sub(lambda match: "(" * len(match[0]), text)
    bare = bare.partition(";")[0] if rules.semicolon_comments else bare
    if not rules.lower_case and (small := _SMALL.search(bare)):
        raise Fault(
            "syntax",
            small.start() + 1,
            f"{small[0]} is a small letter, and this machine stops at those",
            "write the program in capitals",
        )
    gap = _GAP.search(bare)
    if gap and not rules.blanks_in_numbers:
        raise Fault(
            "syntax",
            gap.start() + 1,
            "a blank stands inside a number, and this machine stops at those",
            "take the blank out",
        )
    if gap:
        line.tolerated["gap"] = ""


def _read_line_number(line: Line, values: Values, rules: Dialect) -> None:
    column = values.at + 1
    match = _LINE_NUMBER.match(values.text, values.at + 1)
    digits = re.sub(r"[ \t]", "", match[1] or "") if match else ""
    end = match.end() if match else values.at + 1
    if not 1 <= len(digits) <= rules.number_digits or values.text[end : end + 1] == ".":
        raise Fault(
            "line_number",
            column,
            f"an N number has 1 to {rules.number_digits} digits and no more",
            "write it like N120, or leave it out: nothing depends on it",
        )
    if len(digits) > 5:
        line.tolerated["number"] = ""
    values.at = end


def _read_comment(line: Line, values: Values, rules: Dialect) -> None:
    opened = values.at
    closed = values.text.find(")", opened)
    if closed < 0:
        raise Fault(
            "comment_not_closed",
            opened + 1,
            "the comment is not closed on its line",
            "put ) at its end",
        )
    inside = values.text[opened + 1 : closed]
    if "(" in inside:
        raise Fault(
            "comment_nested",
            opened + 2 + inside.index("("),
            "a comment stands inside a comment",
            "write square brackets, or none, inside a comment",
        )
    _check_characters(line, inside, opened + 1, rules)
    message = _MESSAGE.fullmatch(inside)
    line.message = message[1].strip() if message else None  # the last comment counts (3.3.5)
    values.at = closed + 1


def _check_characters(line: Line, inside: str, at: int, rules: Dialect) -> None:
    match = _NOT_PRINTABLE.search(inside)
    if match is None:
        return
    if not rules.wide_comments or _NOT_WIDE.search(inside):
        raise Fault(
            "syntax",
            at + match.start() + 1,
            "the comment holds a character that the language does not have",
            "use plain letters, digits and signs only",
        )
    line.tolerated["wide"] = ""


def _read_setting(line: Line, values: Values) -> None:
    at = values.at
    values.at += 1
    index = values.index(at)
    if values.skip() != "=":
        raise Fault(
            "syntax",
            at + 1,
            f"parameter {index} stands alone, with no = behind it",
            f"write #{index}=... to set it, or put a letter before it",
        )
    values.at += 1
    line.settings.append((index, values.value(f"value of parameter {index}", at + 1)))


def _read_word(line: Line, values: Values, found: str, rules: Dialect) -> None:
    letter, column = found.upper(), values.at + 1
    text = values.text
    if letter == "N" and rules.number_anywhere:
        line.tolerated["late_number"] = ""
        _read_line_number(line, values, rules)
        return
    if letter not in LETTERS:
        fault = _no_word(letter, found, column, text)
        if fault.kind != "letter_unknown" or not rules.skips_unknown:
            raise fault
    values.at += 1
    value = values.value(f"{letter} word", column)
    if letter == "G":
        _add_code(line, "G", value, column, rules)
    elif letter == "M":
        _add_code(line, "M", value, column, rules)
    elif letter not in LETTERS:
        line.skip(f"{letter}{value:g}")
    elif letter in line.words:
        raise Fault(
            "word_repeated",
            column,
            f"the line has two {letter} words",
            "leave one out, or write two lines",
        )
    else:
        line.words[letter] = Word(value=value, column=column)


def _no_word(letter: str, found: str, column: int, text: str) -> Fault:
    if letter == "O" and column > 1 and text[column - 2] in "0123456789.oO":
        word = re.search(r"([A-Za-z])[ \t]*[+-]?[\d.]*$", text[: column - 1])
        if word:
            return letter_o(text, f"{word[1].upper()} word", word.start() + 1)
    if letter == "N":
        return Fault(
            "line_number",
            column,
            "the N number is not the first thing on the line",
            "put it at the start, behind a slash if there is one",
        )
    if letter.isascii() and letter.isalpha():
        return Fault(
            "letter_unknown",
            column,
            f"no word begins with the letter {letter}",
            "leave the word out",
        )
    remedies = {
        ";": "put the remark in parentheses",
        "/": "put the slash first on the line, before the N number",
        ",": "write a point, not a comma, in a number",
        "%": "put % alone on a line of its own",
        ")": "put ( before the comment that it closes",
        "[": "put a letter before the bracket",
    }
    dash = typographic_minus(text, column - 1)
    if dash is not None:
        return dash
    if text.startswith(_MARK, column - 1):
        return Fault(
            "syntax",
            column,
            "a byte-order mark stands here: three bytes that an editor put in",
            "save the file as UTF-8 without that mark",
        )
    shown = f'"{found}"' if found.isprintable() else f"character {ord(found)}"
    return Fault(
        "syntax",
        column,
        f"{shown} stands where a word or a comment should begin",
        remedies.get(found, "remove it, or put it in a comment"),
    )


def _add_code(line: Line, letter: str, value: float, column: int, rules: Dialect) -> None:
    scale, groups = (10.0, G_GROUPS) if letter == "G" else (1.0, M_GROUPS)
    number = value * scale
    code = floor(number + 0.5) if abs(number) < FARTHEST_CODE else -1
    near = abs(number - code) <= NEAR_INTEGER
    if letter == "G" and near and code in _OLD_UNITS and rules.old_unit_codes:
        code = _OLD_UNITS[code]
        line.tolerated["old_units"] = ""
    group = groups.get(code, -1) if near else -1
    if group == CENTRES_GROUP and letter == "G":
        if rules.centre_codes:
            line.tolerated["centres_said"] = ""
        else:
            group = -1
    if group < 0 and rules.skips_unknown:
        line.skip(f"{letter}{value:g}")
        if letter == "G" and line.unknown_g is None:
            line.unknown_g = Code(code=code, column=column)
        return
    if group < 0:
        raise Fault(
            "g_code_unknown" if letter == "G" else "m_code_unknown",
            column,
            f"{letter}{value:g} is no code of this language",
            "find out what it was to do, and write that in codes that the machine has",
        )
    onto = line.g if letter == "G" else line.m
    if letter == "M" and len(line.m) >= MOST_M_WORDS and group not in line.m:
        if not rules.repeats_allowed:
            raise Fault(
                "too_many_m",
                column,
                f"the line has more than {MOST_M_WORDS} M words",
                "write two lines",
            )
        line.tolerated["many_m"] = ""
    if group in onto:
        # Of two kinds of motion the last would win, and turn a cut into a rapid. G80 moves nothing.
        apart = letter == "G" and group == 1 and onto[group].code != code
        apart = apart and G80 not in (code, onto[group].code)
        if not rules.repeats_allowed or group == 0 or apart:
            other = onto[group].code / scale
            raise Fault(
                "modal_group_repeated",
                column,
                f"{letter}{value:g} and {letter}{other:g} exclude each other on one line",
                "leave one out, or write two lines",
            )
        line.tolerated["repeat"] = ""
    onto[group] = Code(code=code, column=column)


#: No code is anywhere near it; keeps huge numbers out of the rounding.
FARTHEST_CODE = 1e6


def within(
    line: Line, letter: str, least: float, most: float, needed_by: str | None = None
) -> float:
    """The number of a word, which must lie from ``least`` to ``most``."""
    word = line.words.get(letter)
    if word is None:
        raise missing(line, letter, needed_by or "the line")
    if not least <= word.value <= most:
        raise Fault(
            "range",
            word.column,
            f"{letter}{word.value:g} is not from {least:g} to {most:g}",
            "check the number",
        )
    return word.value


def whole(line: Line, letter: str, least: int, most: int, needed_by: str | None = None) -> int:
    """The number of a word, which must be a whole number from ``least`` to ``most``."""
    word = line.words.get(letter)
    if word is None:
        raise missing(line, letter, needed_by or "the line")
    number = floor(word.value + 0.5) if abs(word.value) < FARTHEST else -1
    if abs(word.value - number) > NEAR_INTEGER or not least <= number <= most:
        raise Fault(
            "range",
            word.column,
            f"{letter}{word.value:g} is not a whole number from {least} to {most}",
            "check the number",
        )
    return number


def missing(line: Line, letter: str, needed_by: str) -> Fault:
    """The fault of a word that is not there."""
    columns = [code.column for code in line.g.values()]
    return Fault(
        "word_missing",
        min(columns, default=1),
        f"{needed_by} has no {letter} word",
        f"add {letter} with its number",
    )
