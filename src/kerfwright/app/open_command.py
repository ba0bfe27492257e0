"""``kerfwright open``, and ``kerfwright`` with nothing behind it: the local page."""

from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.prove_command import threads


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("open")(open_page)


def open_page(
    folder: Annotated[
        Path | None, typer.Argument(help="Your workshop's folder; the demo's when left out.")
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in your browser.")
    ] = True,
    port: Annotated[
        int | None, typer.Option(min=1, max=65535, help="Port; a free one when left out.")
    ] = None,
    lan: Annotated[
        bool,
        typer.Option(
            "--lan", help="Let one other device on this network in, by a code that is used once."
        ),
    ] = False,
) -> None:
    """Open the page of a workshop; without one that of the invented demo, in a copy of your own."""
    from kerfwright.app.page.own_demo import EXAMPLE, own_demo  # heavy
    from kerfwright.app.page.serve import serve
    from kerfwright.workshop import open_workshop

    workshop = own_demo() if folder is None else open_workshop(folder.absolute())
    example = EXAMPLE if folder is None else None
    serve(workshop, example=example, port=port, browser=browser, lan=lan, threads=threads())
