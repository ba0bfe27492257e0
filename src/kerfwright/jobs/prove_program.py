"""Prove one program once it is read: run the chain, write the results."""

from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from pathlib import Path

from kerfwright import __version__
from kerfwright.basics.progress import Progress, silent
from kerfwright.basics.sources import code_sha256
from kerfwright.commission.learned import TimedRun
from kerfwright.fixture.read_bed import NAME as BED
from kerfwright.formats.atomic import folder_beside
from kerfwright.jobs.belongings import beside
from kerfwright.jobs.kept_bed import keep_cut
from kerfwright.jobs.kept_board import keep_board
from kerfwright.jobs.learned import Beliefs, beliefs_from, learned_in, with_law
from kerfwright.jobs.prove_errand import Errand
from kerfwright.jobs.read_for_proof import ToProve
from kerfwright.machine import MachineModel
from kerfwright.program import Program
from kerfwright.prove import Proof, Verdict
from kerfwright.prove.chain import Origin, prove
from kerfwright.prove.cut import Arrays
from kerfwright.report import (
    draw_board,
    draw_loads,
    draw_solid,
    draw_strip,
    write_series,
    write_verdict,
)
from kerfwright.setup import Setup
from kerfwright.tables import tables_sha256
from kerfwright.workshop import (
    StageCache,
    Workshop,
    demo_folder,
    open_workshop,
    record_proof,
    stage_key,
)

_PICTURES = (
    ("board", draw_board), ("strip", draw_strip), ("solid", draw_solid), ("loads", draw_loads),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """The verdict, and the files that were written."""

    verdict: Verdict
    files: tuple[Path, ...]


def prove_program(errand: Errand, begun: ToProve, *, progress: Progress = silent) -> Proved:
    """Prove a program and write its results. ``begun``: the errand, read for it.

    Raises ``KerfwrightError`` for input to mend, ``Stopped`` when asked to stop.
    """
    proof, workshop = proof_of(errand, begun, progress)
    files = write_results(proof, errand.out, progress) if errand.out is not None else ()
    if errand.series is not None:
        files = (*files, write_series(errand.series, proof, progress))
    if proof.left is not None:
        files = (*files, keep_board(proof.left, proof.setup.board, errand.program, errand.job))
        bed_file = beside(errand.program, errand.job, BED)
        if bed_file is not None:
            job = errand.program.absolute().parent.name
            kept = keep_cut(bed_file, job, proof.into_bed_mm)
            files = (*files, *((kept,) if kept is not None else ()))
    if workshop is not None and errand.at is not None:
        job = errand.program.absolute().parent.name
        told = str(files[0].absolute()) if errand.out is not None else ""
        with workshop.log() as log:
            record_proof(log, at=errand.at, job=job, verdict=proof.verdict, verdict_file=told)
    return Proved(verdict=proof.verdict, files=files)


def proof_of(
    errand: Errand,
    begun: ToProve,
    progress: Progress,
    keep_workings: bool = False,
    learned_at: Path | None = None,
) -> tuple[Proof, Workshop | None]:
    """Prove a program; and the person's workshop that it lies in.

    ``learned_at``: the workshop whose cut jobs are learned from; else the one around.
    """
    program, setup, machine = begun.program, begun.setup, begun.machine
    learned_at = learned_at or _around(errand)
    learned = learned_in(learned_at)
    setup = with_law(setup, learned)
    beliefs: Beliefs | None = None
    runs: tuple[TimedRun, ...] = ()
    if learned_at is not None and learned.runs:
        shop = open_workshop(learned_at)
        beliefs = beliefs_from(learned, machine, learned_at, shop.cache(), progress)
        if beliefs is not None:
            machine, runs = beliefs[0].machine, learned.runs
    origin = Origin(version=__version__, code_sha256=code_sha256(), tables_sha256=tables_sha256())
    workshop = _workshop(errand)
    proof = prove(
        program,
        setup,
        machine,
        origin,
        errand.cell_mm,
        errand.threads,
        progress,
        _Kept.of(workshop, program, setup, machine, errand.cell_mm, runs),
        errand.keep_board,
        keep_workings,
        beliefs,
    )
    return proof, workshop


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    """The two passes of one proof in the workshop's stage cache."""

    cache: StageCache
    key: str

    @classmethod
    def of(
        cls,
        workshop: Workshop | None,
        program: Program,
        setup: Setup,
        machine: MachineModel,
        cell_mm: float | None,
        runs: tuple[TimedRun, ...],
    ) -> "_Kept | None":
        cache = workshop.cache() if workshop is not None else None
        if cache is None:
            return None
        cut_alike = replace(
            setup, clamps=(), hold=None, accepted=(), bed=None, wanted=(), climate=None, rack={}
        )
        inputs = {
            "program": program.sha256,
            "rules": program.dialect,
            "setup": sha256(repr(cut_alike).encode()).hexdigest(),
            "machine": machine.sha256,
            "tables": tables_sha256(),
            "cell": cell_mm,
            "motion": [asdict(run) for run in runs],
        }
        return cls(cache=cache, key=stage_key("both passes", inputs))

    def get(self) -> Arrays | None:
        found = self.cache.get(self.key)
        return found[0] if found is not None else None

    def put(self, arrays: Arrays) -> None:
        self.cache.put(self.key, arrays, {})


def _workshop(errand: Errand) -> Workshop | None:
    """The person's own workshop, if the program lies in one of its jobs."""
    folder = errand.program.absolute().parent
    shop = folder.parent.parent
    inside = folder.parent.name == "jobs" and (shop / "machine.toml").is_file()
    if not inside or shop == demo_folder():
        return None
    workshop = open_workshop(shop)
    return None if workshop.read_only else workshop


def _around(errand: Errand) -> Path | None:
    """The folder of the workshop around, where its own machine is the one that proves."""
    machine = beside(errand.program, errand.job, "machine.toml")
    if machine is None or errand.machine not in (None, str(machine)):
        return None
    return machine.parent


def write_results(proof: Proof, folder: Path, progress: Progress) -> tuple[Path, ...]:
    """verdict.json and the pictures: all of them, or after a stop none."""
    with folder_beside(folder) as beside:
        names = ["verdict.json"]
        write_verdict(beside / names[0], proof.verdict)
        for done, (name, draw) in enumerate(_PICTURES):
            progress("drawing", done / len(_PICTURES))
            pair = [f"{name}.{ending}" for ending in ("png", "svg")]
            draw(proof, *(beside / file for file in pair))
            names += pair
        progress("drawing", 1.0)
        folder.mkdir(exist_ok=True)
        for name in names:
            (beside / name).replace(folder / name)
    return tuple(folder / name for name in names)
