"""Errands for the worker's tests: they must stand in a module that a new process can import."""

import os
import signal
import sys
import time
from pathlib import Path

from kerfwright.basics import InputError, InputErrors, KerfwrightError, Place, Stopped
from kerfwright.formats import write_text
from kerfwright.formats.quantity import read_quantity


def add(a, b, *, progress):
    progress("adding", 0.0)
    progress("adding", 1.0)
    return {"sum": a + b, "pid": os.getpid()}


def tell_often(times, *, progress):
    for index in range(times):
        progress("telling", index / times)
    progress("telling", 1.0)


def work_until_stopped(folder, *, progress):
    """Writes its process number, then works and asks; whole files only."""
    write_text(Path(folder) / "pid", str(os.getpid()))
    try:
        for index in range(10**9):
            progress("working", index / 1e9)
            time.sleep(0.01)
    except Stopped:
        write_text(Path(folder) / "stopped by word", "")
        raise


def never_ask(folder, *, progress):
    """Neither asks nor hears, with a file half-written."""
    (Path(folder) / f".result.json.{os.getpid()}.abc.part").write_text("half")
    write_text(Path(folder) / "pid", str(os.getpid()))
    progress("deaf", 0.0)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    while True:
        time.sleep(0.05)


def refuse(*, progress):
    raise InputError(Place(file="a.nc", line=3, column=2, text="G1 XO"), "no number", "write X0")


def refuse_all(*, progress):
    errors = [InputError(Place(file="a.nc", line=n), f"wrong {n}", "mend it") for n in (1, 2)]
    raise InputErrors(errors, more=7)


def refuse_quantity(*, progress):
    read_quantity("12 parsec", "length")


class Awkward(KerfwrightError):
    def __init__(self, one, two):
        super().__init__(f"{one} and {two}")


def refuse_awkwardly(*, progress):
    raise Awkward("this", "that")


def fail(*, progress):
    return 1 / 0


def return_what_cannot_be_sent(*, progress):
    return lambda: 0


def die(code, *, progress):
    os._exit(code)


def be_killed(*, progress):
    os.kill(os.getpid(), signal.SIGKILL)


def print_modules(*, progress):
    return sorted(name for name in sys.modules if name.startswith(("kerfwright", "numpy", "numba")))


def which_process(*, progress):
    progress("looking", 1.0)
    return os.getpid()
