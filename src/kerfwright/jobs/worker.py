"""Errands run in a process of their own, so that they can be stopped and cannot take us along."""

import atexit
import contextlib
import gc
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, TypeVar

from kerfwright.basics import KerfwrightError, Progress, Stopped
from kerfwright.basics.errors import plainly
from kerfwright.basics.memory import keep_little
from kerfwright.basics.progress import silent

T = TypeVar("T")

LOOK_EVERY_S = 0.05  #: how often either side looks for word from the other
STOP_WITHIN_S = 0.55  #: what an errand gets to end by itself once it is told to stop
END_WITHIN_S = 0.1  #: what it then gets before it is ended without asking
#: A thread that runs Python makes way for one that waits after so long. Those that cut need it for
#: some 50 µs between two tiles of half a millisecond: after the usual 5 ms a core often stood idle.
_TURNS_S = 2e-4


class WorkerFailed(KerfwrightError):
    """An errand that ended in a way that nobody foresaw. ``details`` is for a report of it."""

    def __init__(self, problem: str, details: str = "") -> None:
        self.problem, self.details = problem, details
        super().__init__(problem, details)

    def __str__(self) -> str:
        return self.problem


def run(
    errand: Callable[..., T],
    *args: Any,
    on_progress: Progress = silent,
    timeout_s: float | None = None,
    stop: threading.Event | None = None,
    folders: Sequence[Path] = (),
    spare: "Spare | None" = None,
) -> T:
    """Run an errand in a spawned process and wait for what it returns.

    Parameters
    ----------
    errand : callable
        A function at the top level of a module, called as ``errand(*args, progress=progress)``.
    *args
        Plain data and paths.
    on_progress : Progress
        Called here with what the errand tells; may raise ``Stopped``.
    timeout_s : float, optional
        The errand is stopped after this long. [s]
    stop : threading.Event, optional
        Set by another thread to stop the errand.
    folders : paths
        Where the errand writes: half-written files of a process that had to be ended are removed
        from there.
    spare : Spare, optional
        A process that waits for an errand; else one is started.

    Returns
    -------
    What the errand returns: plain data that can be pickled.

    Raises
    ------
    Stopped
        After Ctrl-C, ``stop``, or ``Stopped`` from ``on_progress``; within a second.
    KerfwrightError
        Whatever of this kind the errand raises, as ``plainly`` has it.
    WorkerFailed
        Anything else: another error, a process that died, the time was up.
    """
    spare = spare or Spare()
    try:
        process, ours = spare.taken()
    except KeyboardInterrupt:
        spare.close()
        raise Stopped from None
    heard: set[str] = set()
    try:
        # A process that has died is told when it is listened to.
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            ours.send((errand, args))
        return _listen(  # type: ignore[no-any-return]
            process, ours, heard, on_progress, timeout_s, stop
        )
    except (KeyboardInterrupt, Stopped):
        raise Stopped from None
    finally:
        _end(process, ours, begun=bool(heard))
        ours.close()
        if process.exitcode != 0 and process.pid is not None:
            # Loaded where it is needed: a worker begins before all that its parent loads.
            from kerfwright.formats.atomic import remove_parts

            for folder in folders:
                remove_parts(folder, process.pid)


class Spare:
    """A process that is started before there is an errand for it, and loads what that will need.

    ``loads`` are functions at the top level of a module, called one after another until the errand
    comes.
    """

    def __init__(self, *loads: Callable[[], object]) -> None:
        self._loads = loads
        self._waits: tuple[BaseProcess, Connection] | None = None

    def start(self) -> None:
        """Start it, if none waits."""
        if self._waits is not None and self._waits[0].is_alive():
            return
        self.close()
        ours, theirs = multiprocessing.get_context("spawn").Pipe()
        process = multiprocessing.get_context("spawn").Process(
            target=_work, args=(theirs, self._loads), daemon=True
        )
        self._waits = process, ours
        with _interrupts_held_back():
            process.start()
        theirs.close()

    def taken(self) -> tuple[BaseProcess, Connection]:
        """The process and the connection to it, for one errand; whoever takes it ends it."""
        self.start()
        assert self._waits is not None
        taken, self._waits = self._waits, None
        return taken

    def close(self) -> None:
        """End it, if it waits."""
        if self._waits is None:
            return
        (process, ours), self._waits = self._waits, None
        ours.close()
        if process.pid is not None:
            process.kill()
            process.join()


def _listen(
    process: BaseProcess,
    ours: Connection,
    heard: set[str],  # kinds of word that came; filled here
    on_progress: Progress,
    timeout_s: float | None,
    stop: threading.Event | None,
) -> Any:
    until = None if timeout_s is None else time.monotonic() + timeout_s
    while True:
        if stop is not None and stop.is_set():
            raise Stopped
        if until is not None and time.monotonic() > until:
            raise WorkerFailed(f"the work was not done within {timeout_s:g} s, and was stopped")
        try:
            if not ours.poll(LOOK_EVERY_S):
                continue
            kind, *content = ours.recv()
        except (EOFError, OSError):
            process.join()
            raise WorkerFailed(_how_it_died(process.exitcode)) from None
        heard.add(kind)
        if kind == "begun":
            continue
        if kind == "progress":
            on_progress(*content)
        elif kind == "done":
            return content[0]
        elif kind == "stopped":
            raise Stopped
        elif kind == "refused":
            raise content[0]
        else:
            raise WorkerFailed(*content)


def _end(process: BaseProcess, ours: Connection, *, begun: bool) -> None:
    """See to it that the process is gone: asked first, then told, then ended.

    One that still loads has nothing to tidy up, and would not hear.
    """
    if process.pid is None:  # never started
        return
    until = time.monotonic() + STOP_WITHIN_S
    # A second Ctrl-C must not leave the process behind: it only shortens the waiting.
    with contextlib.suppress(KeyboardInterrupt):
        with contextlib.suppress(OSError):
            ours.send("stop")
        while begun and process.is_alive() and time.monotonic() < until:
            try:
                if ours.poll(LOOK_EVERY_S):
                    ours.recv()  # an errand that waits for room in the pipe cannot stop
            except (EOFError, OSError):
                process.join(max(until - time.monotonic(), 0.0))
    for end in (process.terminate, process.kill):
        if process.is_alive():
            end()
            process.join(END_WITHIN_S)
    process.join()


def _how_it_died(code: int | None) -> str:
    if code is not None and code < 0:
        name = next((s.name for s in signal.Signals if s == -code), f"signal {-code}")
        return (
            f"the work was ended from outside ({name}) before it was done\n"
            "  remedy: most often memory ran out: close other programs, or take a larger cell"
        )
    return f"the work ended without an answer (exit code {code})"


def settle() -> None:
    """Set this process up for such work."""
    keep_little()
    sys.setswitchinterval(_TURNS_S)


def _work(theirs: Connection, loads: tuple[Callable[[], object], ...]) -> None:
    """The child's side. It leaves Ctrl-C to its parent, which tells it to stop."""
    settle()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    # A parent that is gone needs no answer.
    with contextlib.suppress(BrokenPipeError, ConnectionResetError, EOFError):
        gc.disable()  # what modules are made of stays: looking through it all takes a tenth longer
        for load in loads:
            if not theirs.poll():
                load()
        gc.freeze()
        gc.enable()
        errand, args = theirs.recv()
        theirs.send(("begun",))
        theirs.send_bytes(_answer(theirs, errand, args))
    # All is told and written: to take so many modules apart would keep the parent waiting.
    atexit._run_exitfuncs()
    os._exit(0)


def _answer(theirs: Connection, errand: Callable[..., Any], args: tuple[Any, ...]) -> bytes:
    """What became of the errand, pickled: ``Connection.recv`` of the other side reads it."""
    try:
        return pickle.dumps(("done", errand(*args, progress=_Teller(theirs))))
    except Stopped:
        return pickle.dumps(("stopped",))
    except _ParentGone:
        raise SystemExit(1) from None
    except KerfwrightError as error:
        return pickle.dumps(("refused", plainly(error)))
    except Exception as error:  # noqa: BLE001 - the edge of the process: nothing is lost, all told
        words = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        return pickle.dumps(("failed", f"the work failed: {words}", traceback.format_exc()))


class _Teller:
    """The errand's ``Progress``: tells the parent now and then, and hears when to stop."""

    def __init__(self, theirs: Connection) -> None:
        self._theirs = theirs
        self._stage = ""
        self._next_s = 0.0

    def __call__(self, stage: str, done: float) -> None:
        now_s = time.monotonic()
        try:
            if self._theirs.poll():
                self._theirs.recv()
                raise Stopped
            if stage != self._stage or now_s >= self._next_s or done >= 1.0:
                self._stage, self._next_s = stage, now_s + LOOK_EVERY_S
                self._theirs.send(("progress", stage, done))
        except (EOFError, OSError):
            raise _ParentGone from None


class _ParentGone(BaseException):
    """Nobody waits for the work any more. Not an ``Exception``: no errand may go on after it."""


@contextlib.contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """Ctrl-C waits while the child is made, and the child is born with it held back.

    Otherwise a Ctrl-C in the child's first moments, which goes to both, would end it with a
    traceback of its own. Systems without signal masks have that gap.
    """
    waiting: list[int] = []
    in_main = threading.current_thread() is threading.main_thread()  # only it is interrupted
    before = (
        signal.signal(signal.SIGINT, lambda number, _: waiting.append(number)) if in_main else 0
    )
    try:
        with _interrupts_masked():
            yield
    finally:
        if in_main:
            signal.signal(signal.SIGINT, signal.default_int_handler if before is None else before)
        if waiting:
            signal.raise_signal(signal.SIGINT)


@contextlib.contextmanager
def _interrupts_masked() -> Iterator[None]:
    """The mask is for the child, which inherits it: here another thread may still be reached."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker  # of no use where there are no signal masks

    # The library's own watcher, started with the first child, would open the mask again.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
