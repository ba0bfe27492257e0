"""Who may talk to the page: this computer's own browser, on the page that this server gave it.

The page writes files, so no other page that is open in the browser may reach it. Its name must be
one of ours (against names that are made to point here), the asking page must be ours, and whatever
changes something carries the token that only our own page was given.
"""

import asyncio
import secrets
from dataclasses import dataclass, field
from urllib.parse import parse_qs, urlencode

from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

TOKEN_HEADER = "kerfwright-token"
LAN_COOKIE = "kerfwright-lan"
HOSTS = ("127.0.0.1", "localhost", "[::1]")
#: No eval, nothing from elsewhere. Styles within the page are needed for what is drawn to scale.
CONTENT_POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; object-src 'none'; "
    "frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
)
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}
_READING = ("GET", "HEAD")
_WRONG_CODES = 10


def token() -> str:
    """A new token, which nobody can guess."""
    return secrets.token_urlsafe(24)


@dataclass(slots=True)
class LanCode:
    """The code that lets one other device in: used once, and void after ten wrong ones."""

    code: str = field(default_factory=lambda: f"{secrets.randbelow(10**8):08d}")
    cookies: set[str] = field(default_factory=set)
    wrong: int = 0
    used: bool = False

    def let_in(self, said: str) -> str | None:
        """A cookie for the device, or None."""
        if self.used or self.wrong >= _WRONG_CODES:
            return None
        if not secrets.compare_digest(said.encode(), self.code.encode()):
            self.wrong += 1
            return None
        self.used = True
        cookie = secrets.token_urlsafe(24)
        self.cookies.add(cookie)
        return cookie

    def knows(self, cookie: str) -> bool:
        """Whether a device was let in before."""
        return any(secrets.compare_digest(cookie, one) for one in self.cookies)


class Guard:
    """Turns away every request that does not come from our own page, before anything reads it."""

    def __init__(
        self, app: ASGIApp, token: str, hosts: tuple[str, ...] = HOSTS, lan: LanCode | None = None
    ) -> None:
        self._app, self._token, self._hosts, self._lan = app, token, hosts, lan

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let through or answer 4xx."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        headers = _headers(scope)
        refused = self._refuses(scope, headers) or await self._stranger(scope, headers)
        if refused is not None:
            refused.headers.update(HEADERS)
            await refused(scope, receive, send)
            return

        async def with_headers(message: dict) -> None:  # type: ignore[type-arg]
            if message["type"] == "http.response.start":
                there = {name for name, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *(
                        (name.encode(), value.encode())
                        for name, value in HEADERS.items()
                        if name.encode() not in there
                    ),
                ]
            await send(message)

        await self._app(scope, receive, with_headers)  # type: ignore[arg-type]

    def _refuses(self, scope: Scope, headers: dict[str, str]) -> Response | None:
        host = headers.get("host", "")
        if _without_port(host) not in self._hosts:
            return PlainTextResponse("this name is not one of this computer's", 403)
        origin = headers.get("origin")
        if origin is not None and origin.lower() != f"http://{host}".lower():
            return PlainTextResponse("another page may not ask here", 403)
        site = headers.get("sec-fetch-site", "none")
        opened = (
            site == "cross-site"
            and scope["path"] == "/"
            and scope["method"] == "GET"
            and headers.get("sec-fetch-mode") == "navigate"
            and headers.get("sec-fetch-dest") == "document"
        )  # a link to the page from elsewhere; nothing of it can be read there
        if site not in ("same-origin", "none") and not opened:
            return PlainTextResponse("another page may not ask here", 403)
        if scope["method"] not in _READING:
            said = headers.get(TOKEN_HEADER, "").encode("latin-1", "replace")
            if not secrets.compare_digest(said, self._token.encode()):
                return PlainTextResponse("reload the page: it is of an earlier start", 403)
        return None

    async def _stranger(self, scope: Scope, headers: dict[str, str]) -> Response | None:
        """Another device is let in by the code that this computer printed, once."""
        client = scope.get("client")
        if self._lan is None or client is None or client[0] in ("127.0.0.1", "::1"):
            return None
        cookie = _cookie(headers.get("cookie", ""))
        if cookie and self._lan.knows(cookie):
            return None
        said = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("code", [""])[0]
        if scope["path"] == "/" and said:
            fresh = self._lan.let_in(said)
            if fresh is not None:
                answer = RedirectResponse("/", 303)
                answer.set_cookie(LAN_COOKIE, fresh, httponly=True, samesite="strict")
                return answer
            await asyncio.sleep(0.2)  # guessing is slow
        return HTMLResponse(_ASK, 403)


def page_address(host: str, port: int, code: str = "") -> str:
    """Where the page is."""
    query = f"?{urlencode({'code': code})}" if code else ""
    return f"http://{host}:{port}/{query}"


_ASK = """<!doctype html><html lang="en"><meta charset="utf-8">
<meta name="viewport" content="width=device-width"><title>Kerfwright</title>
<h1>Kerfwright</h1>
<form><label>Code that the other computer shows: <input name="code" inputmode="numeric"
autocomplete="one-time-code" autofocus></label> <button>Open</button></form>
<p>A code lets one device in. For another one start <code>kerfwright open --lan</code> again.</p>
"""


def _headers(scope: Scope) -> dict[str, str]:
    """By name; where one is given twice both are kept, so that the second cannot hide."""
    out: dict[str, str] = {}
    for raw, value in scope["headers"]:
        name, text = raw.decode("latin-1").lower(), value.decode("latin-1")
        out[name] = f"{out[name]}, {text}" if name in out else text
    return out


def _without_port(host: str) -> str:
    name, colon, port = host.rpartition(":")
    return (name if colon and port.isdigit() else host).lower()


def _cookie(header: str) -> str:
    for part in header.replace(",", ";").split(";"):
        name, _, value = part.strip().partition("=")
        if name == LAN_COOKIE:
            return value
    return ""
