"""The page's server on this computer: started, found again, and stopped within two seconds."""

import asyncio
import contextlib
import json
import os
import signal
import socket
import sys
import threading
import urllib.request
import webbrowser
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

import uvicorn

from kerfwright.app.page.application import NOT_BUILT, STATIC, WHO, application
from kerfwright.app.page.guard import HOSTS, LanCode, page_address, token
from kerfwright.app.page.shop import Shop
from kerfwright.basics import InputError, Place
from kerfwright.formats.atomic import write_text
from kerfwright.workshop.folder import Workshop

LOOPBACK = "127.0.0.1"
ADDRESS_FILE = "page.json"  #: in the workshop's cache: where its page is open
_USUAL_PORT = 8417
_PORTS_TRIED = 20


def serve(
    workshop: Workshop,
    *,
    example: str | None,
    port: int | None,
    browser: bool,
    lan: bool,
    threads: int,
) -> None:
    """Serve the page of one workshop until the person stops it.

    ``example`` is the demo's job that the page opens on, proved unasked; None for a workshop of
    the person's own.

    Raises
    ------
    InputError
        If the port that was asked for is taken.
    """
    found = None if lan else _found(workshop)
    if found is not None:
        _tell(found, workshop, already=True)
        if browser:
            webbrowser.open(found)
        return
    listening = _listen("0.0.0.0" if lan else LOOPBACK, port)
    number = int(listening.getsockname()[1])
    code = LanCode() if lan else None
    names = _names() if lan else ()
    shop = Shop(workshop, demo=example is not None, threads=threads, example=example or "")
    app = application(shop, token(), (*HOSTS, *names), code)
    server = _Server(_config(app), shop)
    address = page_address(LOOPBACK, number)
    _tell(address, workshop, already=False)
    if not (STATIC / "index.html").is_file():
        print(NOT_BUILT, flush=True)
    if code is not None:
        for name in names[:2]:
            print(f"On another device, once: {page_address(name, number, code.code)}", flush=True)
    with _noted(workshop, address):
        if example is not None:
            shop.prove_example()
        shop.errands.keep_ready()
        if browser:
            threading.Thread(target=_open_when_up, args=(server, address), daemon=True).start()
        server.run(sockets=[listening])
    print("The page is closed.", flush=True)


class _Server(uvicorn.Server):
    """Ends streams and errands first when it is told to stop; then nothing holds it up."""

    def __init__(self, config: uvicorn.Config, shop: Shop) -> None:
        super().__init__(config)
        self._shop = shop

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Ctrl-C and SIGTERM end it; they are not raised again afterwards."""
        asked = [signal.SIGINT, signal.SIGTERM]
        before = {number: signal.signal(number, self._hear) for number in asked}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _hear(self, number: int, frame: FrameType | None) -> None:  # noqa: ARG002
        self.should_exit = True
        threading.Thread(target=self._shop.close, daemon=True).start()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Stop what is under way, then the connections."""
        await asyncio.to_thread(self._shop.close)
        await super().shutdown(sockets)


def _config(app: object) -> uvicorn.Config:
    return uvicorn.Config(
        app,  # type: ignore[arg-type]
        http="h11",
        ws="none",
        lifespan="off",
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=1,
        limit_concurrency=200,
        h11_max_incomplete_event_size=32_768,
    )


def _tell(address: str, workshop: Workshop, *, already: bool) -> None:
    said = "is open already at" if already else "is open at"
    print(f"The page of {workshop.folder} {said}", flush=True)
    print(address, flush=True)
    if not already:
        print("Leave this running while you use it; Ctrl-C closes it.", flush=True)


def _listen(host: str, port: int | None) -> socket.socket:
    """A socket that listens, on the port asked for or the first free one from the usual one on."""
    tries = [port] if port is not None else [*range(_USUAL_PORT, _USUAL_PORT + _PORTS_TRIED), 0]
    for number in tries:
        one = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name != "nt":  # there it would let two programs share a port
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((host, number))
            one.listen(64)
        except (OSError, OverflowError):
            one.close()
            continue
        return one
    raise InputError(
        Place(file="--port"),
        f"port {tries[0]} cannot be used: another program has it, or it is not allowed",
        "leave --port out, and a free one is taken",
    )


def _names() -> tuple[str, ...]:
    """Addresses of this computer on the local network."""
    found = []
    with contextlib.suppress(OSError):
        found += [info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None)]
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # nothing is sent: this only asks which way it would go
        found.insert(0, probe.getsockname()[0])
    return tuple(dict.fromkeys(str(n) for n in found if ":" not in str(n) and n != LOOPBACK))


@contextlib.contextmanager
def _noted(workshop: Workshop, address: str) -> Iterator[None]:
    """Leave word in the workshop of where its page is, so that a second start finds it."""
    path = workshop.folder / ".cache" / ADDRESS_FILE
    if not workshop.read_only:
        with contextlib.suppress(OSError):
            write_text(path, json.dumps({"address": address}))
    try:
        yield
    finally:
        with contextlib.suppress(OSError, ValueError):
            if json.loads(path.read_text(encoding="utf-8")).get("address") == address:
                path.unlink()


def _found(workshop: Workshop) -> str | None:
    """Where this workshop's page is open already."""
    path = workshop.folder / ".cache" / ADDRESS_FILE
    try:
        address = str(json.loads(path.read_text(encoding="utf-8"))["address"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if not address.startswith(f"http://{LOOPBACK}:"):
        return None
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(f"{address}api/who", timeout=2.0) as answer:
            who = json.loads(answer.read(4096))
        same = who["who"] == WHO and Path(who["folder"]).samefile(workshop.folder)
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return address if same else None


def _open_when_up(server: uvicorn.Server, address: str) -> None:
    import time

    for _ in range(200):
        if server.started:
            break
        time.sleep(0.02)
    with contextlib.suppress(webbrowser.Error):
        if not webbrowser.open(address):
            print(f"No browser could be opened: open {address} yourself", file=sys.stderr)
