"""Stall tests: which runs to make, and what they say of the speeds at which motors swing."""

from dataclasses import replace
from pathlib import Path

from kerfwright.basics import InputError, Place
from kerfwright.basics.progress import Progress, silent
from kerfwright.commission import SwingBand, fit_band, read_stalls
from kerfwright.formats import TomlFile, read_toml
from kerfwright.jobs.describe_machine import DEMO
from kerfwright.jobs.stall_errand import StallErrand, StallsTold
from kerfwright.machine import UNKNOWN, Change, MachineModel, answered, crowd_of
from kerfwright.machine.entries import AXES, SWINGS
from kerfwright.report.stall_form import form_text, runs_to_make
from kerfwright.report.stall_words import REF, band_changes, runs_words, stalls_text, stalls_words
from kerfwright.workshop import demo_folder

_CROWD = 100


def fit_stalls(errand: StallErrand, *, progress: Progress = silent) -> StallsTold:
    """Say which runs to make, or find from them where the motors swing.

    Raises ``KerfwrightError`` for input to mend, ``Stopped`` when asked to stop.
    """
    progress("reading", 0.0)
    if errand.keep and errand.machine == DEMO:
        raise InputError(
            Place(file="--keep"),
            "the demo's machine cannot be changed",
            "name your own machine.toml, or leave --keep out",
        )
    path = demo_folder() / "machine.toml" if errand.machine == DEMO else Path(errand.machine)
    toml = read_toml(path)
    machine = untested(toml)
    if errand.tests is None:
        plan = runs_to_make(machine)
        return StallsTold(words=runs_words(machine, plan), json_text="", form=form_text(plan))
    bands = find_bands(errand.tests, machine, errand.seed, progress)
    changes = band_changes(bands, errand.tests.name)
    text = answered(toml.text, changes, toml.file)[0] if errand.keep and changes else ""
    return StallsTold(
        words=stalls_words(machine, bands, changes),
        json_text=stalls_text(machine, bands, changes),
        machine_text=text,
    )


def find_bands(
    tests: Path, machine: MachineModel, seed: int, progress: Progress
) -> tuple[SwingBand, ...]:
    """What the runs of each axis that was tried say."""
    stalls = read_stalls(tests)
    crowd = crowd_of(machine, seed, _CROWD, lambda done: progress("trying the spreads", done))
    out = []
    for axis in dict.fromkeys(run.axis for run in stalls.runs):
        mine = [run for run in stalls.runs if run.axis == axis]
        stage = f"finding where {axis.upper()} swings"
        band = fit_band(axis, mine, machine, crowd, stalls.acceleration_mm_per_s2, seed,
                        lambda done, stage=stage: progress(stage, done))  # type: ignore[misc]  # fmt: skip
        out.append(band)
    return tuple(out)


def untested(toml: TomlFile) -> MachineModel:
    """The machine without what earlier stall tests said, so that no run counts twice."""
    machine = answered(toml.text, (), toml.file)[1]
    keys = [f"axes.{axis}.motor.{key}" for axis in AXES for key in SWINGS]
    tested = [
        path
        for axis in AXES
        if machine.known[path := f"axes.{axis}.motor.pull_share"].ref.startswith(REF)
    ]
    changes = [Change(path=path, typed=UNKNOWN) for path in keys + tested if path in machine.known]
    if not changes:
        return machine
    return replace(answered(toml.text, changes, toml.file)[1], sha256=machine.sha256)
