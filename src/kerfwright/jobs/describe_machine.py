"""Describe one machine: read its file, work out what it can do, write its card and picture."""

from pathlib import Path

import numpy as np

from kerfwright.basics.progress import Progress, silent
from kerfwright.formats import write_text
from kerfwright.jobs.machine_errand import Described, MachineErrand
from kerfwright.machine import (
    MachineModel,
    NoseGive,
    frame_modes,
    load_machine,
    machine_results,
    nose_give,
    swept_give,
)
from kerfwright.report.give_file import give_rows
from kerfwright.report.machine_card import card_words
from kerfwright.report.machine_file import card_text
from kerfwright.report.machine_picture import draw_machine
from kerfwright.report.swing_picture import Sweep, draw_swings
from kerfwright.workshop import demo_folder

DEMO = "demo"
#: A sweep goes so far beyond the last mode that is drawn.
_BEYOND = 1.8


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
    give = None if errand.grid is None else _give(machine, errand.grid)
    modes = frame_modes(machine)
    described = Described(
        words=card_words(machine, results, modes),
        json_text=card_text(machine, results, modes, give),
        files=(),
    )
    if errand.out is None:
        return described
    progress("drawing", 0.0)
    names = ("machine.txt", "machine.json", "machine.png", "swings.png")
    files = tuple(errand.out / name for name in names)
    write_text(files[0], described.words)
    write_text(files[1], described.json_text + "\n")
    draw_machine(machine, results, files[2])
    hertz = np.linspace(0.0, _BEYOND * modes[-1].hertz, 600)
    sweep = Sweep(hertz=hertz, mm_per_n=swept_give(machine, hertz))
    draw_swings(machine, modes, sweep, files[3])
    if give is not None:
        files = (*files, errand.out / "give.csv")
        write_text(files[-1], give_rows(give))
    return Described(words=described.words, json_text=described.json_text, files=files)


def _give(machine: MachineModel, grid: tuple[int, int, int]) -> NoseGive:
    """Evenly over the reach; one place is the middle of it, and of Z the lowest."""
    lowest = machine.nose_height_mm - machine.z.travel_mm
    x, y = (
        np.linspace(0.0, axis.travel_mm, count) if count > 1 else np.array([axis.travel_mm / 2.0])
        for axis, count in zip((machine.x, machine.y), grid, strict=False)
    )
    return nose_give(machine, x, y, np.linspace(lowest, machine.nose_height_mm, grid[2]))
