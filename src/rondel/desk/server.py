"""Start the desk: a free port on this machine only, an address with a token, the browser."""

from __future__ import annotations

import asyncio
import secrets
import signal
from collections.abc import Callable
from pathlib import Path

import uvicorn

from rondel.adapters.studio_files import start_studio
from rondel.desk.app import desk_app
from rondel.desk.asking import warm_leaves
from rondel.desk.desk import Desk
from rondel.desk.guard import Key
from rondel.model.errors import BadInput, OutsideFailure

HOST = "127.0.0.1"


class _Server(uvicorn.Server):
    """Tells when it can be reached, and ends its workers when it ends."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[object] | None = None) -> None:  # type: ignore[override]
        await super().startup(sockets=sockets)  # type: ignore[arg-type]
        if self.started:
            self._ready()


def serve_desk(studio: Path, *, port: int, ready: Callable[[str, str], None]) -> None:
    """Serve the studio until it is stopped.

    `ready` is told the address once it can be opened, and one that opens a single browser.

    A folder that is new or empty becomes a studio. Port 0 takes a free one. Raises BadInput for a
    folder that is no studio, OutsideFailure where the port is taken.
    """
    _studio(studio)
    config = uvicorn.Config(
        "", host=HOST, port=port, log_level="critical", access_log=False, server_header=False,
        lifespan="off", timeout_graceful_shutdown=2,
    )  # fmt: skip
    try:
        bound = config.bind_socket()
    except SystemExit as error:
        says = f"port {port} is taken; name another with --port, or leave it out"
        raise OutsideFailure(says) from error
    port = int(bound.getsockname()[1])
    key = Key(token=secrets.token_urlsafe(24), port=port, once=secrets.token_urlsafe(24))
    desk = Desk(studio=studio.resolve(), key=key)
    config.app = desk_app(desk)
    desk.shelf.sweep()
    warm_leaves()
    desk.warm_up()
    home = f"http://{HOST}:{port}/"
    server = _Server(config, lambda: ready(f"{home}?token={key.token}", f"{home}?once={key.once}"))
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ended as by Ctrl-C, helpers too
    try:
        asyncio.run(server.serve(sockets=[bound]))
    except KeyboardInterrupt:
        pass
    finally:
        desk.close()
        bound.close()


def _studio(studio: Path) -> None:
    """Make a studio of a new or empty folder; BadInput for one that holds something else."""
    if studio.exists() and not studio.is_dir():
        raise BadInput("this is a file, and a studio is a folder", at=str(studio))
    if (studio / "studio.toml").is_file():
        return
    if studio.is_dir() and any(studio.iterdir()):
        raise BadInput(
            "this folder is no studio of yours: there is no studio.toml in it. Name a studio, or a "
            "new folder to begin one",
            at=str(studio),
        )
    start_studio(studio)
