"""Work beside the sweep: its result, its errors, and that it ends when it is not wanted."""

import threading

import pytest

from kerfwright.basics import Stopped
from kerfwright.prove.aside import Aside, result_of


def quiet(stage, done):
    pass


def test_results_and_errors_come_back():
    with Aside() as aside:
        one, two = aside.begin(pow, 2, 5), aside.begin(divmod, 1, 0)
        assert result_of(one, "waiting", quiet) == 32
        with pytest.raises(ZeroDivisionError):
            result_of(two, "waiting", quiet)


def test_leaving_the_block_stops_the_work_and_what_waits_behind_it():
    begun, ended, behind = threading.Event(), threading.Event(), threading.Event()

    def work(progress):
        begun.set()
        try:
            while True:
                progress("", 0.0)
        finally:
            ended.set()

    with Aside() as aside:
        aside.begin(work, aside.progress)
        aside.begin(behind.set)
        begun.wait(10)
    assert ended.is_set()
    assert not behind.is_set()


def test_waiting_can_be_stopped():
    def stop(stage, done):
        raise Stopped

    with Aside() as aside:
        forever = aside.begin(lambda: [aside.progress("", 0.0) for _ in iter(int, 1)])
        with pytest.raises(Stopped):
            result_of(forever, "waiting", stop)
