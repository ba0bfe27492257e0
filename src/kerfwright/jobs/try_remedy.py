"""Prove a changed copy of a job, to see what a remedy would do."""

import shutil
import tempfile
from pathlib import Path

from kerfwright.basics.progress import Progress, silent
from kerfwright.formats import read_toml
from kerfwright.formats.atomic import write_bytes, write_text
from kerfwright.jobs.belongings import bed_of, machine_of, on_bed, read
from kerfwright.jobs.feed_change import with_feed, with_speed
from kerfwright.jobs.prove_errand import Errand
from kerfwright.jobs.prove_program import proof_of
from kerfwright.jobs.read_for_proof import read_for_proof
from kerfwright.jobs.try_errand import TriedProof, TryErrand
from kerfwright.report.figures import chance_words, clean
from kerfwright.report.words import limit_words
from kerfwright.workshop import open_workshop

#: What a job may need of its workshop beside its own folder.
SHARED = ("machine.toml", "cutters.toml", "clamps.toml", "bed.toml")


def try_remedy(errand: TryErrand, *, progress: Progress = silent) -> TriedProof:
    """Prove the copy; nothing of it is kept.

    Raises ``KerfwrightError`` where the change cannot be made or proved, ``Stopped``.
    """
    progress("reading", 0.0)
    errand.scratch.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=errand.scratch) as folder:
        program = _copy(errand, Path(folder))
        _change(errand, program, progress)
        copied = Errand(program=program, threads=errand.threads)
        begun = read_for_proof(copied, progress=progress)
        proof, _ = proof_of(copied, begun, progress, learned_at=errand.workshop)
    verdict = proof.verdict
    same = [one for one in verdict.findings if one.code == errand.code]
    after = ""
    if same:
        chance = same[0].likelihood
        parts = [same[0].words, limit_words(same[0])]
        parts += [] if chance is None else [f"likely {chance_words(chance)}"]
        after = clean("; ".join(filter(None, parts)))
    return TriedProof(sentence=verdict.sentence, after=after, time_s=verdict.totals.time_s)


def _change(errand: TryErrand, program: Path, progress: Progress) -> None:
    """Change the program's text, each time as it reads by then."""
    if not (errand.feeds or errand.speeds):
        return
    machine, _ = machine_of(None, program, None)
    whole = on_bed(machine, bed_of(program, None))
    for speed in errand.speeds:
        now = read(program, whole, None, progress)
        write_bytes(program, with_speed(now, speed.line, speed.old, speed.new))
    for feed in errand.feeds:
        now = read(program, whole, None, progress)
        write_bytes(program, with_feed(now, feed.first, feed.last, feed.share))


def _copy(errand: TryErrand, to: Path) -> Path:
    """A small workshop with this job alone, and the one whose board it goes on with."""
    for name in SHARED:
        if (errand.workshop / name).is_file():
            shutil.copyfile(errand.workshop / name, to / name)
    if errand.machine_text is not None:
        write_text(to / "machine.toml", errand.machine_text)
    job = open_workshop(errand.workshop).job(errand.job)
    target = to / "jobs" / job.name
    shutil.copytree(job.folder, target, copy_function=shutil.copyfile)
    if errand.job_text is not None:
        write_text(target / "job.toml", errand.job_text)
    left_by = read_toml(target / "job.toml").data.get("board", {}).get("left_by")
    if isinstance(left_by, str):
        before = (errand.workshop / left_by).resolve()
        if before.is_relative_to(errand.workshop.resolve()) and before.is_dir():
            shutil.copytree(before, to / left_by, dirs_exist_ok=True, copy_function=shutil.copyfile)
    return target / job.program_file().name
