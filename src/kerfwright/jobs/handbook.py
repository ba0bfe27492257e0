"""Ask the handbook: one formula by name, with units, and where it comes from."""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from difflib import get_close_matches
from inspect import signature
from typing import Any

import numpy as np

from kerfwright.basics import InputError, InputErrors, Place
from kerfwright.basics.unit_expressions import split_suffix
from kerfwright.formats.plain_values import read_complex, read_values
from kerfwright.formats.quantity import QuantityError
from kerfwright.jobs.handbook_pages import Argument, Page, group_name, pages

#: Greatest whole number: more teeth, parts or orders than any formula here is for.
_MOST = 1000
#: Values in a table of rows: some formulas solve a problem that grows with its square.
_MOST_IN_TABLE = 400
_YES = {"yes": True, "true": True, "no": False, "false": False}


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One argument as it went into the formula."""

    argument: Argument
    value: Any
    written: str | None  #: None where it was not given and has its usual value


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a formula gives. ``value`` and ``unit`` are mappings where it gives several."""

    page: Page
    value: Any
    unit: str | dict[str, str]
    inputs: tuple[Given, ...]


def look_up(name: str) -> tuple[Page, ...]:
    """The page of a name, or all pages of a group such as ``screw``.

    Raises
    ------
    InputError
        If there is neither.
    """
    every = pages()
    if name in every:
        return (every[name],)
    group = tuple(page for page in every.values() if group_name(page.module) == name)
    if group:
        return group
    groups = {group_name(page.module) for page in every.values()}
    near = [one for one in every if name and name in one][:5]
    near = near or get_close_matches(name, [*every, *sorted(groups)], n=5, cutoff=0.5)
    guess = f"did you mean {' or '.join(near)}? " if near else ""
    shown = "".join(c if c.isprintable() else " " for c in name[:80])
    raise InputError(
        Place(file="handbook"),
        f'there is no formula "{shown}"',
        f"{guess}`kerfwright handbook` lists them all",
    )


def ask(name: str, texts: Sequence[str]) -> Answer:
    """Evaluate a formula.

    Parameters
    ----------
    name : str
        Of the page.
    texts : sequence of str
        ``argument=value unit`` each.

    Raises
    ------
    InputError, InputErrors
        If the name is unknown; all that is wrong with the arguments; or what the formula refuses.
    """
    found = look_up(name)
    if len(found) > 1 or found[0].name != name:
        raise InputError(
            Place(file="handbook"),
            f"{name} is a group of {len(found)} formulas",
            f"name one of them, such as {found[0].name}",
        )
    page = found[0]
    return evaluate(page, _split(page, texts))


def evaluate(page: Page, texts: Mapping[str, str]) -> Answer:
    """Evaluate a page for arguments as written. Errors as for ``ask``."""
    errors, given = _read_all(page, texts)
    if errors:
        raise errors[0] if len(errors) == 1 else InputErrors(errors)
    try:
        with np.errstate(divide="raise", over="raise", invalid="raise"):
            result = page.function(**_whole(page, given))
    except (ValueError, np.linalg.LinAlgError, ArithmeticError, IndexError, TypeError) as error:
        # The last two: a table of a shape that the formula cannot take.
        raise _refused(page, error) from error
    value, unit = _plain(page, result)
    return Answer(page=page, value=value, unit=unit, inputs=tuple(given))


def _whole(page: Page, given: Sequence[Given]) -> dict[str, Any]:
    """Arguments as the code takes them: parts of a description put together."""
    whole: dict[str, Any] = {}
    for one in given:
        if one.argument.part:
            part = np.asarray(one.value)  # parts are arrays, of no axes where one value is given
            whole.setdefault(one.argument.parameter, {})[one.argument.part] = part
        else:
            whole[one.argument.parameter] = one.value
    kinds = signature(page.function).parameters
    return {
        name: kinds[name].annotation(**value) if isinstance(value, dict) else value
        for name, value in whole.items()
    }


def is_list(one: Given) -> bool:
    """Whether an argument is a list of values, one for each row of a table of answers."""
    plain = one.argument.kind not in ("table", "complex")
    return np.ndim(one.value) == 1 and plain and not one.argument.shape


def answer_json(answer: Answer) -> str:
    """One answer as JSON text."""
    inputs = {
        one.argument.name: {
            "value": _listed(one.value),
            "unit": one.argument.unit,
            "written": one.written,
        }
        for one in answer.inputs
    }
    whole = {
        "name": answer.page.name,
        "value": answer.value,
        "unit": answer.unit,
        "inputs": inputs,
        "source": answer.page.source,
    }
    return json.dumps(whole, allow_nan=False, indent=1)  # 7-bit: any terminal can show it


def pages_json(listed: Sequence[Page]) -> str:
    """Pages as JSON text: what each takes and gives, how far it holds, its source."""
    plain = [
        {
            "name": page.name,
            "about": page.about,
            "unit": _units(page),
            "arguments": [
                {
                    "name": one.name,
                    "unit": one.unit,
                    "kind": one.kind,
                    "needed": one.needed,
                    "default": None if one.needed else _listed(one.default),
                    "words": one.words,
                }
                for one in page.arguments
            ],
            "formula": page.formula,
            "fails": page.fails,
            "validity": page.validity,
            "source": page.source,
            "examples": [f"{one.asked} -> {one.result}" for one in page.examples],
        }
        for page in listed
    ]
    return json.dumps({"formulas": plain}, allow_nan=False, indent=1)


def _split(page: Page, texts: Sequence[str]) -> dict[str, str]:
    given: dict[str, str] = {}
    errors = []
    for text in texts:
        name, equals, value = text.partition("=")
        name = name.strip().replace("-", "_")
        if not equals:
            errors.append(_wrong(text[:60], "this is no argument", _how(page.arguments)))
        elif name in given:
            errors.append(_wrong(name, "it is given twice", "leave one of them out"))
        else:
            given[name] = value
    if errors:
        raise errors[0] if len(errors) == 1 else InputErrors(errors)
    return given


def _read_all(page: Page, texts: Mapping[str, str]) -> tuple[list[InputError], list[Given]]:
    """Every argument as a number, and all that is wrong."""
    errors = _unknown(page, texts)
    given = []
    for argument in page.arguments:
        text = texts.get(argument.name)
        if text is None:
            if argument.needed:
                errors.append(
                    _wrong(page.name, f"{argument.name} is missing", f"add {_sample(argument)}")
                )
            else:
                given.append(Given(argument=argument, value=argument.default, written=None))
            continue
        try:
            given.append(Given(argument=argument, value=_value(argument, text), written=text))
        except QuantityError as error:
            errors.append(_wrong(f'{argument.name}="{text[:60]}"', error.problem, error.remedy))
    lengths = {one.argument.name: len(one.value) for one in given if is_list(one)}
    if len(set(lengths.values())) > 1:
        counts = ", ".join(f"{name} {count}" for name, count in lengths.items())
        remedy = "give lists of one length: they are taken row by row"
        errors.append(_wrong(page.name, f"lists of different lengths: {counts}", remedy))
    return errors, given


def _unknown(page: Page, texts: Mapping[str, str]) -> list[InputError]:
    names = [one.name for one in page.arguments]
    errors = []
    for name in texts:
        if name in names:
            continue
        near = get_close_matches(name, names, n=1, cutoff=0.4)
        guess = f"did you mean {near[0]}? " if near else ""
        shown = "".join(c if c.isprintable() else " " for c in name[:60])
        errors.append(
            _wrong(page.name, f'it takes no "{shown}"', guess + "it takes " + ", ".join(names))
        )
    return errors


def _value(argument: Argument, text: str) -> Any:
    """The value of one argument, from its text."""
    if argument.kind == "yes or no":
        if text.strip().lower() not in _YES:
            raise QuantityError(
                f'"{text[:60]}" is neither yes nor no', f"write {argument.name}=yes"
            )
        return _YES[text.strip().lower()]
    if argument.kind == "word":
        if argument.choices and text.strip() not in argument.choices:
            raise QuantityError(
                f'"{text[:60]}" is none of its words', "write one of " + ", ".join(argument.choices)
            )
        return text.strip()
    if argument.kind == "complex":
        return read_complex(text, argument.unit, _sample(argument))
    value = read_values(text, argument.unit, _sample(argument))
    if argument.kind == "whole number":
        if np.ndim(value) or value != np.floor(value) or not 0 <= value <= _MOST:
            raise QuantityError(
                f'"{text[:60]}" is no whole number from 0 to {_MOST}', f"write {_sample(argument)}"
            )
        return int(value)
    if argument.kind == "one value" and np.ndim(value):
        raise QuantityError("a list, but this takes one value", f"write {_sample(argument)}")
    if argument.shape:
        return _shaped(argument, np.atleast_1d(value))
    if argument.kind != "table" and np.ndim(value) > 1:
        raise QuantityError("a table, but this takes a value or a list", _sample(argument))
    return value


def _shaped(argument: Argument, value: Any) -> Any:
    """A table, if it has the shape that the formula wants."""
    wanted = argument.shape
    if value.ndim > 1 and value.size > _MOST_IN_TABLE:
        raise QuantityError(
            f"{value.size} values are too many for a table", f"give {_MOST_IN_TABLE} at most"
        )
    got = value.shape[-len(wanted) :]
    fits = len(got) == len(wanted) == value.ndim and all(
        not size.isdigit() or int(size) == many for size, many in zip(wanted, got, strict=True)
    )
    if not fits:
        shape = " by ".join(wanted)
        raise QuantityError(
            f"{' by '.join(map(str, value.shape))} values where it takes {shape}",
            f'write {shape} values in brackets, like {argument.name}="{_table(wanted)}"',
        )
    return value


def _table(sizes: Sequence[str]) -> str:
    if not sizes:
        return "1"
    many = min(int(sizes[0]), 3) if sizes[0].isdigit() else 3
    return "[" + ", ".join([_table(sizes[1:])] * many) + "]"


def _sample(argument: Argument) -> str:
    """How to write an argument."""
    if argument.kind == "yes or no":
        return f"{argument.name}=yes"
    if argument.kind == "word":
        return f"{argument.name}={argument.choices[0] if argument.choices else 'WORD'}"
    if argument.kind == "complex":
        return f'{argument.name}="[3+2i] {argument.unit}"'.replace(' "', '"')
    number = "3" if argument.kind == "whole number" else "25"
    value = _table(argument.shape) if argument.shape else (number if argument.unit else "0.15")
    if argument.kind == "whole number":
        value = number
    return (
        f'{argument.name}="{value} {argument.unit}"'
        if argument.unit
        else (f'{argument.name}="{value}"' if argument.shape else f"{argument.name}={value}")
    )


def _how(arguments: Sequence[Argument]) -> str:
    return f"write {_sample(arguments[0])}" if arguments else "leave it out"


def _wrong(place: str, problem: str, remedy: str) -> InputError:
    shown = "".join(c if c.isprintable() else " " for c in place)
    return InputError(Place(file=shown), problem, remedy)


def _refused(page: Page, error: Exception) -> InputError:
    """What a formula will not take, in the names that the person wrote."""
    if isinstance(error, ValueError) and not isinstance(error, np.linalg.LinAlgError):
        words = str(error)
        for one in page.arguments:
            words = re.sub(rf"\b{re.escape(one.part or one.parameter)}\b", one.name, words)
    elif isinstance(error, (IndexError, TypeError)):
        words = "a table has the wrong shape"
    else:
        words = "these values give no number"
    fails = f"it fails {page.fails[0].lower()}{page.fails[1:]} " if page.fails else ""
    return InputError(
        Place(file=page.name),
        words,
        f"change the values; {fails}`kerfwright handbook {page.name}` says what it needs",
    )


def _plain(page: Page, result: Any) -> tuple[Any, str | dict[str, str]]:
    """A result as plain values with units."""
    if is_dataclass(result):
        names = [one.name for one in fields(result)]
        parts = [split_suffix(name) for name in names]
        values = [getattr(result, name) for name in names]
    elif isinstance(result, tuple):
        parts, values = list(page.outputs), list(result)
    else:
        return _listed(result), page.outputs[0][1]
    value = {name: _listed(one) for (name, _), one in zip(parts, values, strict=True)}
    return value, dict(parts)


def _units(page: Page) -> str | dict[str, str]:
    return page.outputs[0][1] if len(page.outputs) == 1 else dict(page.outputs)


def _listed(value: Any) -> Any:
    """Arrays as lists; what has no number in words; complex numbers by their parts."""
    if isinstance(value, (list, tuple)):
        return [_listed(one) for one in value]
    if isinstance(value, np.ndarray):
        return _listed(value.tolist())
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, complex):
        return {"real": _listed(value.real), "imaginary": _listed(value.imag)}
    if isinstance(value, float) and not np.isfinite(value):
        return "none" if np.isnan(value) else ("infinite" if value > 0 else "minus infinite")
    return value
