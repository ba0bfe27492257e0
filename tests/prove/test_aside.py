"""Work beside the sweep: its result, its errors, and that it ends when it is not wanted."""

import threading

import pytest

from kerfwright.basics import Stopped
from kerfwright.prove.aside import Aside, ahead, result_of


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


@pytest.mark.parametrize("most", [1, 2, 3])
def test_the_next_are_made_while_one_is_worked_on(most):
    made = [threading.Event() for _ in range(6)]

    def items():
        for number, event in enumerate(made):
            event.set()
            yield number

    seen = []
    for item in ahead(items(), most):
        seen.append(item)
        assert all(event.wait(10) for event in made[: item + most + 1])
        assert not any(event.is_set() for event in made[item + most + 1 :])
    assert seen == list(range(6))


def test_what_goes_wrong_ahead_is_told_in_its_turn():
    def items():
        yield 1
        raise ValueError("the second")

    coming = ahead(items())
    assert next(coming) == 1
    with pytest.raises(ValueError, match="the second"):
        next(coming)


@pytest.mark.parametrize("most", [1, 2, 3])
def test_nothing_ahead_goes_on_once_it_is_closed(most):
    made, begun, on = [], threading.Event(), threading.Event()

    def items():
        for number in range(1000):
            made.append(number)
            if number == 1:
                begun.set()
                assert on.wait(10)
            yield number

    coming = ahead(items(), most)
    assert next(coming) == 0
    assert begun.wait(10)
    threading.Timer(0.2, on.set).start()
    coming.close()
    assert made == [0, 1]  # the one in hand is made, those that wait are not
