"""``kerfwright handbook``: the formulas that everything here rests on, asked one by one."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.outputs import check_outputs


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("handbook")(handbook)


def handbook(
    name: Annotated[
        str | None, typer.Argument(help="Of a formula, or of a group such as: screw")
    ] = None,
    values: Annotated[
        list[str] | None,
        typer.Argument(help='What it takes: argument="value unit"; lists give a table.'),
    ] = None,
    json: Annotated[
        str | None, typer.Option(help="File for the answer as JSON; - for standard output.")
    ] = None,
) -> None:
    """List, explain or evaluate a formula of the handbook, with units and its source.

    Exit code 0, or 2 for input to mend.
    """
    from kerfwright.formats import write_text
    from kerfwright.jobs.handbook import answer_json, ask, look_up, pages_json
    from kerfwright.jobs.handbook_pages import pages
    from kerfwright.jobs.handbook_words import answer_words, list_words, page_words

    check_outputs(json=json)
    if name is not None and values:
        answer = ask(name, values)
        text, words = answer_json(answer), answer_words(answer)
    else:
        listed = tuple(pages().values()) if name is None else look_up(name)
        text = pages_json(listed)
        alone = len(listed) == 1 and listed[0].name == name
        words = page_words(listed[0]) if alone else list_words(listed)
    if json == "-":
        sys.stdout.write(text + "\n")
        return
    print(words)
    if json is not None:
        write_text(Path(json), text + "\n")
        print(f"Written: {json}")
