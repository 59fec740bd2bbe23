"""Who may speak to the desk: this machine's own browser, with the token, and nobody through it.

A page of another site that is open in the same browser can send requests to 127.0.0.1. So the
name in Host must be ours (against names that were rebound to this machine), everything that changes
something must come from a page of ours (Origin), and everything needs the token, which only who
started the desk was told. The policy in the headers lets pages load nothing that is not ours, and
run no script that stands in a page.
Sources: Fetch standard (Origin), RFC 9110 section 7.2 (Host), RFC 6265bis (SameSite), CSP Level 3.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE = ("GET", "HEAD")
#: Of a form; uploads have limits of their own.
MOST_FORM_BYTES = 1024 * 1024

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "media-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "microphone=(self), camera=(), geolocation=(), interest-cohort=()",
}

NO_TOKEN = (
    "This desk does not know this browser window. Open it by the whole address that `rondel desk` "
    "printed when it started, with all that stands after the question mark."
)
NOT_OURS = "This did not come from a page of this desk, so nothing was done."
TOO_LARGE = "This is larger than any form of this desk; nothing was done."


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """The token of this run, and the names under which the desk is reached.

    `once` opens one browser, the one that is started here: its address stands in the list of
    processes, which everybody on the machine can read.
    """

    token: str
    port: int
    once: str = ""

    @property
    def cookie(self) -> str:
        """The name of the cookie; ports share cookies, so it tells them apart."""
        return f"rondel-{self.port}"

    @property
    def hosts(self) -> tuple[str, ...]:
        return (f"127.0.0.1:{self.port}", f"localhost:{self.port}")

    @property
    def origins(self) -> tuple[str, ...]:
        return tuple(f"http://{host}" for host in self.hosts)

    def opens(self, word: str | None) -> bool:
        """True for the token; takes the same time for every wrong one."""
        return word is not None and secrets.compare_digest(word.encode(), self.token.encode())


class Guard:
    """Lets only requests of our own pages through to `app`, and puts its headers on all answers."""

    def __init__(self, app: ASGIApp, key: Key) -> None:
        self._app, self._key = app, key
        self._once = key.once

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", _kept_for(scope["path"]))
            await send(message)

        answer = self._answer(scope)
        await (answer or self._app)(scope, receive, guarded)

    def _answer(self, scope: Scope) -> Response | None:
        """Return what is answered here already; None where the request may pass."""
        headers, method = Headers(scope=scope), scope["method"]
        if headers.get("host") not in self._key.hosts:
            return PlainTextResponse(NOT_OURS, 421)
        entering = self._entering(scope, method)
        if entering is not None:
            return entering
        if not self._key.opens(_cookies(headers).get(self._key.cookie)):
            return PlainTextResponse(NO_TOKEN, 403)
        if method in SAFE:
            return PlainTextResponse(NOT_OURS, 403) if _is_strange(scope["path"], headers) else None
        if headers.get("origin") not in self._key.origins:
            return PlainTextResponse(NOT_OURS, 403)
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return PlainTextResponse(NOT_OURS, 403)
        is_form = not scope["path"].startswith("/bring/")
        length = headers.get("content-length", "")
        if is_form and (not length.isdecimal() or int(length) > MOST_FORM_BYTES):
            return PlainTextResponse(TOO_LARGE, 413)
        return None

    def _entering(self, scope: Scope, method: str) -> Response | None:
        """Return the answer to the address that was printed: a cookie, and the way to the start."""
        words = QueryParams(scope["query_string"])
        if scope["path"] != "/" or method != "GET" or not {"token", "once"} & set(words):
            return None
        if "once" in words:
            opens = secrets.compare_digest(words["once"].encode(), self._once.encode())
            opens = opens and self._once != ""
            self._once = "" if opens else self._once
        else:
            opens = self._key.opens(words["token"])
        if not opens:
            return PlainTextResponse(NO_TOKEN, 403)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(
            self._key.cookie, self._key.token, httponly=True, samesite="strict", path="/"
        )
        return answer


def _is_strange(path: str, headers: Headers) -> bool:
    """True where another site's page asks, be it of this machine: ports share cookies. It may only
    send the whole window to the first leaf."""
    site = headers.get("sec-fetch-site", "none")
    is_visit = path == "/" and headers.get("sec-fetch-mode") == "navigate"
    return site not in ("none", "same-origin") and not is_visit


def _kept_for(path: str) -> str:
    """Return how long the browser may keep an answer: what is hers not at all, our own letters a
    week, our scripts and styles as long as they are the same."""
    if path.startswith("/fonts/"):
        return "private, max-age=604800"
    return "no-cache" if path.startswith("/static/") else "no-store"


def _cookies(headers: Headers) -> Mapping[str, str]:
    found: dict[str, str] = {}
    for part in headers.get("cookie", "").split(";"):
        name, _, value = part.strip().partition("=")
        found.setdefault(name, value)
    return found
