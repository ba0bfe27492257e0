"""What a proof begins with, read from files: the program, its set-up, the machine.

Whatever there is to mend shows here, before all that proves is loaded.
"""

from dataclasses import dataclass, replace

from kerfwright.basics import InputError, Place
from kerfwright.basics.progress import Progress, silent
from kerfwright.cutter import read_slot
from kerfwright.jobs.belongings import bed_of, clamps_of, machine_of, on_bed, rack_of, read
from kerfwright.jobs.kept_board import check_keeps
from kerfwright.jobs.prove_errand import Errand
from kerfwright.kernels.cache_folder import is_prepared
from kerfwright.machine import MachineModel
from kerfwright.program import Program
from kerfwright.setup import Setup, load_job, setup_from_words


@dataclass(frozen=True, slots=True, kw_only=True)
class ToProve:
    """A program as its machine reads it, with what belongs to it."""

    program: Program
    setup: Setup
    machine: MachineModel


def read_for_proof(errand: Errand, *, progress: Progress = silent) -> ToProve:
    """Find what belongs to a program and read it all.

    Raises ``KerfwrightError`` for input to mend, ``Stopped`` when asked to stop.
    """
    progress("reading", 0.0)
    if errand.keep_board:
        check_keeps(errand.program)
    machine, machine_note = machine_of(errand.machine, errand.program, errand.job)
    bed = bed_of(errand.program, errand.job)
    machine = on_bed(machine, bed)
    setup = replace(_setup(errand, machine), bed=bed)
    if machine_note:
        setup = replace(setup, assumed=(machine_note, *setup.assumed))
    if not is_prepared():
        from kerfwright.jobs.prepare import prepare  # which loads all that proves

        prepare(progress=progress)
    if _undercut(setup) and not is_prepared(undercuts=True):
        from kerfwright.jobs.prepare import prepare_undercuts

        prepare_undercuts(progress=progress)
    program = read(errand.program, machine, setup, progress)
    return ToProve(program=program, setup=setup, machine=machine)


def _undercut(setup: Setup) -> bool:
    """Whether wood may come to stand over a hollow, or does so from the start."""
    start = setup.board.start
    cutters = setup.slots.values()
    return any(cutter.undercuts for cutter in cutters) or (start is not None and start.undercut)


def _setup(errand: Errand, machine: MachineModel) -> Setup:
    if errand.job is not None and errand.stock is not None:
        raise InputError(
            Place(file="--stock"),
            "the job file says what board it is, and so does --stock",
            "leave one of the two out",
        )
    if errand.stock is not None:
        setup = setup_from_words(errand.stock, errand.cutters, machine)
        return replace(setup, rack=rack_of(errand.program, errand.job))
    job = errand.job or errand.program.parent / "job.toml"
    if errand.job is None and not job.is_file():
        raise InputError(
            Place(file=str(errand.program)),
            "nothing says which board this is cut from",
            'add  --stock "310 x 310 x 30 mm hard maple"  or  --job job.toml',
        )
    rack = rack_of(errand.program, errand.job)
    setup = load_job(job, rack, machine, clamps_of(errand.program, errand.job))
    setup = replace(setup, rack=rack)
    if errand.cutters:
        slots = dict(setup.slots) | dict(read_slot(text) for text in errand.cutters)
        setup = replace(setup, slots=slots)
    return setup
