"""One line of text to words, settings and a comment; values as NISTIR 6556, 3.3 and App. E say."""

import math
import re
from dataclasses import dataclass, field

LONGEST = 256
LAST_PARAMETER = 5399
#: 3.3.2.1: a decimal counts as an integer when it is this close to one.
CLOSE = 1e-4

_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)")
_ONE_ARGUMENT = (
    "abs",
    "acos",
    "asin",
    "cos",
    "exp",
    "fix",
    "fup",
    "ln",
    "round",
    "sin",
    "sqrt",
    "tan",
)
_BINARY = ({"**"}, {"*", "/", "mod"}, {"+", "-", "or", "xor", "and"})
_OPERATORS = ("**", "*", "/", "+", "-", "mod", "xor", "or", "and")
_LETTERS = "abcdfghijklmpqrstxyz"

#: Table 4: modal groups of the G codes, by ten times the code. Group 0 is not modal.
G_GROUPS = {
    0: (40, 100, 280, 300, 530, 920, 921, 922, 923),
    1: (0, 10, 20, 30, 382, 800, 810, 820, 830, 840, 850, 860, 870, 880, 890),
    2: (170, 180, 190),
    3: (900, 910),
    5: (930, 940),
    6: (200, 210),
    7: (400, 410, 420),
    8: (430, 490),
    10: (980, 990),
    12: (540, 550, 560, 570, 580, 590, 591, 592, 593),
    13: (610, 611, 640),
}
M_GROUPS = {4: (0, 1, 2, 30, 60), 6: (6,), 7: (3, 4, 5), 8: (7, 8, 9), 9: (48, 49)}
_GROUP_OF_G = {code: group for group, codes in G_GROUPS.items() for code in codes}
_GROUP_OF_M = {code: group for group, codes in M_GROUPS.items() for code in codes}


class Fault(Exception):
    """The first fault; ``line`` is None at the end of the file or before its start."""

    def __init__(self, kind, line=None):
        super().__init__(f"{kind} on line {line}")
        self.kind, self.line = kind, line


@dataclass
class Line:
    """What stands on one line; ``codes`` by group holds ten times each G number."""

    slash: bool = False
    words: dict = field(default_factory=dict)
    codes: dict = field(default_factory=dict)
    actions: dict = field(default_factory=dict)
    settings: list = field(default_factory=list)
    comment: str | None = None


def whole(value, kind="range"):
    """The integer that ``value`` is close to."""
    nearest = math.floor(value + 0.5)
    if abs(value - nearest) > CLOSE:
        raise Fault(kind)
    return nearest


def read_line(text, parameters):
    """Words, settings and the last comment of one line; raises Fault without a line number."""
    if len(text) > LONGEST:
        raise Fault("line_too_long")
    return _Scanner(text, parameters).line()


class _Scanner:
    """Walks over one line; a blank outside a comment is stepped over wherever it stands."""

    def __init__(self, text, parameters):
        # Comments are put aside first, each leaving one mark, so that blanks can then go.
        self.comments = []
        self.text = "".join(self._without_comments(text)).lower()
        self.at = 0
        self.parameters = parameters

    def _without_comments(self, text):
        at = 0
        while at < len(text):
            if text[at] == "(":
                end = text.find(")", at)
                inside = text[at + 1 : end if end >= 0 else len(text)]
                if "(" in inside:
                    raise Fault("comment_nested")
                if end < 0:
                    raise Fault("comment_not_closed")
                if any(not (" " <= c <= "~" or c == "\t") for c in inside):
                    raise Fault("syntax")
                self.comments.append(inside)
                yield "("
                at = end
            elif text[at] not in " \t":
                yield text[at]
            at += 1

    def take(self, piece):
        if self.text.startswith(piece, self.at):
            self.at += len(piece)
            return True
        return False

    def line(self):
        line = Line(slash=self.take("/"))
        if self.take("n"):
            found = re.compile(r"[0-9]+").match(self.text, self.at)
            if not found or len(found[0]) > 5:
                raise Fault("line_number")
            self.at = found.end()
        g_words, m_words = [], []
        while self.at < len(self.text):
            if self.take("("):
                continue
            if self.take("#"):
                index = self._index(self.value())
                self._need("=")
                line.settings.append((index, self.value()))
                continue
            letter = self.text[self.at]
            if letter not in _LETTERS:
                raise Fault("letter_unknown" if letter.isalpha() else "syntax")
            self.at += 1
            value = self.value()
            if letter == "g":
                g_words.append(value)
            elif letter == "m":
                m_words.append(value)
            elif letter in line.words:
                raise Fault("word_repeated")
            else:
                line.words[letter] = value
        self._codes(line, g_words, m_words)
        line.comment = self.comments[-1] if self.comments else None
        return line

    @staticmethod
    def _codes(line, g_words, m_words):
        for value in g_words:
            code = whole(10.0 * value, "g_code_unknown")
            if code not in _GROUP_OF_G:
                raise Fault("g_code_unknown")
            if _GROUP_OF_G[code] in line.codes:
                raise Fault("modal_group_repeated")
            line.codes[_GROUP_OF_G[code]] = code
        if len(m_words) > 4:
            raise Fault("too_many_m")
        for value in m_words:
            code = whole(value, "m_code_unknown")
            if code not in _GROUP_OF_M:
                raise Fault("m_code_unknown")
            if _GROUP_OF_M[code] in line.actions:
                raise Fault("modal_group_repeated")
            line.actions[_GROUP_OF_M[code]] = code

    def _need(self, piece):
        if not self.take(piece):
            raise Fault("syntax")

    def _index(self, value):
        index = whole(value, "parameter_index")
        if not 1 <= index <= LAST_PARAMETER:
            raise Fault("parameter_index")
        return index

    def value(self):
        """3.3.2: a number, a parameter's value, a bracket or a function."""
        if self.take("#"):
            return self.parameters.get(self._index(self.value()), 0.0)
        if self.take("["):
            return self._bracket()
        if self.take("atan["):
            above = self._bracket()
            self._need("/")
            self._need("[")
            return _finite(lambda: math.degrees(math.atan2(above, self._bracket())))
        for name in _ONE_ARGUMENT:
            if self.take(name + "["):
                argument = self._bracket()
                return _finite(lambda: _FUNCTIONS[name](argument))  # noqa: B023
        found = _NUMBER.match(self.text, self.at)
        if not found:
            raise Fault("number")
        self.at = found.end()
        return float(found[0])

    def _bracket(self):
        """What stands between brackets, the first of which has been taken."""
        values, operators = [self.value()], []
        while not self.take("]"):
            operators.append(next((one for one in _OPERATORS if self.take(one)), None))
            if operators[-1] is None:
                raise Fault("syntax")
            values.append(self.value())
        # 3.3.2.3: three groups, each from left to right.
        for group in _BINARY:
            place = 0
            while place < len(operators):
                if operators[place] in group:
                    left, right = values[place : place + 2]
                    name = operators.pop(place)
                    values[place : place + 2] = [_finite(lambda: _two(name, left, right))]  # noqa: B023
                else:
                    place += 1
        return values[0]


def _two(name, left, right):
    if name == "**":
        return math.pow(left, right)
    if name == "mod":
        return left % right
    if name in ("and", "or", "xor"):
        a, b = left != 0.0, right != 0.0
        return float({"and": a and b, "or": a or b, "xor": a != b}[name])
    return {
        "*": lambda: left * right,
        "/": lambda: left / right,
        "+": lambda: left + right,
        "-": lambda: left - right,
    }[name]()


_FUNCTIONS = {
    "abs": abs,
    "acos": lambda v: math.degrees(math.acos(v)),
    "asin": lambda v: math.degrees(math.asin(v)),
    "cos": lambda v: math.cos(math.radians(v)),
    "exp": math.exp,
    "fix": lambda v: float(math.floor(v)),
    "fup": lambda v: float(math.ceil(v)),
    "ln": math.log,
    "round": lambda v: math.copysign(math.floor(abs(v)) + (math.modf(abs(v))[0] >= 0.5), v),
    "sin": lambda v: math.sin(math.radians(v)),
    "sqrt": math.sqrt,
    "tan": lambda v: math.tan(math.radians(v)),
}


def _finite(compute):
    try:
        value = compute()
    except (ValueError, OverflowError, ZeroDivisionError):
        raise Fault("math") from None
    if not math.isfinite(value):
        raise Fault("math")
    return value
