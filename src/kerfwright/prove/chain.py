"""Program, set-up and machine in; a proof out. Each link takes finished things and returns one."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.basics import Finding, KerfwrightError
from kerfwright.basics.memory import give_back
from kerfwright.basics.progress import Progress, silent
from kerfwright.cutter import ChipRange
from kerfwright.machine import MachineModel
from kerfwright.program import Program
from kerfwright.program.totals import totals
from kerfwright.prove.as_cut import Map, error_map
from kerfwright.prove.aside import Aside, result_of
from kerfwright.prove.bed import deepest_mm
from kerfwright.prove.cells import Cells, cells_for
from kerfwright.prove.chip import usual_chips
from kerfwright.prove.cusps import cusps
from kerfwright.prove.cut import Arrays, Cut, Keep, arrays_of, cut_from
from kerfwright.prove.facts import Facts
from kerfwright.prove.judging import Answers, judge, judge_part, judge_sides
from kerfwright.prove.margins import Machines
from kerfwright.prove.proof import Groups, Proof, Series, Workings
from kerfwright.prove.run_path import AsRun, cut_as_run
from kerfwright.prove.series import groups_of, series_of
from kerfwright.prove.sweep import sweep, tooling
from kerfwright.prove.telling import verdict_of
from kerfwright.prove.verdict import AsCut, Provenance, Verdict
from kerfwright.setup import Setup
from kerfwright.trajectory import StandsStill, Trajectory, plan, program_time
from kerfwright.trajectory.time import Belief

MOST_METRES = 20_000.0


class NothingMoves(KerfwrightError):
    """A program without a move of any length."""

    def __str__(self) -> str:
        return (
            f"{self.args[0]}: no line of it moves the cutter\n"
            "  remedy: check that this is the cutting program, and that it was saved whole"
        )


class TooLong(KerfwrightError):
    """More path than memory can hold the loads of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Hashes that the verdict prints."""

    version: str
    code_sha256: str
    tables_sha256: str


def prove(
    program: Program,
    setup: Setup,
    machine: MachineModel,
    origin: Origin,
    cell_mm: float | None = None,
    threads: int = 2,
    progress: Progress = silent,
    keep: Keep | None = None,
    keep_board: bool = False,
    keep_workings: bool = False,
    beliefs: Sequence[Belief] | None = None,
) -> Proof:
    """Prove a program.

    Parameters
    ----------
    cell_mm : side of the field's cells; None: as ``cells_for`` chooses. [mm]
    threads : how many threads share the tiles; the result is the same at any number.
    keep : where the two passes of the very same proof were kept, or will be.
    keep_board : whether the proof carries the board as the program leaves it.
    beliefs : what is open about the motion, the first one's machine being ``machine``; as the
        description leaves it when not given.
    keep_workings : whether it carries the trajectory and the first pass.

    Raises
    ------
    NothingMoves, TooManyCells
        When there is nothing to prove, or the cells are out of bounds.
    """
    kept = keep.get() if keep is not None else None
    before = cut_from(kept, setup.board) if kept is not None else None
    with Aside() as aside:  # what needs nothing of the cut, then of the board as run, beside them
        drawing = aside.begin(Machines.drawn, machine, progress=aside.progress)
        summing = aside.begin(totals, program)
        trajectory = _planned(program, setup, machine, progress)
        tools = tooling(program, trajectory, setup, machine)
        cells = cells_for(trajectory, tools, setup, cell_mm)
        timing = aside.begin(
            program_time, program, machine, in_spindle=setup.in_spindle, trajectory=trajectory,
            beliefs=beliefs, progress=aside.progress,
        )  # fmt: skip
        swept = (
            before.swept if before is not None
            else sweep(trajectory, tools, setup, machine, cells.cell_mm, threads, progress)
        )  # fmt: skip
        facts = Facts(
            trajectory=trajectory, tools=tools, setup=setup, machine=machine, swept=swept,
            line=program.line[trajectory.move], program=program,
        )  # fmt: skip
        asking = aside.begin(lambda: judge(facts, program, drawing.result(), aside.progress))
        plotting = aside.begin(_plots, facts, program)
        aside.begin(give_back)  # the pass beside it goes on for long
        run = (
            before.run if before is not None
            else cut_as_run(trajectory, tools, setup, machine, swept, threads, progress)
        )  # fmt: skip
        progress("judging", 0.0)
        machines = result_of(drawing, "judging", progress)
        time = result_of(timing, "judging", progress)
        sums = result_of(summing, "judging", progress)
        answers = result_of(asking, "judging", progress)
        plots = result_of(plotting, "judging", progress)
    put = keep.put if keep is not None and before is None else None
    top, ascut, of_part = _part(facts, run, answers, machines, program, put, progress)
    provenance = _provenance(origin, program, machine, cells, threads)
    verdict = verdict_of(facts, program, answers, ascut, of_part, time, sums, provenance)
    return _proof(verdict, facts, top, plots, keep_board, keep_workings)


def _part(
    facts: Facts, run: AsRun, answers: Answers, machines: Machines, program: Program,
    put: Callable[[Arrays], None] | None, progress: Progress,
) -> tuple[Map, AsCut | None, list[Finding]]:  # fmt: skip
    """The map of its top, the part as it will be, and what is wrong with it."""
    swept, setup = facts.swept, facts.setup
    with Aside() as aside:  # what needs nothing of the top, beside it
        siding = aside.begin(judge_sides, facts, run, answers, program, machines)
        aside.begin(give_back)
        combing = aside.begin(cusps, swept, run, facts.tools, facts.line, setup, facts.machine)
        keeping = None
        if put is not None:
            keeping = aside.begin(put, arrays_of(Cut(swept=swept, run=run)))
        top = error_map(swept.field, run.field, setup.tolerance_mm)
        sides = result_of(siding, "judging", progress)
        ridges = result_of(combing, "judging", progress)
        ascut, of_part = judge_part(facts, run, top, ridges, sides, answers, program)
        if keeping is not None:
            result_of(keeping, "judging", progress)
    return top, ascut, of_part


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plots:
    """What is shown of the loads along the way."""

    series: Series
    groups: Groups
    usual_chips: Mapping[int, ChipRange]


def _plots(facts: Facts, program: Program) -> _Plots:
    return _Plots(
        series=series_of(facts.swept, facts.tools, facts.trajectory.time_s),
        groups=groups_of(facts, program),
        usual_chips=usual_chips(facts),
    )


def _planned(
    program: Program, setup: Setup, machine: MachineModel, progress: Progress
) -> Trajectory:
    try:
        trajectory = plan(program, machine, progress=progress, in_spindle=setup.in_spindle)
    except StandsStill:
        raise NothingMoves(program.file) from None
    _check_length(program.file, trajectory, setup)
    return trajectory


def _check_length(file: str, trajectory: Trajectory, setup: Setup) -> None:
    low = trajectory.point_mm[:, 2] + setup.zero_on_board_mm[2] < 0.0
    inside = (low[1:] | low[:-1]).astype(np.float64)
    metres = float((trajectory.length_mm * inside).sum()) / 1000.0
    if metres > MOST_METRES:
        raise TooLong(
            f"{file}: {metres / 1000.0:.0f} km of path below the top of the board, and at most"
            f" {MOST_METRES / 1000.0:.0f} km are proved at once\n"
            "  remedy: look for a slip in a coordinate, or prove the program in parts"
        )


def _provenance(
    origin: Origin, program: Program, machine: MachineModel, cells: Cells, threads: int
) -> Provenance:
    return Provenance(
        kerfwright=origin.version,
        code_sha256=origin.code_sha256,
        program_file=program.file,
        program_sha256=program.sha256,
        machine=machine.name,
        machine_sha256=machine.sha256,
        tables_sha256=origin.tables_sha256,
        cell_mm=cells.cell_mm,
        cell_why=cells.why,
        threads=threads,
    )


def _proof(
    verdict: Verdict, facts: Facts, top: Map, plots: _Plots, keep_board: bool,
    keep_workings: bool,
) -> Proof:  # fmt: skip
    swept, trajectory = facts.swept, facts.trajectory
    cell_mm = swept.field.cell_mm
    workings = Workings(trajectory=trajectory, swept=swept, line=facts.line)
    return Proof(
        verdict=verdict,
        setup=facts.setup,
        cell_mm=cell_mm * top.block,
        into_bed_mm=deepest_mm(facts),
        left=swept.field if keep_board else None,
        workings=workings if keep_workings else None,
        corner_mm=(top.first[1] * cell_mm, top.first[0] * cell_mm),
        height_mm=top.height_mm,
        error_mm=top.error_mm,
        series=plots.series,
        usual_chips=plots.usual_chips,
        groups=plots.groups,
    )
