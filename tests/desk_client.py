"""A desk for tests: a real server in a process of its own, and a plain client to ask it."""

from __future__ import annotations

import http.client
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from urllib.parse import urlencode

from rondel.adapters.routine_shelf import Shelf
from rondel.adapters.studio_files import craft_for, demo_brief, start_studio
from rondel.app.make_plan import with_cues
from rondel.model.routine import Routine
from rondel.planner.attempts import QUICK
from rondel.planner.plan import plan


@dataclass(frozen=True, kw_only=True)
class Answer:
    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8")


@dataclass(kw_only=True)
class DeskClient:
    """Asks one desk as its own browser does, unless headers say otherwise."""

    address: str
    process: subprocess.Popen[str]

    @property
    def base(self) -> str:
        return self.address.split("/?")[0]

    @property
    def token(self) -> str:
        return self.address.split("token=")[1]

    @property
    def port(self) -> int:
        return int(self.base.rsplit(":", 1)[1])

    def ask(
        self,
        path: str,
        form: Mapping[str, object] | None = None,
        *,
        body: bytes | None = None,
        headers: Mapping[str, str | None] | None = None,
    ) -> Answer:
        """GET `path`, or POST where a form or a body is given. A header of None is left out."""
        usual: dict[str, str | None] = {
            "Cookie": f"rondel-{self.port}={self.token}",
            "Host": f"127.0.0.1:{self.port}",
        }
        method = "GET"
        if form is not None or body is not None:
            method = "POST"
            usual["Origin"] = self.base
            if form is not None:
                body = urlencode(dict(form), doseq=True).encode()
                usual["Content-Type"] = "application/x-www-form-urlencoded"
        wanted = {k: v for k, v in {**usual, **(headers or {})}.items() if v is not None}
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in wanted.items():
                connection.putheader(name, value)
            if body is not None and "Content-Length" not in wanted:
                connection.putheader("Content-Length", str(len(body)))
            connection.endheaders(body)
            answer = connection.getresponse()
            found = {k.lower(): v for k, v in answer.getheaders()}
            return Answer(status=answer.status, headers=found, body=answer.read())
        finally:
            connection.close()


@contextmanager
def running_desk(studio: Path) -> Iterator[DeskClient]:
    """Start `rondel desk` on `studio` and end it afterwards."""
    command = [sys.executable, "-m", "rondel.cli.main", "desk", str(studio), "--no-browser"]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "RONDEL_TRACE": "1"},
    )
    assert process.stdout is not None
    try:
        address = process.stdout.readline().strip()
        assert address.startswith("http://127.0.0.1:"), "the desk did not start"
        yield DeskClient(address=address, process=process)
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


@cache
def demo_routine() -> Routine:
    """Return the demo's routine, planned quickly, with its words."""
    from rondel.adapters.craft_files import builtin_craft

    found = plan(demo_brief(), builtin_craft(), effort=QUICK).routine
    assert found is not None
    return with_cues(found, builtin_craft())


def studio_with_demo(folder: Path) -> Path:
    """Return a studio in which the demo's routine is planned already."""
    studio = folder / "studio"
    start_studio(studio)
    assert craft_for(studio).techniques
    Shelf(studio).add(demo_routine(), "", "Planned.", over="lamplight")
    return studio
