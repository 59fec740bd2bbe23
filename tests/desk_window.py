"""A desk spoken to without a network: requests go straight to the application, as ASGI messages.

No HTTP library is needed. A client keeps the cookie that the printed address gives, and sends what
a browser sends with a form of its own page.
"""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote_plus, urlsplit

from starlette.types import ASGIApp, Message

from rondel.desk.app import desk_app
from rondel.desk.desk import Desk
from rondel.desk.guard import Key

HOST = "127.0.0.1:8700"
KEY = Key(token="a-token-for-tests", port=8700)
#: A field that is given several times has several words.
Fields = Mapping[str, str | Sequence[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back. `text` is empty for bytes that are no text."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")

    @property
    def words(self) -> str:
        """The words of a page as they are read, without marks."""
        bare = re.sub(r"<script.*?</script>|<[^>]+>", " ", self.text, flags=re.DOTALL)
        return " ".join(html.unescape(bare).split())

    def value(self, name: str, after: str = "") -> str:
        """Return the value of the first field called `name`, after the text `after`."""
        rest = self.text[self.text.index(after) :]
        found = re.search(rf'name="{name}" value="([^"]*)"', rest)
        assert found, f"there is no field {name}"
        return html.unescape(found[1])


class DeskWindow:
    """One browser window at the desk of `studio`."""

    def __init__(self, studio: Path) -> None:
        self.app: ASGIApp = desk_app(Desk(studio=studio, key=KEY))
        self.cookie = f"{KEY.cookie}={KEY.token}"

    def get(self, path: str, fields: Fields | None = None) -> Answer:
        asked = f"{path}?{_packed(fields)}" if fields else path
        return self._ask("GET", asked, b"", {})

    def post(self, path: str, fields: Fields, headers: Mapping[str, str] | None = None) -> Answer:
        """Send a form. `headers` take the place of what a browser would send."""
        body = _packed(fields).encode()
        usual = {
            "content-type": "application/x-www-form-urlencoded",
            "content-length": str(len(body)),
            "origin": f"http://{HOST}",
            "sec-fetch-site": "same-origin",
        }
        return self._ask("POST", path, body, usual | dict(headers or {}))

    def then(self, answer: Answer) -> Answer:
        """Follow the answer to where it sends the browser."""
        assert answer.status == 303, answer.words
        there = urlsplit(answer.headers["location"])
        return self.get(there.path + (f"?{there.query}" if there.query else ""))

    def _ask(self, method: str, path: str, body: bytes, headers: Mapping[str, str]) -> Answer:
        return asyncio.run(self._answer(method, path, body, headers))

    async def _answer(
        self, method: str, path: str, body: bytes, headers: Mapping[str, str]
    ) -> Answer:
        sent = {"host": HOST, "cookie": self.cookie, "accept-language": "en", **headers}
        there = urlsplit(path)
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
            "scheme": "http", "path": there.path, "raw_path": there.path.encode(),
            "query_string": there.query.encode(), "root_path": "", "server": ("127.0.0.1", 8700),
            "headers": [(k.encode(), v.encode()) for k, v in sent.items()],
        }  # fmt: skip
        came: list[Message] = []
        todo: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive() -> Message:
            return todo.pop() if todo else {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            came.append(message)

        await self.app(scope, receive, send)
        start = next(m for m in came if m["type"] == "http.response.start")
        parts = [m.get("body", b"") for m in came if m["type"] == "http.response.body"]
        found = {k.decode().lower(): v.decode() for k, v in start["headers"]}
        return Answer(status=start["status"], headers=found, body=b"".join(parts))


def _packed(fields: Fields) -> str:
    pairs = [
        (name, word)
        for name, words in fields.items()
        for word in ([words] if isinstance(words, str) else words)
    ]
    return "&".join(f"{quote_plus(name)}={quote_plus(word)}" for name, word in pairs)
