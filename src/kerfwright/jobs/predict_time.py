"""Predict how long a program takes, and learn from programs that were timed by the clock."""

from pathlib import Path

from kerfwright.basics import InputError, InputErrors, Place
from kerfwright.basics.progress import Progress, silent
from kerfwright.commission import Fitted, Observed, Prediction, fit_times, read_timed
from kerfwright.commission.prediction import KEPT
from kerfwright.jobs.belongings import clamps_of, machine_of, rack_of, read
from kerfwright.jobs.time_errand import Predicted, TimeErrand
from kerfwright.machine import MachineModel, words_at
from kerfwright.program import Program
from kerfwright.report.time_file import time_text
from kerfwright.report.time_words import time_words
from kerfwright.setup import Setup, load_job
from kerfwright.trajectory import ProgramTime, fastest_s, program_time
from kerfwright.trajectory.sections import by_cutter, by_section
from kerfwright.trajectory.settings import parameter_paths, paths_of
from kerfwright.trajectory.time import beliefs_of
from kerfwright.trajectory.waits import CHANGES, cutter_there

_LEAST_MM = 1e-6  #: no axis can go less
_NO_JERK = (
    "the controller does not limit jerk: if it has such a setting, write it as jerk under"
    ' [controller.x], [controller.y] and [controller.z], be it as wide as "1 to 30 m/s3"; the fit'
    " is misled without it"
)


def predict_time(errand: TimeErrand, *, progress: Progress = silent) -> Predicted:
    """Predict a program's time, in words and as JSON.

    Raises ``KerfwrightError`` for input to mend, ``Stopped`` when asked to stop.
    """
    prediction = predict(errand, progress=progress)
    return Predicted(words=time_words(prediction), json_text=time_text(prediction))


def predict(errand: TimeErrand, *, progress: Progress = silent) -> Prediction:
    """``predict_time``, before it is put into words."""
    progress("reading", 0.0)
    machine, note = machine_of(errand.machine, errand.program, errand.job)
    setup = _setup(errand, machine)
    program = read(errand.program, machine, setup, progress)
    _check_moves(program)
    there = cutter_there(program) if setup is None else setup.in_spindle
    fitted = None if errand.timed is None else fit(errand.timed, machine, progress)
    beliefs = beliefs_of(machine) if fitted is None else fitted.beliefs
    timed = program_time(program, machine, in_spindle=there, beliefs=beliefs, progress=progress)
    before = None
    if fitted is not None:
        before = program_time(program, machine, in_spindle=there, progress=progress).time
    fastest = fastest_s(program, beliefs[0].machine, KEPT, progress, there)
    assumed = [note] if note else []
    if fitted is not None and not any(path in machine.known for path in paths_of("jerk")):
        assumed.append(_NO_JERK)
    if setup is None and there is not None:
        assumed.append(f"the cutter of slot {there} is in the spindle when the program starts")
    return Prediction(
        program_file=program.file,
        program_sha256=program.sha256,
        lines=program.lines,
        moves=program.moves,
        machine=machine.name,
        machine_sha256=machine.sha256,
        timed=timed,
        beliefs=tuple(beliefs),
        sections=by_section(program, timed.trajectory, timed.waiting),
        cutters=by_cutter(program, timed.trajectory, timed.waiting, there),
        cutter_names={} if setup is None else {s: c.name for s, c in setup.slots.items()},
        assumed=(*assumed, *_taken(machine, timed, fitted), *timed.assumed, *program.notes),
        fastest_s=fastest,
        fitted=fitted,
        before=before,
    )


def fit(path: Path, machine: MachineModel, progress: Progress) -> Fitted:
    """Read timed.toml and its programs, and fit the machine to them."""
    entries = read_timed(path)
    observed: list[Observed] = []
    errors: list[InputError] = []
    more = 0
    for number, entry in enumerate(entries):
        progress("reading the timed programs", number / len(entries))
        try:
            program = read(entry.file, machine, None, silent)
            _check_moves(program)
        except InputErrors as error:
            errors += error.errors
            more += error.more
            continue
        except InputError as error:
            errors.append(error)
            continue
        observed.append(
            Observed(
                name=entry.file.name,
                program=program,
                in_spindle=cutter_there(program),
                took_s=entry.took_s,
                u_s=entry.u_s,
                by_hand=not entry.changes_left_out,
            )
        )
    if errors:
        raise InputErrors(errors, more)
    return fit_times(observed, machine, progress)


def _check_moves(program: Program) -> None:
    way = abs(program.end_mm - program.from_mm)
    if not (way > _LEAST_MM).any() and not len(program.arcs.move):
        raise InputError(
            Place(file=program.file),
            "no line of it moves the cutter",
            "check that this is the cutting program, and that it was saved whole",
        )


def _setup(errand: TimeErrand, machine: MachineModel) -> Setup | None:
    job = errand.job
    if job is None:
        beside = errand.program.parent / "job.toml"
        if not beside.is_file():
            return None
        job = beside
    return load_job(
        job, rack_of(errand.program, errand.job), machine, clamps_of(errand.program, errand.job)
    )


def _taken(machine: MachineModel, timed: ProgramTime, fitted: Fitted | None) -> list[str]:
    """What the description took for granted that bears on this time, if the clock did not tell."""
    paths = {one.path for one in timed.waiting if one.path}
    if any(one.name == CHANGES for one in timed.waiting):
        paths.add("controller.cutter_change")
    paths.update(paths_of("rapid"))
    if fitted is None:
        paths.update({"controller.corners", *paths_of("acceleration")})
        paths.update(path for rule in timed.rule_times_s for path in parameter_paths(rule))
    else:
        paths -= {value.path for value in fitted.best.values}
    told = tuple(f"{words_at(path)}: " for path in paths)
    return [words for words in machine.assumed if words.startswith(told)]
