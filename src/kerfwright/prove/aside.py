"""Work that needs nothing of the sweep, done beside it."""

from collections import deque
from collections.abc import Callable, Generator, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from threading import Event
from types import TracebackType
from typing import ParamSpec, TypeVar

from kerfwright.basics import Stopped
from kerfwright.basics.progress import Progress

P = ParamSpec("P")
T = TypeVar("T")

_LOOK_EVERY_S = 0.05


class Aside:
    """One thread for such work; what is not done when the block is left is given up."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(1)
        self._over = Event()

    def __enter__(self) -> "Aside":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        self._over.set()
        self._pool.shutdown(cancel_futures=True)

    def begin(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Have something done, after what was begun before."""
        return self._pool.submit(work, *args, **kwargs)

    def progress(self, stage: str, done: float) -> None:  # noqa: ARG002 - a Progress has it
        """For the work itself: says nothing, and stops it when the block has been left."""
        if self._over.is_set():
            raise Stopped


def result_of(future: Future[T], stage: str, progress: Progress) -> T:
    """What came of the work; ``progress`` can stop the waiting."""
    while not wait([future], _LOOK_EVERY_S).done:
        progress(stage, 0.0)
    return future.result()


def ahead(items: Iterator[T], most: int = 1) -> Generator[T, None, None]:
    """The same items, up to ``most`` made on another thread while one before them is worked on."""
    end = object()
    with ThreadPoolExecutor(1) as pool:
        coming = deque(pool.submit(next, items, end) for _ in range(most))
        try:
            while (item := coming.popleft().result()) is not end:
                coming.append(pool.submit(next, items, end))
                yield item  # type: ignore[misc]
        finally:  # of those that nobody wants any more only the one in hand is made
            pool.shutdown(cancel_futures=True)
