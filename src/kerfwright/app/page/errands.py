"""Long work in processes of its own: one at a time, each for a job, each can be stopped."""

import contextlib
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Condition, Event, Thread
from typing import Any

from kerfwright.app.loads import load_kernels, load_modules
from kerfwright.basics import KerfwrightError, Stopped
from kerfwright.jobs.worker import Spare, run

#: How much of the whole each stage is, from proofs of the demo's jobs: what the bar shows. A stage
#: that is not named keeps the bar where it is.
STAGES = (
    ("reading", 0.02),
    ("loading the program", 0.02),
    ("reading the program", 0.06),
    ("planning the motion", 0.05),
    ("cutting in the computer", 0.45),
    ("cutting as the machine will", 0.2),
    ("judging", 0.1),
    ("writing it down", 0.1),
)
#: Sooner than that nobody knows how long it will take. [s], share
_LEFT_AFTER_S, _LEFT_AFTER = 1.5, 0.05
_TELL_EVERY_S = 0.2
#: What stopped errands get to end in when the server ends.
END_WITHIN_S = 1.2
#: Idle for so long, the next process is made ready: what the page draws comes first.
_IDLE_S = 1.5

Tell = Callable[["Running"], None]


@dataclass(slots=True)
class Running:
    """One errand, waiting or under way."""

    job: str
    what: str
    work: Callable[..., Any]
    args: tuple[Any, ...]
    done: Callable[[Any], None]
    failed: Callable[[str, BaseException], None]
    folders: tuple[Path, ...] = ()
    stop: Event = field(default_factory=Event)
    stage: str = "waiting"
    share: float = 0.0
    began_s: float | None = None
    left_s: float | None = None

    def as_plain(self) -> dict[str, Any]:
        """As ``wire.ts`` has it."""
        return {
            "job": self.job,
            "what": self.what,
            "stage": self.stage,
            "done": round(self.share, 4),
            "left_s": self.left_s,
        }


class Errands:
    """Does what is asked, in order; ``tell`` is called whenever something moves on."""

    def __init__(self, tell: Tell) -> None:
        self._tell = tell
        self._change = Condition()
        self._all: list[Running] = []
        self._closed = False
        self._spare: Spare | None = None
        self._thread = Thread(target=self._work, name="errands", daemon=True)
        self._thread.start()

    def of(self, job: str) -> Running | None:
        """The errand of a job, if there is one."""
        with self._change:
            return next((one for one in self._all if one.job == job), None)

    def add(self, errand: Running) -> bool:
        """Put an errand at the end of the line; False where its job has one already."""
        with self._change:
            if self._closed or any(one.job == errand.job for one in self._all):
                return False
            self._all.append(errand)
            self._change.notify_all()
            return True

    def keep_ready(self) -> None:
        """Have a process wait with all loaded while there is no errand: a proof begins at once."""
        with self._change:
            self._spare = Spare(load_modules, load_kernels)
            self._change.notify_all()

    def stop(self, job: str) -> bool:
        """Stop the errand of a job: at once if it waits, within a second if it runs."""
        with self._change:
            errand = next((one for one in self._all if one.job == job), None)
            if errand is None:
                return False
            errand.stop.set()
            if errand.began_s is None:
                self._all.remove(errand)
        if errand.began_s is None:
            errand.failed("stopped", Stopped())
        return True

    def close(self) -> None:
        """Stop everything and wait for it, but not for long."""
        self.end()
        self._thread.join(END_WITHIN_S)

    def end(self) -> None:
        """Stop everything."""
        with self._change:
            self._closed = True
            for errand in self._all:
                errand.stop.set()
            self._all = [one for one in self._all if one.began_s is not None]
            self._change.notify_all()

    def _work(self) -> None:
        while True:
            with self._change:
                started = False
                while not self._all and not self._closed:
                    if self._spare is None or started:
                        self._change.wait()
                    elif not self._change.wait(_IDLE_S):
                        self._spare.start()
                        started = True
                if self._closed:
                    if self._spare is not None:
                        self._spare.close()
                    return
                errand = self._all[0]
                errand.began_s = time.monotonic()
            self._run(errand)

    def _run(self, errand: Running) -> None:
        told = _Progress(errand, self._tell)
        failure: tuple[str, BaseException] | None = None
        answer = None
        try:
            answer = run(
                errand.work,
                *errand.args,
                on_progress=told,
                stop=errand.stop,
                folders=errand.folders,
                spare=self._spare,
            )
        except Stopped as stopped:
            failure = ("stopped", stopped)
        except KerfwrightError as error:
            failure = ("failed", error)
        except Exception as error:  # noqa: BLE001 - one errand must not take the others along
            failure = ("failed", error)
        with self._change, contextlib.suppress(ValueError):
            self._all.remove(errand)
        if failure is None:
            errand.done(answer)
        else:
            errand.failed(*failure)


class _Progress:
    """Puts the worker's stages into one share of the whole, with the time that is left."""

    def __init__(self, errand: Running, tell: Tell) -> None:
        self._errand, self._tell = errand, tell
        self._told_s = 0.0

    def __call__(self, stage: str, done: float) -> None:
        errand = self._errand
        before = 0.0
        for name, share in STAGES:
            if name == stage:
                errand.share = max(errand.share, before + share * min(max(done, 0.0), 1.0))
                break
            before += share
        fresh, errand.stage = stage != errand.stage, stage
        now = time.monotonic()
        since = now - (errand.began_s or now)
        if since > _LEFT_AFTER_S and errand.share > _LEFT_AFTER:
            errand.left_s = round(since * (1.0 - errand.share) / errand.share, 1)
        if fresh or now - self._told_s >= _TELL_EVERY_S:
            self._told_s = now
            self._tell(errand)
