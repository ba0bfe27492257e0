"""What belongs to a program: the machine, the rack, and how they have it read."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from kerfwright.basics import InputErrors
from kerfwright.basics.progress import Progress
from kerfwright.cutter import Cutter, load_cutters
from kerfwright.fixture import Bed, ClampShape, load_bed, load_clamps
from kerfwright.fixture.read_bed import NAME as BED
from kerfwright.jobs.prove_errand import DEMO
from kerfwright.jobs.reading import examine_on
from kerfwright.machine import MachineModel, load_machine
from kerfwright.program import Program, StartState, load_text
from kerfwright.setup import Setup
from kerfwright.workshop import demo_folder


def machine_of(said: str | None, program: Path, job: Path | None) -> tuple[MachineModel, str]:
    """The machine named, or that of the workshop around, or the demo's; and what to say of it."""
    if said is not None and said != DEMO:
        return load_machine(Path(said)), ""
    around = beside(program, job, "machine.toml") if said is None else None
    if around is not None:
        return load_machine(around), ""
    model = load_machine(demo_folder() / "machine.toml")
    if said == DEMO:
        return model, ""
    return model, (
        f"no machine was named: {model.name} is taken, which is invented; name yours with"
        " --machine machine.toml"
    )


def beside(program: Path, job: Path | None, name: str) -> Path | None:
    """A file of the workshop that the job or program lies in: beside it, or two folders up."""
    start = (job or program).absolute().parent
    for folder in (start, start.parent.parent):
        if (folder / name).is_file():
            return folder / name
    return None


def rack_of(program: Path, job: Path | None) -> Mapping[str, Cutter]:
    """The cutters of the workshop around."""
    rack = beside(program, job, "cutters.toml")
    return load_cutters(rack) if rack is not None else {}


def clamps_of(program: Path, job: Path | None) -> Mapping[str, ClampShape]:
    """The clamps of the workshop around."""
    shop = beside(program, job, "clamps.toml")
    return load_clamps(shop) if shop is not None else {}


def bed_of(program: Path, job: Path | None) -> Bed | None:
    """What lies under the work in the workshop around, if that is described."""
    bed = beside(program, job, BED)
    return load_bed(bed) if bed is not None else None


def on_bed(machine: MachineModel, bed: Bed | None) -> MachineModel:
    """The machine with its spoil board as thick as it is today."""
    if bed is None or bed.spoil_board is None:
        return machine
    return replace(machine, spoil_board_mm=bed.spoil_board.thickness_mm.value)


def start_of(machine: MachineModel, setup: Setup | None) -> StartState:
    """How the machine stands before a program; without a set-up as little as is known."""
    if setup is None:
        return StartState()
    longest = max((c.stick_out_mm for c in setup.slots.values()), default=0.0)
    zero = [b + z for b, z in zip(setup.board_at_mm, setup.zero_on_board_mm, strict=True)]
    # The machine's own Z is 0 with the nose at its highest, X and Y at the lower end of the travel.
    return StartState(
        zero_at_mm=(zero[0], zero[1], zero[2] + longest - machine.nose_height_mm),
        diameter_mm={slot: cutter.diameter_mm for slot, cutter in setup.slots.items()},
        # Moves before the first change are cut with this one, so G41 and G42 keep its distance.
        slot_in_spindle=setup.in_spindle or 0,
    )


def read(path: Path, machine: MachineModel, setup: Setup | None, progress: Progress) -> Program:
    """Read a program as this machine's controller does."""
    text = load_text(path, progress)
    reading = examine_on(machine, text, str(path), start_of(machine, setup), progress)
    if reading.errors:
        question = reading.errors[0]
        raise question if question.kind == "units" else InputErrors(reading.errors, reading.more)
    return reading.program
