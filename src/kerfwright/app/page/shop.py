"""The workshop as every open page sees it: jobs, how each stands, what is under way."""

from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, RLock
from typing import Any

from kerfwright.app.errands import run_show
from kerfwright.app.page.answers import Refused, not_now, not_there
from kerfwright.app.page.errands import Errands, Running
from kerfwright.app.page.history import History
from kerfwright.app.page.shown import Hashes, ShownProof, inputs_of, read_shown, shown_folder
from kerfwright.app.page.stream import Stream
from kerfwright.basics import InputError, KerfwrightError, Stopped
from kerfwright.jobs.prove_errand import Errand
from kerfwright.jobs.show_errand import ShowErrand
from kerfwright.workshop.folder import JobFolder, Workshop

_NEXT = {
    "not proved": "Not proved yet.",
    "stale": "Something was changed since it was proved: prove it again.",
    "waiting": "Waiting for the one before.",
    "proving": "Being proved.",
}


class Shop:
    """One workshop that is open in the page. Its methods may be called from any thread."""

    def __init__(self, workshop: Workshop, *, demo: bool, threads: int, example: str = "") -> None:
        self.workshop = workshop
        self.demo = demo
        self.example = example  #: the job that the page opens on; empty: the first
        self.threads = threads
        self.lock = RLock()  #: held while files of the workshop are changed
        self.closing = Event()
        self.stream = Stream()
        self.history = History(workshop.folder)
        self.hashes = Hashes()
        self.errands = Errands(self._tell)
        self.readings = Errands(self._tell)  #: short work that need not wait for a proof
        self._version = 0
        self._failed: dict[str, str] = {}

    def close(self) -> None:
        """End every stream and errand, within two seconds."""
        self.closing.set()
        self.stream.close()
        self.readings.end()
        self.errands.close()
        self.readings.close()

    def _tell(self, errand: Running) -> None:
        self.stream.tell("errand", errand.as_plain())

    def changed(self) -> None:
        """Tell every page how things stand now."""
        with self.lock:
            self._version += 1
        self.stream.tell("state", self.state())

    def job(self, name: str) -> JobFolder:
        """A job of the workshop, whose folder really lies in it.

        Raises ``Refused`` (404).
        """
        for job in self.workshop.jobs():
            if job.name == name and self.inside(job.folder):
                return job
        raise not_there("there is no such job")

    def inside(self, path: Path) -> bool:
        """Whether a path lies in the workshop once every link in it is followed."""
        try:
            return path.resolve().is_relative_to(self.workshop.folder.resolve())
        except (OSError, ValueError):
            return False

    def program(self, job: JobFolder) -> Path | None:
        """The program of a job; None where there is none, or several."""
        try:
            path = job.program_file()
        except (InputError, OSError):
            return None
        return path if self.inside(path) else None

    def shown(self, name: str) -> ShownProof:
        """The last proof of a job. Raises ``Refused`` (404, 409)."""
        shown = read_shown(self.workshop, self.job(name).name)
        if shown is None:
            raise not_now("this job has not been proved yet", "press Prove")
        return shown

    def standing(self, job: JobFolder, shown: ShownProof | None) -> str:
        """How a job's proof stands, in one of the words of ``wire.ts``."""
        errand = self.errands.of(job.name)
        if errand is not None and errand.what == "proving":
            return "waiting" if errand.began_s is None else "proving"
        if job.name in self._failed:
            return "failed"
        if shown is None:
            return "not proved"
        return "proved" if self.is_fresh(job, shown) else "stale"

    def is_fresh(self, job: JobFolder, shown: ShownProof) -> bool:
        """Whether nothing that a proof was made from has changed since."""
        program = self.program(job)
        if program is None:
            return False
        return inputs_of(self.workshop, job, program, self.hashes) == shown.inputs

    def state(self) -> dict[str, Any]:
        """As ``wire.ts`` has it."""
        name, sentence = self._machine()
        undo, redo = self.history.words()
        with self.lock:
            version = self._version
        return {
            "version": version,
            "workshop": {
                "name": self.workshop.folder.name,
                "folder": str(self.workshop.folder),
                "demo": self.demo,
                "read_only": self.workshop.read_only,
            },
            "machine": {"name": name, "sentence": sentence},
            "opens": self.example,
            "jobs": [self._line(job) for job in self.workshop.jobs() if self.inside(job.folder)],
            "undo": undo,
            "redo": redo,
        }

    def _machine(self) -> tuple[str, str]:
        """Name of the machine, or what is wrong with its file."""
        from kerfwright.app.page.reading import (
            machine_words,
        )  # heavy: not before the socket is open

        return machine_words(self.workshop.machine_file)

    def _line(self, job: JobFolder) -> dict[str, Any]:
        from kerfwright.app.page.reading import note_of

        shown = read_shown(self.workshop, job.name)
        standing = self.standing(job, shown)
        errand = self.errands.of(job.name)
        program = self.program(job)
        sentence = self._failed.get(job.name, "") if standing == "failed" else ""
        if standing == "proved" and shown is not None:
            sentence = shown.verdict["sentence"]
        return {
            "name": job.name,
            "note": note_of(job),
            "program": "" if program is None else program.name,
            "standing": standing,
            "outcome": shown.verdict["verdict"] if shown is not None else None,
            "sentence": sentence or _NEXT.get(standing, ""),
            "errand": None if errand is None else errand.as_plain(),
        }

    def prove_example(self) -> None:
        """Begin to prove the job that the page opens on, so that an answer is seen first.

        Nothing begins where the last proof is kept; or where the person changed something since:
        then it waits to be asked.
        """
        with suppress(Refused):
            job = self.job(self.example)
            shown, program = read_shown(self.workshop, job.name), self.program(job)
            if shown is not None and program is not None:
                now = inputs_of(self.workshop, job, program, self.hashes)
                changed = {key for key, value in now.items() if value != shown.inputs.get(key)}
                if changed != {"code"}:
                    return
            self.prove(job.name)

    def prove(self, name: str) -> None:
        """Begin a proof. Raises ``Refused`` (404, 409)."""
        job = self.job(name)
        program = self.program(job)
        if program is None:
            raise not_now("this job has no program, or several", "keep one in its folder")
        if self.workshop.read_only:
            raise not_now("nothing can be written into this workshop", "open a copy of your own")
        now = datetime.now(UTC)
        errand = ShowErrand(
            proof=Errand(
                program=program,
                machine=str(self.workshop.machine_file),
                threads=self.threads,
                at=now,
            ),
            folder=shown_folder(self.workshop, job.name),
            made_at=now.isoformat(timespec="microseconds"),
            inputs=inputs_of(self.workshop, job, program, self.hashes),
            verdict_file=job.verdict_file,
        )
        self.begin(
            Running(
                job=job.name,
                what="proving",
                work=run_show,
                args=(errand,),
                done=lambda _: self.told(job.name, ""),
                failed=lambda how, error: self.told(job.name, failure_words(how, error)),
                folders=(job.folder, errand.folder.parent),
            )
        )

    def begin(self, errand: Running) -> None:
        """Put an errand in the line. Raises ``Refused`` (409) where its job has one."""
        if not self.errands.add(errand):
            raise not_now("this job is being worked on already", "wait for it, or stop it")
        self._failed.pop(errand.job, None)
        self.changed()

    def stop(self, name: str) -> None:
        """Stop what is under way for a job. Raises ``Refused`` (404, 409)."""
        if not self.errands.stop(self.job(name).name):
            raise not_now("nothing is under way for this job", "press Prove to begin")

    def told(self, name: str, failure: str) -> None:
        """An errand of a job has ended; ``failure`` in words, empty where it did not fail."""
        with self.lock:
            if failure:
                self._failed[name] = failure
            else:
                self._failed.pop(name, None)
        self.changed()

    def forget_failure(self, name: str) -> None:
        """What was changed may mend it."""
        with self.lock:
            self._failed.pop(name, None)

    def failure(self, name: str) -> str:
        """Why the last proof of a job came to nothing; empty where it did not."""
        return self._failed.get(name, "")


def failure_words(how: str, error: BaseException) -> str:
    """Words for an errand that came to nothing; none where the person stopped it."""
    if how == "stopped" or isinstance(error, Stopped):
        return ""
    return str(error) if isinstance(error, KerfwrightError) else f"the work failed: {error}"
