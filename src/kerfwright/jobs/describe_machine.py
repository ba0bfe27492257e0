"""Describe one machine: read its file, work out what it can do, write its card and picture."""

from pathlib import Path

from kerfwright.basics.progress import Progress, silent
from kerfwright.formats import write_text
from kerfwright.jobs.machine_errand import Described, MachineErrand
from kerfwright.machine import load_machine, machine_results
from kerfwright.report.machine_card import card_words
from kerfwright.report.machine_file import card_text
from kerfwright.report.machine_picture import draw_machine
from kerfwright.workshop import demo_folder

DEMO = "demo"


def describe_machine(errand: MachineErrand, *, progress: Progress = silent) -> Described:
    """Work out a machine's card and write it.

    Raises ``KerfwrightError`` for input to mend, ``Stopped`` when asked to stop.
    """
    progress("reading", 0.0)
    path = demo_folder() / "machine.toml" if errand.machine == DEMO else Path(errand.machine)
    machine = load_machine(path)
    results = machine_results(
        machine, errand.seed, errand.draws, lambda done: progress("trying the spreads", done)
    )
    described = Described(
        words=card_words(machine, results), json_text=card_text(machine, results), files=()
    )
    if errand.out is None:
        return described
    progress("drawing", 0.0)
    files = tuple(errand.out / name for name in ("machine.txt", "machine.json", "machine.png"))
    write_text(files[0], described.words)
    write_text(files[1], described.json_text + "\n")
    draw_machine(machine, results, files[2])
    return Described(words=described.words, json_text=described.json_text, files=files)
