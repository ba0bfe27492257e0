"""The one stream of events to each open page."""

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator
from threading import Lock
from typing import Any

#: A page that reads too slowly is let go; it asks again and gets the whole state.
MOST_WAITING = 200
MOST_PAGES = 40
#: A comment now and then, so that a page that is gone is noticed. [s]
BEAT_S = 15.0

_END = ""


class Stream:
    """Events from any thread to every page that listens."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._pages: list[tuple[asyncio.AbstractEventLoop, asyncio.Queue[str]]] = []
        self._closed = False

    def tell(self, kind: str, value: dict[str, Any]) -> None:
        """Send one event to every page."""
        text = f"event: {kind}\ndata: {json.dumps(value, allow_nan=False)}\n\n"
        self._send(text)

    def close(self) -> None:
        """Tell every page that the server ends, and end their streams."""
        with self._lock:
            self._closed = True
        self._send("event: gone\ndata: {}\n\n")
        self._send(_END)

    @property
    def full(self) -> bool:
        """Whether no further page may listen."""
        with self._lock:
            return self._closed or len(self._pages) >= MOST_PAGES

    async def listen(self, first: dict[str, Any]) -> AsyncIterator[str]:
        """Events for one page, the whole state first."""
        queue: asyncio.Queue[str] = asyncio.Queue(MOST_WAITING)
        page = (asyncio.get_running_loop(), queue)
        with self._lock:
            self._pages.append(page)
            closed = self._closed
        try:
            yield f"event: state\ndata: {json.dumps(first, allow_nan=False)}\n\n"
            while not closed:
                try:
                    text = await asyncio.wait_for(queue.get(), BEAT_S)
                except TimeoutError:
                    text = ": still here\n\n"
                if text == _END:
                    return
                yield text
        finally:
            with self._lock:
                self._pages.remove(page)

    def _send(self, text: str) -> None:
        with self._lock:
            pages = list(self._pages)
        for loop, queue in pages:
            with contextlib.suppress(RuntimeError):  # its loop is closed already
                loop.call_soon_threadsafe(_put, queue, text)


def _put(queue: asyncio.Queue[str], text: str) -> None:
    if queue.full():
        while not queue.empty():
            queue.get_nowait()
        text = _END
    queue.put_nowait(text)
