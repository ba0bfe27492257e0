"""Errands in processes of their own: real processes, real signals."""

import contextlib
import multiprocessing
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
from functools import partial
from pathlib import Path

import pytest

from kerfwright.basics import InputError, InputErrors, KerfwrightError, Place, Stopped
from kerfwright.formats import QuantityError, write_text
from kerfwright.jobs.worker import Spare, WorkerFailed, run

HERE = Path(__file__).parent
POSIX = pytest.mark.skipif(os.name != "posix", reason="signals and process groups of POSIX")


@pytest.fixture(autouse=True)
def errands(monkeypatch):
    monkeypatch.syspath_prepend(str(HERE))
    import worker_errands

    return worker_errands


def is_running(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return "\nState:\tZ" not in Path(f"/proc/{pid}/status").read_text()


def wait_for(path, seconds=20.0):
    until = time.monotonic() + seconds
    while not path.exists():
        assert time.monotonic() < until, f"{path.name} never came"
        time.sleep(0.01)
    return path.read_text()


def test_returns_and_tells(errands):
    told = []
    result = run(errands.add, 2, 3, on_progress=lambda stage, done: told.append((stage, done)))
    assert result["sum"] == 5
    assert result["pid"] != os.getpid()
    assert told == [("adding", 0.0), ("adding", 1.0)]


def test_progress_is_thinned(errands):
    told = []
    run(errands.tell_often, 100_000, on_progress=lambda stage, done: told.append(done))
    assert told[0] == 0.0
    assert told[-1] == 1.0
    assert told == sorted(told)
    assert len(told) < 2000


def test_refusals_come_back_intact(errands):
    with pytest.raises(InputError) as refused:
        run(errands.refuse)
    assert refused.value.place == Place(file="a.nc", line=3, column=2, text="G1 XO")
    assert str(refused.value) == "a.nc:3:2: no number\n    G1 XO\n     ^\n  remedy: write X0"
    with pytest.raises(InputErrors) as gathered:
        run(errands.refuse_all)
    assert [error.problem for error in gathered.value.errors] == ["wrong 1", "wrong 2"]
    assert gathered.value.more == 7


def test_errors_pickle():
    one = InputError(Place(file="a", line=1, column=2, text="x"), "p", "r")
    many = InputErrors([one, one], more=3)
    for error in (one, many, QuantityError("p", "r"), WorkerFailed("p", "d")):
        back = pickle.loads(pickle.dumps(error))
        assert type(back) is type(error)
        assert str(back) == str(error)
        assert back.args == error.args or str(back.args) == str(error.args)
    assert pickle.loads(pickle.dumps(many)).more == 3
    assert pickle.loads(pickle.dumps(one)).place == one.place


def test_a_refusal_that_cannot_be_sent_keeps_its_words(errands):
    with pytest.raises(KerfwrightError, match=r"^this and that$"):
        run(errands.refuse_awkwardly)


def test_other_errors_are_told_with_details(errands):
    with pytest.raises(WorkerFailed, match=r"^the work failed: ZeroDivisionError: ") as failed:
        run(errands.fail)
    assert "return 1 / 0" in failed.value.details
    with pytest.raises(WorkerFailed, match="the work failed: "):
        run(errands.return_what_cannot_be_sent)


def test_a_process_that_dies_is_told(errands):
    with pytest.raises(WorkerFailed, match=r"ended without an answer \(exit code 3\)"):
        run(errands.die, 3)


@POSIX
def test_a_process_that_is_killed_is_told(errands):
    with pytest.raises(WorkerFailed, match=r"ended from outside \(SIGKILL\).*\n.*memory"):
        run(errands.be_killed)


def stop_soon(folder, stop):
    def wait():
        wait_for(folder / "pid")
        stop.at = time.monotonic()
        stop.set()

    thread = threading.Thread(target=wait)
    thread.start()
    return thread


@pytest.mark.parametrize("errand", ["work_until_stopped", "never_ask"])
def test_stopped_by_another_thread(errands, tmp_path, errand):
    stop = threading.Event()
    thread = stop_soon(tmp_path, stop)
    with pytest.raises(Stopped):
        run(getattr(errands, errand), str(tmp_path), stop=stop, folders=[tmp_path])
    assert time.monotonic() - stop.at < 1.5
    thread.join()
    assert not is_running(int((tmp_path / "pid").read_text()))
    assert (tmp_path / "stopped by word").exists() == (errand == "work_until_stopped")
    assert not list(tmp_path.glob(".*"))


def test_stopped_from_the_callers_progress(errands, tmp_path):
    def enough(stage, done):
        raise Stopped

    with pytest.raises(Stopped):
        run(errands.work_until_stopped, str(tmp_path), on_progress=enough)
    assert not is_running(int((tmp_path / "pid").read_text()))


def test_an_error_of_the_caller_leaves_no_process(errands, tmp_path):
    def broken(stage, done):
        raise RuntimeError("the page is gone")

    with pytest.raises(RuntimeError, match="the page is gone"):
        run(errands.work_until_stopped, str(tmp_path), on_progress=broken)
    assert not is_running(int((tmp_path / "pid").read_text()))


def test_time_is_up(errands, tmp_path):
    with pytest.raises(WorkerFailed, match="not done within 1 s"):
        run(errands.work_until_stopped, str(tmp_path), timeout_s=1.0)


@pytest.fixture
def start_command():
    """Starts a command in a group of its own; none is left behind."""
    started = []

    def start(errand, folder):
        command = subprocess.Popen(
            [sys.executable, str(HERE / "worker_command.py"), errand, str(folder)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        started.append(command)
        return command

    yield start
    for command in started:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(command.pid, signal.SIGKILL)
        command.communicate()


@POSIX
@pytest.mark.parametrize("errand", ["work_until_stopped", "never_ask"])
def test_ctrl_c_ends_all_within_a_second(tmp_path, errand, start_command):
    command = start_command(errand, tmp_path)
    pid = int(wait_for(tmp_path / "pid"))
    before = time.monotonic()
    os.killpg(command.pid, signal.SIGINT)  # as a terminal does: to the child as well
    out, err = command.communicate(timeout=20)
    took = time.monotonic() - before
    assert command.returncode == 130
    assert (out, err) == ("", "stopped; nothing was changed\n")
    assert took < 1.5  # the promise is 1 s on a machine that is not shared
    assert not is_running(pid)
    assert not list(tmp_path.glob(".*"))


@POSIX
@pytest.mark.parametrize("after_s", [0.0, 0.05, 0.15, 0.3])
def test_ctrl_c_while_the_child_starts_leaves_no_traceback_of_it(tmp_path, after_s, start_command):
    command = start_command("work_until_stopped", tmp_path)
    children = Path(f"/proc/{command.pid}/task/{command.pid}/children")
    while command.poll() is None and len(children.read_text().split()) < 2:
        time.sleep(0.002)  # the second child is the errand's; the first keeps count of resources
    time.sleep(after_s)
    os.killpg(command.pid, signal.SIGINT)
    out, err = command.communicate(timeout=20)
    assert command.returncode == 130
    assert (out, err) == ("", "stopped; nothing was changed\n")


@POSIX
def test_a_child_whose_parent_is_killed_ends_too(tmp_path, start_command):
    command = start_command("work_until_stopped", tmp_path)
    pid = int(wait_for(tmp_path / "pid"))
    command.kill()
    command.communicate(timeout=20)
    until = time.monotonic() + 5.0
    while is_running(pid):
        assert time.monotonic() < until
        time.sleep(0.02)


def test_a_worker_starts_with_little(errands):
    modules = run(errands.print_modules)
    assert not [name for name in modules if name.startswith("numba")]


def test_a_spare_process_loads_before_its_errand_comes(errands, tmp_path):
    spare = Spare(partial(write_text, tmp_path / "loaded", "all"))
    spare.start()
    assert wait_for(tmp_path / "loaded") == "all"
    waiting = multiprocessing.active_children()
    assert run(errands.which_process, spare=spare) in [child.pid for child in waiting]
    # Each serves once; the next errand has one of its own.
    assert run(errands.which_process, spare=spare) not in [child.pid for child in waiting]
    spare.start()
    (left,) = multiprocessing.active_children()
    spare.close()
    assert not is_running(left.pid)


def test_a_spare_process_that_has_died_is_replaced(errands):
    spare = Spare()
    spare.start()
    (waiting,) = multiprocessing.active_children()
    waiting.kill()
    waiting.join()
    assert run(errands.which_process, spare=spare) != waiting.pid
    assert multiprocessing.active_children() == []
