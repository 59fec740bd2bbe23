"""The desk as an ASGI application: routes, static files, and a kind word for every failure."""

from __future__ import annotations

import os
import traceback
from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from rondel.adapters.routine_shelf import Stale
from rondel.desk import bringing
from rondel.desk.asking import Ask
from rondel.desk.desk import Desk
from rondel.desk.guard import Guard
from rondel.desk.leaves import (
    away,
    brief,
    hand_names,
    hands,
    hands_here,
    hear,
    music,
    page,
    routines,
    rules,
    session,
    start,
    takes,
    voice,
    ways,
)
from rondel.model.errors import BadInput, RondelError

HERE = Path(str(files("rondel") / "desk"))
FONTS = Path(str(files("rondel") / "data" / "fonts"))


def desk_app(desk: Desk) -> Starlette:
    """Return the application that serves `desk`."""
    app = Starlette(
        routes=[
            *start.ROUTES,
            *page.ROUTES,
            *ways.ROUTES,
            *hear.ROUTES,
            *hands.ROUTES,
            *hand_names.ROUTES,
            *hands_here.ROUTES,
            *rules.ROUTES,
            *routines.ROUTES,
            *brief.ROUTES,
            *music.ROUTES,
            *takes.ROUTES,
            *voice.ROUTES,
            *bringing.ROUTES,
            *session.ROUTES,
            *away.ROUTES,
            Mount("/static", StaticFiles(directory=HERE / "static")),
            Mount("/fonts", StaticFiles(directory=FONTS)),
        ],
        middleware=[Middleware(Guard, key=desk.key)],
        exception_handlers={
            Stale: _said,
            RondelError: _said,
            HTTPException: _missing,
            Exception: _broken,
        },
    )
    app.state.desk = desk
    return app


async def _said(request: Request, error: Exception) -> Response:
    """A sentence of ours, with the code that fits."""
    code = 409 if isinstance(error, Stale) else 422 if isinstance(error, BadInput) else 500
    return _trouble(request, str(error), code)


async def _missing(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    code = error.status_code
    says = "there is no such leaf in this book" if code == 404 else "this cannot be asked here"
    return _trouble(request, says, code)


async def _broken(request: Request, error: Exception) -> Response:
    if os.environ.get("RONDEL_TRACE"):
        traceback.print_exception(error)
    kind = type(error).__name__
    says = (
        f"something went wrong inside Rondel itself ({kind}: {error}); nothing was changed. "
        "Please tell us, with the routine you had open"
    )
    return _trouble(request, says, 500)


def _trouble(request: Request, says: str, code: int) -> Response:
    from starlette.datastructures import FormData

    ask = Ask(desk=request.app.state.desk, request=request, form=FormData())
    return ask.page("trouble.html", code, says=says)
