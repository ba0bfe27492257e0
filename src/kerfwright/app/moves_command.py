"""``kerfwright moves``: what a program makes the machine do, line by line."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from kerfwright.app.exits import INPUT_TO_MEND, NOTHING_STOPS_IT
from kerfwright.app.outputs import check_outputs
from kerfwright.app.progress_line import progress_line
from kerfwright.basics import InputErrors
from kerfwright.formats import write_text

if TYPE_CHECKING:
    from kerfwright.jobs.list_moves import Listed

_BY_THE_STANDARD = (
    "This was read by the standard alone; --dialect machine.toml reads it as your machine does."
)


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("moves")(moves)


def moves(
    program: Annotated[Path, typer.Argument(help="The cutting program.")],
    setup: Annotated[
        Path | None, typer.Option(help="How the machine stands before it: a JSON file.")
    ] = None,
    dialect: Annotated[
        Path | None,
        typer.Option(help="Read it as this machine does: machine.toml. Else by the standard."),
    ] = None,
    only_totals: Annotated[bool, typer.Option("--totals", help="Leave the list out.")] = False,
    json: Annotated[
        str | None, typer.Option(help="File for the list; - for standard output.")
    ] = None,
) -> None:
    """List what a program does: moves, arcs, dwells, spindle, cutters, and the sums.

    Exit code 0: it can be read. 2: it cannot, and every fault is told.
    """
    from kerfwright.jobs.list_moves import list_moves, listed_json  # heavy

    check_outputs(json=json)
    with progress_line() as progress:
        listed = list_moves(
            program,
            setup,
            dialect=dialect,
            only_totals=only_totals,
            progress=progress,
        )
    if json == "-":
        sys.stdout.writelines(listed_json(listed, only_totals=only_totals))
    elif json is not None:
        write_text(Path(json), "".join(listed_json(listed, only_totals=only_totals)))
    else:
        _show(listed)
    if listed.errors:
        print(InputErrors(listed.errors, listed.more), file=sys.stderr)
        if dialect is None and listed.program is not None:
            print(_BY_THE_STANDARD, file=sys.stderr)
        raise typer.Exit(INPUT_TO_MEND)
    raise typer.Exit(NOTHING_STOPS_IT)


def _show(listed: "Listed") -> None:
    from kerfwright.program import totals  # heavy

    for motion in listed.motions:
        print(f"{motion['line']:>7}  {_words(motion)}")
    if listed.program is None or listed.errors:
        return
    sums = totals(listed.program)
    print(f"rapid {sums.rapid_mm:.3f} mm, at feed {sums.cut_mm:.3f} mm")
    for low, high, letter in zip(sums.lowest_mm, sums.highest_mm, "XYZ", strict=True):
        print(f"{letter} from {low:.3f} to {high:.3f} mm")
    for note in listed.program.notes:
        print(f"note: {note}")


def _words(motion: dict[str, Any]) -> str:
    """One entry in the words of the shop."""
    kind = motion["type"]
    if kind in ("rapid", "feed", "arc", "probe"):
        to = " ".join(f"{a}{v:.3f}" for a, v in zip("XYZ", motion["to"], strict=True))
        words = f"{kind} to {to}"
        if kind == "arc":
            sense = "clockwise" if motion["dir"] == "cw" else "counter-clockwise"
            words += f", {sense} by {motion['sweep_deg']:.2f}° at radius {motion['radius']:.3f}"
        if "f" in motion:
            words += f", {motion['f']:.6g} mm/min"
        if "time_s" in motion:
            words += f", in {motion['time_s']:.6g} s"
        return words
    if kind == "dwell":
        return f"wait {motion['seconds']:g} s"
    if kind == "tool":
        slot = motion["slot"]
        return f"put in the cutter of slot {slot}" if slot else "leave the spindle empty"
    if kind == "spindle" and "rpm" in motion:
        sense = "clockwise" if motion["state"] == "cw" else "counter-clockwise"
        return f"spindle {sense} at {motion['rpm']:.6g} rev/min"
    if kind == "spindle":
        return "spindle stopped" + (" at its mark" if motion["state"] == "orient" else "")
    if kind == "sync":
        return f"feed and spindle {'tied together' if motion['state'] == 'on' else 'free'}"
    if kind == "stop":
        return {"program": "stop", "optional": "stop, if wanted", "pallet": "change pallets, stop"}[
            motion["kind"]
        ]
    return f"coolant {motion['state']}"
