"""The handbook's pages, read from the formulas themselves: signature and docstring, nothing else.

A page's name is that of the module, each word without its plural s (``teeth`` is ``tooth``), and
that of the function without its unit, with hyphens: ``screws.raising_torque_nmm`` is
``screw-raising-torque``. A function that begins with the module's word does not repeat it:
``inertia.inertia_torque_nmm`` is ``inertia-torque``. An argument has its own name without the unit.
"""

import importlib
import inspect
import pkgutil
import re
import shlex
from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from functools import cache
from types import ModuleType
from typing import Any, Final, Literal, get_args

import numpy as np

from kerfwright.basics.unit_expressions import split_suffix

#: How formulas take numbers and refuse them: no formulas in there.
NO_FORMULAS: Final = frozenset({"domain"})
_UNEVEN_PLURALS: Final = {"teeth": "tooth"}

Kind = Literal["values", "one value", "table", "complex", "whole number", "yes or no", "word"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Argument:
    """What a formula takes."""

    name: str  #: without its unit; of a part of a description ``errors.along``
    parameter: str  #: as in the code
    part: str  #: of that description, as in the code; else empty
    unit: str  #: as printed; empty for a pure number
    kind: Kind
    shape: tuple[str, ...]  #: of a table: sizes, or letters where any size will do
    choices: tuple[str, ...]  #: of a word
    default: Any  #: ``inspect.Parameter.empty`` where it must be given
    words: str

    @property
    def needed(self) -> bool:
        """Whether it has no default."""
        return self.default is inspect.Parameter.empty


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """A line of the Examples section: what is asked, and what comes out to the digits printed."""

    given: Mapping[str, str]
    asked: str  #: as written
    result: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One formula."""

    name: str
    module: str
    function: Callable[..., Any]
    unit: str
    about: str
    arguments: tuple[Argument, ...]
    outputs: tuple[tuple[str, str], ...]  #: name and unit of each result; one without a name: alone
    formula: str
    fails: str
    validity: str
    source: str
    examples: tuple[Example, ...]


@cache
def pages() -> Mapping[str, Page]:
    """Every public formula of ``kerfwright.physics``, by name, in order of modules and names."""
    import kerfwright.physics

    found: dict[str, Page] = {}
    for info in pkgutil.iter_modules(kerfwright.physics.__path__):
        if info.name in NO_FORMULAS or info.name.startswith("_"):
            continue
        module = importlib.import_module(f"kerfwright.physics.{info.name}")
        for name, function in vars(module).items():
            if _is_formula(module, name, function):
                page = _page(info.name, function)
                found[page.name] = page
    return dict(sorted(found.items(), key=lambda item: (item[1].module, item[0])))


def group_name(module: str) -> str:
    """The first part of the names of a module's pages: ``belts`` is ``belt``."""
    words = (_UNEVEN_PLURALS.get(word, _without_s(word)) for word in module.split("_"))
    return "-".join(words)


def page_name(module: str, base: str) -> str:
    """The name of a formula, from its module's and its function's without the unit."""
    group, own = group_name(module), base.replace("_", "-")
    return own if own.startswith(f"{group}-") else f"{group}-{own}"


def _without_s(word: str) -> str:
    return word[:-1] if word.endswith("s") and not word.endswith(("ss", "is", "us")) else word


def _is_formula(module: ModuleType, name: str, function: object) -> bool:
    return (
        inspect.isfunction(function)
        and not name.startswith("_")
        and function.__module__ == module.__name__
    )


def _page(module: str, function: Callable[..., Any]) -> Page:
    base, unit = split_suffix(function.__name__)
    parts = _sections(inspect.getdoc(function) or "")
    outputs, formula = _returns(parts.get("Returns", ""), unit)
    about = _joined(re.sub(r"\s*\[[^\]]*\]\s*$", "", parts[""].partition("\n\n")[0]))
    more = _joined(parts[""].partition("\n\n")[2])
    return Page(
        name=page_name(module, base),
        module=module,
        function=function,
        unit=unit,
        about=about,
        arguments=_arguments(function, parts.get("Parameters", "")),
        outputs=outputs,
        formula=formula or about,
        fails=_joined(re.sub(r"^ValueError\n", "", parts.get("Raises", ""))),
        validity=" ".join(part for part in (more, _joined(parts.get("Notes", ""))) if part),
        source=_joined(re.sub(r"^\.\. \[\d+\]\s*", "", parts.get("References", ""), flags=re.M)),
        examples=_examples(parts.get("Examples", "")),
    )


def _sections(text: str) -> dict[str, str]:
    """A numpy-style docstring by its headings; what stands before the first under ``""``."""
    parts: dict[str, list[str]] = {"": []}
    lines = text.splitlines()
    heading, skip = "", False
    for line, below in zip(lines, [*lines[1:], ""], strict=True):
        if skip:
            skip = False
        elif line and re.fullmatch(r"-{3,}", below.strip()) and not line.startswith(" "):
            heading, skip = line.strip(), True
            parts[heading] = []
        else:
            parts[heading].append(line)
    return {name: "\n".join(body).strip("\n") for name, body in parts.items()}


def _entries(text: str) -> list[tuple[str, str]]:
    """Head and body of each entry of a section."""
    found: list[tuple[str, list[str]]] = []
    for line in text.splitlines():
        if found and found[-1][0].count("{") > found[-1][0].count("}"):  # choices on two lines
            found[-1] = (f"{found[-1][0]} {line.strip()}", [])
        elif line and not line.startswith(" "):
            found.append((line.strip(), []))
        elif found:
            found[-1][1].append(line.strip())
    return [(head, _joined(" ".join(body))) for head, body in found]


def _joined(text: str) -> str:
    return " ".join(text.replace("``", "").split())


def _arguments(function: Callable[..., Any], text: str) -> tuple[Argument, ...]:
    told: dict[str, tuple[str, str]] = {}
    for head, body in _entries(text):
        names, _, kind = head.partition(" : ")
        told.update({name.strip(): (kind, body) for name in names.split(",")})
    found: list[Argument] = []
    for one in inspect.signature(function).parameters.values():
        if is_dataclass(one.annotation) and all(
            _kind(part.type) in ("values", "one value", "complex")
            for part in fields(one.annotation)
        ):
            words = told.get(one.name, ("", ""))[1]
            found += [_part(one.name, part, words) for part in fields(one.annotation)]
        else:
            found.append(_argument(one, *told.get(one.name, ("", ""))))
    return tuple(found)


def _part(parameter: str, part: "Field[Any]", words: str) -> Argument:
    """One field of a description that is all numbers."""
    name, unit = split_suffix(part.name)
    return Argument(
        name=f"{parameter}.{name}",
        parameter=parameter,
        part=part.name,
        unit=unit,
        kind="complex" if _kind(part.type) == "complex" else "table",
        shape=(),
        choices=(),
        default=inspect.Parameter.empty if part.default is MISSING else part.default,
        words=words,
    )


def _argument(parameter: inspect.Parameter, type_words: str, words: str) -> Argument:
    name, unit = split_suffix(parameter.name)
    shape = re.search(r"array \(([^)]*)\)", type_words)
    sizes = [size.strip() for size in shape[1].split(",")] if shape else []
    return Argument(
        name=name,
        parameter=parameter.name,
        part="",
        unit=unit,
        kind=_kind(parameter.annotation),
        shape=tuple(size for size in sizes if size and size != "..."),
        choices=tuple(re.findall(r'"([^"]+)"', type_words)),
        default=parameter.default,
        words=re.sub(r"\s*\[[^\]]*\]\s*$", "", words),
    )


def _kind(annotation: Any) -> Kind:
    kinds: dict[Any, Kind] = {
        bool: "yes or no",
        int: "whole number",
        str: "word",
        float: "one value",
    }
    if annotation in kinds:
        return kinds[annotation]
    if any(np.complex128 in get_args(one) for one in get_args(annotation)):
        return "complex"
    return "values"


def _returns(text: str, unit: str) -> tuple[tuple[tuple[str, str], ...], str]:
    """Names and units of the results, and what is said of them."""
    entries = _entries(text)
    named = [(head.partition(" : ")[0], body) for head, body in entries if " : " in head]
    outputs = [split_suffix(name.strip()) for names, _ in named for name in names.split(",")]
    words = " ".join(body for _, body in entries)
    return tuple(outputs) or (("", unit),), re.sub(r"\s*\[[^\]]*\]\s*$", "", words)


def _examples(text: str) -> tuple[Example, ...]:
    """Lines ``argument="value unit" ... -> result``, which may run over several lines."""
    whole: list[str] = []
    for line in text.splitlines():
        if not whole or ("->" in whole[-1] and re.match(r"\w+=", line)):
            whole.append(line)
        else:
            whole[-1] += f" {line.strip()}"
    found = []
    for one in whole:
        ask, _, result = one.partition("->")
        words = (word.partition("=") for word in shlex.split(ask))
        given = {name: value for name, _, value in words}
        found.append(Example(given=given, asked=_joined(ask), result=_joined(result)))
    return tuple(found)
