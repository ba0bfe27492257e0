"""The page's addresses, each a few lines around a plain function."""

import asyncio
import html
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    JSONResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from kerfwright.app.page import remedies
from kerfwright.app.page.answers import Refused, not_now, not_there, not_understood, too_large
from kerfwright.app.page.guard import HOSTS, Guard, LanCode
from kerfwright.app.page.job_changes import accept, bring_program, change_job, new_job, redo, undo
from kerfwright.app.page.machine_answers import (
    machine_at,
    machine_card,
    machine_changed,
    machine_tried,
)
from kerfwright.app.page.pointer import at_moment, at_place, lines_about
from kerfwright.app.page.shop import Shop
from kerfwright.app.page.ticket import ticket
from kerfwright.app.page.went import note_went
from kerfwright.basics import KerfwrightError

STATIC = Path(__file__).with_name("static")
WHO = "kerfwright page 1"
MOST_BODY = 256 * 1024  #: bytes of a question that is no program
FRESH = {"cache-control": "no-store"}
_RAW = "application/octet-stream"

NOT_BUILT = (
    "The page's front end has not been built. In the project's folder run  python3 start.py  (it"
    " needs the network once, to fetch what it is built with). All commands work without it."
)

Answer = Callable[[Shop, Request, Any], Any]


def application(
    shop: Shop, token: str, hosts: tuple[str, ...] = HOSTS, lan: LanCode | None = None
) -> ASGIApp:
    """The whole application behind its guard."""
    routes = [
        Route("/", _index(token)),
        Route("/api/who", _get(shop, _who)),
        Route("/api/state", _get(shop, lambda shop, _r, _b: shop.state())),
        Route("/api/events", _events(shop)),
        Route("/api/jobs/{name}", _get(shop, _ticket)),
        Route("/api/jobs/{name}/maps", _get(shop, _maps)),
        Route("/api/jobs/{name}/maps/{map}", _get(shop, _map)),
        Route("/api/jobs/{name}/path", _get(shop, _path)),
        Route("/api/jobs/{name}/series", _get(shop, _series)),
        Route("/api/jobs/{name}/lines", _get(shop, _lines)),
        Route("/api/jobs/{name}/at", _get(shop, _at)),
        Route("/api/jobs/{name}/prove", _post(shop, _prove), methods=["POST"]),
        Route("/api/jobs/{name}/stop", _post(shop, _stop), methods=["POST"]),
        Route("/api/jobs/{name}/change", _post(shop, _change), methods=["POST"]),
        Route("/api/jobs/{name}/accept", _post(shop, _accept), methods=["POST"]),
        Route("/api/jobs/{name}/went", _post(shop, _went), methods=["POST"]),
        Route("/api/jobs/{name}/try", _post(shop, _try), methods=["POST"]),
        Route("/api/jobs/{name}/tried", _get(shop, _tried)),
        Route("/api/jobs/{name}/keep", _post(shop, _keep), methods=["POST"]),
        Route("/api/programs/{file:path}", _put_program(shop), methods=["PUT"]),
        Route("/api/undo", _post(shop, lambda shop, _r, _b: undo(shop)), methods=["POST"]),
        Route("/api/redo", _post(shop, lambda shop, _r, _b: redo(shop)), methods=["POST"]),
        Route("/api/machine", _get(shop, _machine)),
        Route("/api/machine/at", _get(shop, _machine_at)),
        Route("/api/machine/change", _post(shop, _machine_change), methods=["POST"]),
        Route("/api/machine/what_if", _post(shop, _machine_what_if), methods=["POST"]),
    ]
    if STATIC.is_dir():
        routes.append(Mount("/", StaticFiles(directory=STATIC)))  # type: ignore[arg-type]
    return Guard(Starlette(routes=routes), token, hosts, lan)


def _index(token: str) -> Callable[[Request], Response]:
    def index(_request: Request) -> Response:
        page = STATIC / "index.html"
        if not page.is_file():
            words = html.escape(NOT_BUILT)
            return HTMLResponse(
                f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Kerfwright</title>'
                f"<h1>Kerfwright</h1><p>{words}</p>",
                503,
                headers=FRESH,
            )
        meta = f'<head><meta name="kw-token" content="{token}">'
        text = page.read_text(encoding="utf-8").replace("<head>", meta, 1)
        return HTMLResponse(text, headers=FRESH)

    return index


def _events(shop: Shop) -> Callable[[Request], Response]:
    def events(_request: Request) -> Response:
        if shop.stream.full:
            return _json({"problem": "too many pages are open", "remedy": "close some"}, 409)
        stream = shop.stream.listen(shop.state())
        return StreamingResponse(stream, media_type="text/event-stream", headers=FRESH)

    return events


def _get(shop: Shop, answer: Answer) -> Callable[[Request], Response]:
    def endpoint(request: Request) -> Response:
        return _answered(lambda: answer(shop, request, None))

    return endpoint


def _post(shop: Shop, answer: Answer) -> Any:
    async def endpoint(request: Request) -> Response:
        try:
            body = await _body(request)
        except Refused as refused:
            return _json(refused.value, refused.status)
        return await run_in_threadpool(_answered, lambda: answer(shop, request, body))

    return endpoint


def _put_program(shop: Shop) -> Any:
    bringing = asyncio.Semaphore(2)  # programs that are taken in and read at a time

    async def endpoint(request: Request) -> Response:
        if bringing.locked():
            return _json({"problem": "two programs are being read", "remedy": "wait a moment"}, 409)
        async with bringing:
            try:
                program = await bring_program(shop, request)
            except Refused as refused:
                return _json(refused.value, refused.status)
            except OSError as error:
                return _json({"problem": f"it cannot be kept: {error.strerror}", "remedy": ""}, 409)
            return await run_in_threadpool(_answered, lambda: new_job(shop, program))

    return endpoint


async def _body(request: Request) -> Any:
    """The question's JSON, at most ``MOST_BODY`` bytes of it. Raises ``Refused``."""
    parts, many = [], 0
    async for part in request.stream():
        many += len(part)
        if many > MOST_BODY:
            raise too_large("that is too much for one question")
        parts.append(part)
    text = b"".join(parts)
    if not text:
        return {}
    try:
        body = json.loads(text)
    except (ValueError, RecursionError):
        raise _bad("this is no question of the page's") from None
    if not isinstance(body, dict):
        raise _bad("this is no question of the page's")
    return body


def _bad(problem: str) -> Refused:
    return Refused(400, {"problem": problem, "remedy": "reload the page"})


def _answered(work: Callable[[], Any]) -> Response:
    """Do the work; what it refuses becomes a status with words."""
    try:
        value = work()
    except Refused as refused:
        return _json(refused.value, refused.status)
    except KerfwrightError as error:
        mend = not_understood(error)
        return _json(mend.value, mend.status)
    except FileNotFoundError:
        return _json({"problem": "it is no longer there", "remedy": "prove the job again"}, 404)
    except OSError as error:
        told = {
            "problem": f"a file cannot be used: {error.strerror}",
            "remedy": "look at its folder",
        }
        return _json(told, 409)
    return value if isinstance(value, Response) else _json(value)


def _json(value: Any, status: int = 200) -> Response:
    return JSONResponse(value, status, headers=FRESH)


def _who(shop: Shop, _request: Request, _body: Any) -> Any:
    return {"who": WHO, "folder": str(shop.workshop.folder)}


def _name(request: Request) -> str:
    return str(request.path_params["name"])


def _ticket(shop: Shop, request: Request, _body: Any) -> Any:
    return ticket(shop, _name(request))


def _shown(shop: Shop, request: Request) -> Any:
    """The proof that the page has in mind: 409 where there is a newer one."""
    shown = shop.shown(_name(request))
    wanted = request.query_params.get("made_at")
    if wanted is not None and wanted != shown.made_at:
        raise not_now("there is a newer proof", "load it")
    return shown


def _maps(shop: Shop, request: Request, _body: Any) -> Any:
    return _shown(shop, request).maps()


def _map(shop: Shop, request: Request, _body: Any) -> Any:
    said = request.query_params.get("keyframe")
    if said is not None and not (said.isascii() and said.isdigit() and len(said) < 6):
        raise not_there("there is no such keyframe")
    name = str(request.path_params["map"])
    if name == "path":
        raise not_there("there is no such map")
    return _raw(_shown(shop, request).array_file(name, None if said is None else int(said)))


def _path(shop: Shop, request: Request, _body: Any) -> Any:
    return _raw(_shown(shop, request).array_file("path"))


def _raw(path: Path | None) -> Response:
    if path is None:
        raise not_there("there is no such map")
    return FileResponse(path, media_type=_RAW, headers=FRESH)


def _series(shop: Shop, request: Request, _body: Any) -> Any:
    return _shown(shop, request).series()


def _number(request: Request, key: str, usual: float | None) -> float | None:
    said = request.query_params.get(key)
    if said is None:
        return usual
    try:
        value = float(said)
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e9:
        raise _bad(f"{key} is no number")
    return value


def _lines(shop: Shop, request: Request, _body: Any) -> Any:
    from kerfwright.app.page.shown import read_shown

    job = shop.job(_name(request))
    program = shop.program(job)
    if program is None:
        raise not_there("this job has no program")
    shown = read_shown(shop.workshop, job.name)
    if shown is not None and not shop.is_fresh(job, shown):
        shown = None  # its times belong to an earlier text
    first = int(_number(request, "first", 1.0) or 1)
    count = int(_number(request, "count", 200.0) or 200)
    return lines_about(shown, program, first, count, _number(request, "at_s", None))


def _at(shop: Shop, request: Request, _body: Any) -> Any:
    shown = _shown(shop, request)
    time_s = _number(request, "time_s", None)
    if time_s is not None:
        return at_moment(shown, time_s)
    x, y = _number(request, "x", None), _number(request, "y", None)
    if x is None or y is None:
        raise _bad("neither a place nor a moment")
    return at_place(shown, x, y)


def _prove(shop: Shop, request: Request, _body: Any) -> Any:
    shop.prove(_name(request))
    return ticket(shop, _name(request))


def _change(shop: Shop, request: Request, body: Any) -> Any:
    return change_job(shop, _name(request), body)


def _accept(shop: Shop, request: Request, body: Any) -> Any:
    return accept(shop, _name(request), body)


def _went(shop: Shop, request: Request, body: Any) -> Any:
    note_went(shop, _name(request), body)
    return ticket(shop, _name(request))


def _try(shop: Shop, request: Request, body: Any) -> Any:
    return remedies.try_one(shop, _name(request), body)


def _tried(shop: Shop, request: Request, _body: Any) -> Any:
    return remedies.tried(shop, _name(request))


def _keep(shop: Shop, request: Request, _body: Any) -> Any:
    return remedies.keep(shop, _name(request))


def _stop(shop: Shop, request: Request, _body: Any) -> Any:
    shop.stop(_name(request))
    return ticket(shop, _name(request))


def _machine(shop: Shop, _request: Request, _body: Any) -> Any:
    return machine_card(shop)


def _machine_at(shop: Shop, request: Request, _body: Any) -> Any:
    x, y, z, along = (_number(request, key, 0.0) or 0.0 for key in ("x", "y", "z", "along"))
    return machine_at(shop, x, y, z, along)


def _machine_change(shop: Shop, _request: Request, body: Any) -> Any:
    return machine_changed(shop, body)


def _machine_what_if(shop: Shop, _request: Request, body: Any) -> Any:
    return machine_tried(shop, body)
