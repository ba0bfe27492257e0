"""The handbook as the person reads it: a list, a page, an answer, a table of answers."""

import textwrap
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

from kerfwright.jobs.handbook import Answer, Given, is_list
from kerfwright.jobs.handbook_pages import Argument, Page, group_name

WIDTH = 100


def list_words(listed: Sequence[Page]) -> str:
    """Names with what they are, by groups."""
    lines = []
    for module, group in groupby(listed, key=lambda page: page.module):
        lines.append(f"{group_name(module)}:")
        for page in group:
            unit = _unit_words(page)
            lines.extend(_hanging(f"  {page.name}", f"{page.about}{f' [{unit}]' if unit else ''}"))
    lines += [
        "",
        f"{len(listed)} formulas. `kerfwright handbook NAME` explains one, and",
        '`kerfwright handbook NAME argument="value unit" ...` evaluates it.',
    ]
    return "\n".join(lines)


def page_words(page: Page) -> str:
    """One formula explained: what it gives, takes and leaves out, and its source."""
    unit = _unit_words(page)
    lines = [f"{page.name}{f'  [{unit}]' if unit else ''}", *_wrapped(page.about, ""), ""]
    if page.formula != page.about:
        lines += ["Gives", *_wrapped(page.formula, "  ")]
    lines.append("Takes")
    last = ""
    for one in page.arguments:
        words = one.words if one.words != last else "as above"
        last = one.words
        lines.extend(_hanging(f"  {_argument(one)}", words))
    for heading, words in (
        ("Fails", page.fails),
        ("How far it holds", page.validity),
        ("Source", page.source),
    ):
        if words:
            lines += [heading, *_wrapped(words, "  ")]
    if page.examples:
        lines.append("Example")
    for example in page.examples:
        lines += _wrapped(f"kerfwright handbook {page.name} {example.asked}", "  ")
        lines += _wrapped(f"gives {example.result}", "  ")
    return "\n".join(lines)


def answer_words(answer: Answer) -> str:
    """One answer with what went in, or a table where lists went in."""
    rows = [one for one in answer.inputs if is_list(one)]
    lines = [answer.page.name]
    taken = [one for one in answer.inputs if one not in rows]
    lines += [f"  {_taken(one)}" for one in taken]
    lines += _columns(answer, rows) if rows else _results(answer)
    lines += _wrapped(f"Source: {answer.page.source}", "")
    return "\n".join(lines)


def _argument(one: Argument) -> str:
    unit = f" [{one.unit}]" if one.unit else ""
    shape = f" ({' x '.join(one.shape)})" if one.shape else ""
    usual = "" if one.needed else f" = {_number(one.default)}"
    return f"{one.name}{unit}{shape}{usual}"


def _taken(one: Given) -> str:
    usual = "  (usual value)" if one.written is None else ""
    unit = f" {one.argument.unit}" if one.argument.unit else ""
    return f"{one.argument.name} = {_number(one.value)}{unit}{usual}"


def _results(answer: Answer) -> list[str]:
    if isinstance(answer.unit, dict):
        return [f"{name} = {_number(answer.value[name])} {u}" for name, u in answer.unit.items()]
    return [f"= {_number(answer.value)} {answer.unit}".rstrip()]


def _columns(answer: Answer, rows: Sequence[Given]) -> list[str]:
    """One row for each value of the lists."""
    heads = [_head(one.argument.name, one.argument.unit) for one in rows]
    columns = [list(one.value) for one in rows]
    many = len(columns[0])
    if isinstance(answer.unit, dict):
        heads += [_head(name, unit) for name, unit in answer.unit.items()]
        columns += [_long(answer.value[name], many) for name in answer.unit]
    else:
        heads.append(_head("result", answer.unit))
        columns.append(_long(answer.value, many))
    texts = [[head, *map(_number, column)] for head, column in zip(heads, columns, strict=True)]
    widths = [max(map(len, column)) for column in texts]
    return [
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in zip(*texts, strict=True)
    ]


def _long(value: Any, many: int) -> list[Any]:
    return value if isinstance(value, list) and len(value) == many else [value] * many


def _head(name: str, unit: str) -> str:
    return f"{name} [{unit}]" if unit else name


def _number(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):  # a complex number
        return f"{_number(value['real'])} + {_number(value['imaginary'])}i"
    if isinstance(value, (list, tuple)) or hasattr(value, "tolist"):
        plain = value.tolist() if hasattr(value, "tolist") else value
        if not isinstance(plain, list):
            return _number(plain)
        return "[" + ", ".join(map(_number, plain)) + "]"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _unit_words(page: Page) -> str:
    units = dict.fromkeys(unit for _, unit in page.outputs if unit)
    return ", ".join(units)


def _wrapped(words: str, indent: str) -> list[str]:
    return textwrap.wrap(
        words,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _hanging(head: str, words: str) -> Iterable[str]:
    if not words:
        return [head]
    first = f"{head:<34}  "
    return textwrap.wrap(
        words, WIDTH, initial_indent=first, subsequent_indent=" " * 36, break_on_hyphens=False
    )
