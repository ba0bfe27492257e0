"""Values on a line: numbers, parameters, expressions and functions (NISTIR 6556, 3.3.2)."""

import re
from collections.abc import Callable, Mapping
from math import acos, asin, atan2, ceil, cos, degrees, exp, floor, isfinite, log, radians, sin, tan
from math import sqrt as square_root

from kerfwright.program.problem import Fault

#: Highest parameter that a program may name (3.3.3).
LAST_PARAMETER = 5399
#: How near an integer a value must be to count as one (3.3.2.1).
NEAR_INTEGER = 1e-4
_DEEPEST = 40  # brackets inside brackets; ours, so that no line can exhaust the stack

_NUMBER = re.compile(r"[+-]?[ \t]*(?:\d[\d \t]*(?:\.[\d \t]*)?|\.[ \t]*\d[\d \t]*)")
_FUNCTION = re.compile(
    "|".join(
        "[ \t]*".join(name)
        for name in (
            *("ABS", "ACOS", "ASIN", "ATAN", "COS", "EXP", "FIX"),
            *("FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"),
        )
    ),
    re.I,
)
_OPERATOR = re.compile(
    r"\*[ \t]*\*|[*/+-]|" + "|".join("[ \t]*".join(n) for n in ("MOD", "XOR", "AND", "OR")), re.I
)
_GROUP = {"**": 1, "*": 2, "/": 2, "MOD": 2, "+": 3, "-": 3, "OR": 3, "XOR": 3, "AND": 3}


class Values:
    """Reads values from one line, left to right. ``at`` is the place of the next character."""

    def __init__(self, text: str, parameters: Mapping[int, float]) -> None:
        self.text, self.parameters = text, parameters
        self.at = 0
        self._depth = 0

    def skip(self) -> str:
        """Go over blanks; the next character, or "" at the end."""
        text = self.text
        at = self.at
        while at < len(text) and text[at] in " \t":
            at += 1
        self.at = at
        return text[at] if at < len(text) else ""

    def value(self, what: str, column: int) -> float:
        """One value: a number, ``#``, ``[...]`` or a function.

        ``what`` and ``column`` tell in an error what the value belongs to.
        """
        next_one = self.skip()
        if next_one and next_one in "0123456789.+-":
            return self._number(what, column)
        if not next_one or (next_one not in "#[" and not next_one.isalpha()):
            raise no_number(self.text, what, column, self.at)
        self._depth += 1
        if self._depth > _DEEPEST:
            raise Fault(
                "syntax",
                self.at + 1,
                f"values stand inside values more than {_DEEPEST} deep",
                "work it out in steps, on several lines",
            )
        if next_one == "#":
            result = self._parameter()
        elif next_one == "[":
            result = self._bracket()
        else:
            result = self._function(what, column)
        self._depth -= 1
        return result

    def index(self, hash_at: int) -> int:
        """The number of a parameter, behind its ``#``, which stands at ``hash_at``."""
        value = self.value("number of a parameter", hash_at + 1)
        index = round(value)
        if abs(value - index) > NEAR_INTEGER or not 1 <= index <= LAST_PARAMETER:
            raise Fault(
                "parameter_index",
                hash_at + 1,
                f"there is no parameter {value:g}",
                f"use a whole number from 1 to {LAST_PARAMETER}",
            )
        return index

    def _parameter(self) -> float:
        hash_at = self.at
        self.at += 1
        return self.parameters.get(self.index(hash_at), 0.0)

    def _number(self, what: str, column: int) -> float:
        match = _NUMBER.match(self.text, self.at)
        if match is None:
            raise no_number(self.text, what, column, self.at)
        self.at = match.end()
        while self.at and self.text[self.at - 1] in " \t":
            self.at -= 1
        value = float(match[0].replace(" ", "").replace("\t", ""))
        if not isfinite(value):
            raise Fault("number", column, f"the {what} is too large", "write a number in reach")
        return value

    def _bracket(self) -> float:
        """An expression, from its ``[`` to behind its ``]``."""
        opened = self.at
        self.at += 1
        values = [self.value("expression", self.at + 1)]
        operators: list[tuple[str, int]] = []
        while True:
            next_one = self.skip()
            if next_one == "]":
                self.at += 1
                break
            match = _OPERATOR.match(self.text, self.at) if next_one else None
            if match is None:
                dash = typographic_minus(self.text, self.at)
                raise dash or Fault(
                    "syntax",
                    min(self.at, len(self.text) - 1) + 1,
                    f"the bracket at column {opened + 1} is not closed"
                    if not next_one
                    else f'"{next_one}" stands where the expression needs an operation or "]"',
                    "close each [ with a ], with + - * / ** MOD AND OR or XOR between the values",
                )
            operators.append((re.sub(r"[ \t]", "", match[0]).upper(), match.start() + 1))
            self.at = match.end()
            values.append(self.value("expression", self.at + 1))
        # Powers first, then products, then all the rest; from left to right in each group.
        for group in (1, 2, 3):
            kept_values, kept_operators = [values[0]], []
            for (name, column), right in zip(operators, values[1:], strict=True):
                if _GROUP[name] == group:
                    kept_values[-1] = _operate(name, kept_values[-1], right, column)
                else:
                    kept_values.append(right)
                    kept_operators.append((name, column))
            values, operators = kept_values, kept_operators
        return values[0]

    def _argument(self, name: str) -> float:
        if self.skip() != "[":
            raise Fault(
                "syntax",
                min(self.at, len(self.text) - 1) + 1,
                f"{name} has no bracket behind it",
                f"write {name}[...]" if name != "ATAN" else "write ATAN[...]/[...]",
            )
        return self._bracket()

    def _function(self, what: str, column: int) -> float:
        match = _FUNCTION.match(self.text, self.at)
        if match is None:
            raise no_number(self.text, what, column, self.at)
        at = self.at + 1
        self.at = match.end()
        name = re.sub(r"[ \t]", "", match[0]).upper()
        first = self._argument(name)
        if name == "ATAN":
            if self.skip() != "/":
                raise Fault(
                    "syntax",
                    at,
                    "ATAN needs two bracketed values with a slash between",
                    "write ATAN[rise]/[run]",
                )
            self.at += 1
            return degrees(atan2(first, self._argument(name)))
        return _checked(lambda: _FUNCTIONS[name](first), at, f"{name}[{first:g}]")


def no_number(text: str, what: str, column: int, at: int) -> Fault:
    """The fault of a value that is not there; ``at`` is where it should begin."""
    found = text[at : at + 1]
    rest = re.sub(r"[ \t]", "", text[at:])
    dash = typographic_minus(text, at)
    if dash is not None:
        return dash
    if re.match(r"[+-]?\.?[Oo](?![A-Za-z](?![+-]?[\d.#\[]))", rest):
        return letter_o(text, what, column)
    if re.match(r"[+-][#\[A-Za-z]", rest):
        return Fault(
            "syntax",
            at + 1,
            f"the sign of the {what} stands before something that is no number",
            "put it inside: [0-[...]] for a minus",
        )
    if not found:
        problem = f"the {what} has no number"
    elif re.match(r"[+-]?\.", rest):
        problem = f"the {what} has a point but no digits"
    else:
        problem = f'the {what} has no number: "{found}" stands there'
    remedy = "write digits behind it, with a point if need be"
    if found.isalpha():
        remedy += "; put a remark in parentheses"
    return Fault("number", column, problem, remedy)


#: U+2212, U+2012 and U+2013 in UTF-8, and the dash of a common one-byte code page, byte for letter
#: as lines are read.
_DASHES = re.compile(r"\xe2\x88\x92|\xe2\x80[\x92\x93]|\x96")


def typographic_minus(text: str, at: int) -> Fault | None:
    """The fault of a minus from a text program, if one stands at ``at``."""
    if not _DASHES.match(text, at):
        return None
    return Fault("syntax", at + 1, "this is a typographic minus", "write - in its place")


def letter_o(text: str, what: str, column: int) -> Fault:
    """The fault of a letter O in a number, with the word as it was meant."""
    match = re.match(r"[+-]?[\dOo.]*", re.sub(r"[ \t]", "", text[column - 1 :])[1:])
    meant = (text[column - 1] + match[0]).upper().replace("O", "0") if match else ""
    return Fault("number", column, f"the {what} holds the letter O", f"write {meant} with a zero")


def _checked(work: Callable[[], float], column: int, words: str) -> float:
    try:
        result = work()
        if isinstance(result, float) and isfinite(result):
            return result
    except (ValueError, ArithmeticError):
        pass
    raise Fault("math", column, f"{words} has no value", "check the numbers that go into it")


def _operate(name: str, left: float, right: float, column: int) -> float:
    return _checked(lambda: _OPERATIONS[name](left, right), column, f"{left:g} {name} {right:g}")


def _power(left: float, right: float) -> float:
    result = left**right
    return result if isinstance(result, float) else float("nan")  # complex: no real value


def _round(value: float) -> float:
    """To the nearest integer, ties away from zero."""
    whole = float(floor(abs(value) + 0.5)) if abs(value) < 2.0**52 else abs(value)
    return whole if value >= 0.0 else 0.0 - whole


_OPERATIONS: dict[str, Callable[[float, float], float]] = {
    "**": _power,
    "*": lambda left, right: left * right,
    "/": lambda left, right: left / right,
    "MOD": lambda left, right: left % right,
    "+": lambda left, right: left + right,
    "-": lambda left, right: left - right,
    "OR": lambda left, right: 1.0 if left != 0.0 or right != 0.0 else 0.0,
    "XOR": lambda left, right: 1.0 if (left != 0.0) != (right != 0.0) else 0.0,
    "AND": lambda left, right: 1.0 if left != 0.0 and right != 0.0 else 0.0,
}

#: Angles are degrees, going in and coming out.
_FUNCTIONS: dict[str, Callable[[float], float]] = {
    "ABS": abs,
    "ACOS": lambda value: degrees(acos(value)),
    "ASIN": lambda value: degrees(asin(value)),
    "COS": lambda value: cos(radians(value)),
    "EXP": exp,
    "FIX": lambda value: float(floor(value)),
    "FUP": lambda value: float(ceil(value)),
    "LN": log,
    "ROUND": _round,
    "SIN": lambda value: sin(radians(value)),
    "SQRT": square_root,
    "TAN": lambda value: tan(radians(value)),
}
