"""The session: make it, watch it being made, stop, go on, look at what came, take it along."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import zipfile
from base64 import b64encode
from dataclasses import asdict
from functools import cache
from pathlib import Path

from markupsafe import Markup
from starlette.background import BackgroundTask
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from rondel.adapters.follow_files import follow_template
from rondel.adapters.routine_shelf import ROUTINE, Kept
from rondel.adapters.session_folder import MADE
from rondel.desk import making
from rondel.desk.asking import Ask, answering, data, to
from rondel.desk.jobs import State
from rondel.desk.leaves.hear import QUICK, SESSION, is_of
from rondel.desk.making_cost import cost_of
from rondel.drawing.figure import still
from rondel.drawing.page_cards import TechniqueCard, technique_cards
from rondel.model.errors import BadInput
from rondel.model.names import language_of
from rondel.music.loudness_targets import TARGETS

#: What of a session may be shown in the browser, by its suffix; all else is only taken along.
SHOWN = {
    ".mp4": "video/mp4",
    ".m4a": "audio/mp4",
    ".flac": "audio/flac",
    ".vtt": "text/vtt; charset=utf-8",
    ".svg": "image/svg+xml",
    ".pdf": "application/pdf",
    ".mid": "audio/midi",
    ".otio": "application/json",
    ".json": "application/json",
}


#: The leaf that work is followed on, by what it is.
WHERE = {"track": "music", "take": "takes", "others": "others", "levels": "levels"}
FOLLOW = "follow/index.html"
#: The video in its other shapes.
SHAPED = {"tall": "session-tall.mp4", "square": "session-square.mp4"}


def about(slug: str) -> str:
    return f"session {slug}"


def session(ask: Ask) -> Response:
    return _show(ask, ask.desk.open(ask.path("slug")))


def _show(
    ask: Ask, kept: Kept, *, form: making.Filled | None = None, status: int = 200
) -> Response:
    job = ask.desk.jobs.find(about(kept.slug))
    shown, is_fresh = _shown(ask, kept)
    folder = kept.folder / shown
    minutes = float(kept.routine.clock.total_seconds) / 60
    return ask.leaf(
        "session.html",
        "session",
        kept,
        status,
        making=form or making.filled(making.kept_in(kept.folder)),
        targets=TARGETS,
        has_track=kept.routine.music.kind == "track",
        state=told_state(ask, job.state) if job else None,
        files=_files(kept, shown),
        is_fresh=is_fresh,
        is_quick=shown == QUICK,
        has_both=all((kept.folder / name / MADE).is_file() for name in (SESSION, QUICK)),
        folder=folder,
        captions=_captions(folder / "captions.vtt"),
        cards=_cards(ask, kept) if (folder / "cards.pdf").is_file() else [],
        whole=cost_of(minutes, quick=False),
        small=cost_of(minutes, quick=True),
    )


def _shown(ask: Ask, kept: Kept) -> tuple[str, bool]:
    """Return which of the two folders is shown, and whether what is in it is of all that lies here
    now: the whole session rather than the small one, and what is fresh rather than what is not."""
    made = [name for name in (SESSION, QUICK) if (kept.folder / name / MADE).is_file()]
    asked = ask.word("which")
    fresh = {name: is_of(ask.desk, kept, name) for name in made}
    if asked in made:
        return asked, fresh[asked]
    found = next((name for name in made if fresh[name]), made[0] if made else SESSION)
    return found, fresh.get(found, False)


def _captions(path: Path) -> list[tuple[str, str]]:
    """Return the captions that were made as (when, words)."""
    try:
        blocks = path.read_text("utf-8").split("\n\n")
    except (OSError, UnicodeDecodeError):
        return []
    found = []
    for block in blocks:
        rows = block.strip().split("\n")
        at = next((i for i, row in enumerate(rows) if " --> " in row), None)
        if at is not None:
            began = rows[at].split(" --> ")[0].split(".")[0]
            found.append((began.removeprefix("00:"), " ".join(rows[at + 1 :])))
    return found


def _cards(ask: Ask, kept: Kept) -> list[tuple[TechniqueCard, Markup]]:
    """Return the cards of the techniques with their figures."""
    craft = ask.desk.craft().in_language(language_of(kept.routine))
    key = ("cards", kept.slug, kept.version, ask.desk.craft_stamp())

    def made() -> list[tuple[TechniqueCard, Markup]]:
        return [(c, Markup(c.picture)) for c in technique_cards(kept.routine, craft, still)]

    return ask.desk.recent.get(key, made)


def _files(kept: Kept, shown: str) -> dict[str, str]:
    """Return what there is to look at: its address by what it is, empty where it is not made."""
    folder = kept.folder / shown
    wanted = {
        "video": "session.mp4",
        "sound": "session.m4a",
        "captions": "captions.vtt",
        "page": "page.svg",
        "paper": "page.pdf",
        "cards": "cards.pdf",
        "score": "score.mid",
        **SHAPED,
        "follow": FOLLOW,
    }
    return {
        what: f"/r/{kept.slug}/files/{shown}/{name}?of={path.stat().st_mtime_ns}"
        if path.is_file()
        else ""
        for what, name in wanted.items()
        if (path := folder / name)
    }


def make(ask: Ask) -> Response:
    """Start making it, or go on with what was stopped."""
    kept = ask.desk.open(ask.path("slug"))
    form = making.typed_in(ask)
    if form is not None and form.troubles:
        return _show(ask, kept, form=form, status=422)
    wished = making.asked_in(form) if form else None
    if wished is not None:
        making.keep(kept.folder, wished)
    order = {
        "kind": "make",
        "making": asdict(wished or making.kept_in(kept.folder)),
        "source": str(kept.folder / ROUTINE),
        "out": str(kept.folder / (QUICK if ask.word("how") == "quick" else SESSION)),
        "quick": ask.word("how") == "quick",
    }
    ask.desk.jobs.start(about(kept.slug), order)
    return to(f"/r/{kept.slug}/session")


def stop(ask: Ask) -> Response:
    slug = ask.path("slug")
    ask.desk.shelf.folder(slug)
    job = ask.desk.jobs.find(about(slug))
    if job is not None and job.state.is_running:
        job.stop()
        job.wait(10)
    return to(f"/r/{slug}/session")


def state(ask: Ask) -> Response:
    """Tell how far it is."""
    slug = ask.path("slug")
    ask.desk.shelf.folder(slug)
    job = ask.desk.jobs.find(about(slug))
    return data(told_state(ask, job.state) if job else {"is_running": False})


def stop_working(ask: Ask) -> Response:
    """Stop listening to a track, watching a take, or planning other ways of this routine."""
    slug, name = ask.path("slug"), ask.word("about")
    ask.desk.shelf.folder(slug)
    job = ask.desk.jobs.find(name) if is_about(name, slug) else None
    if job is not None and job.state.is_running:
        job.stop()
        job.wait(10)
    return to(f"/r/{slug}/{WHERE.get(name.split(' ', 1)[0], 'takes')}")


def is_about(name: str, slug: str) -> bool:
    """True where the work called `name` is about the routine `slug`."""
    return name.split(" ", 1)[-1].split("/", 1)[0] == slug


def working(ask: Ask) -> Response:
    """Tell how far all work about a routine is: sessions, tracks, takes, other ways. What came of
    it is not told here: it may be long."""
    slug = ask.path("slug")
    ask.desk.shelf.folder(slug)
    states = ask.desk.jobs.states()
    return data(
        {
            name: {**told_state(ask, one), "result": None}
            for name, one in states.items()
            if is_about(name, slug)
        }
    )


def told_state(ask: Ask, state: State) -> dict[str, object]:
    told = asdict(state)
    result = state.result or {}
    told["stage"] = ask.say(state.stage) if state.stage else ""
    told["notes"] = [*_words(result.get("notes")), *_words(result.get("reasons"))]
    return told


def _words(found: object) -> list[str]:
    return [str(word) for word in found] if isinstance(found, list) else []


# ------------------------------------------------------------------ looking and taking along
def file(ask: Ask) -> Response:
    """Return one file of the session, never one outside it."""
    home, name = (
        ask.desk.shelf.folder(ask.path("slug")) / _which(ask.path("which")),
        ask.path("name"),
    )
    is_name = "\0" not in name and all(len(part.encode()) < 256 for part in name.split("/"))
    path = (home / (name if is_name else ".none")).resolve()
    kind = SHOWN.get(path.suffix.lower())
    if home.resolve() not in path.parents or kind is None or not path.is_file():
        raise BadInput("there is no such part of this session", at=name[:80])
    return FileResponse(path, media_type=kind)


def follow(ask: Ask) -> Response:
    """Return the page to follow along. It runs the one script that Rondel puts into such pages, by
    its digest: a page that came from elsewhere runs none."""
    folder = ask.desk.shelf.folder(ask.path("slug")) / _which(ask.path("which"))
    page = folder / FOLLOW
    if not page.is_file():
        raise BadInput("this session has no page to follow along", at=ask.path("slug"))
    return FileResponse(
        page, media_type="text/html; charset=utf-8", headers={"Content-Security-Policy": _policy()}
    )


@cache
def _policy() -> str:
    template = follow_template()
    scripts = (f"\n{template.script}\n", *re.findall(r'\sonerror="([^"]*)"', template.page))
    digests = (b64encode(hashlib.sha256(s.encode()).digest()).decode("ascii") for s in scripts)
    allowed = " ".join(f"'sha256-{digest}'" for digest in digests)
    return (
        f"default-src 'none'; script-src 'unsafe-hashes' {allowed}; style-src 'unsafe-inline'; "
        "font-src data:; img-src data:; media-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )


def _which(name: str) -> str:
    """Return the folder of a session that is called so; BadInput for any other."""
    if name not in (SESSION, QUICK):
        raise BadInput("there is no such session", at=name[:40])
    return name


def take_along(ask: Ask) -> Response:
    """Return the whole session as one zip file, for the browser to save where she wants."""
    kept = ask.desk.open(ask.path("slug"))
    folder = kept.folder / _which(ask.word("which", SESSION))
    if not (folder / MADE).is_file():
        raise BadInput("this session is not made yet", at=kept.slug)
    job = ask.desk.jobs.find(about(kept.slug))
    if job is not None and job.state.is_running:
        raise BadInput("it is being made; wait until it is done, or stop it", at=kept.slug)
    handle, name = tempfile.mkstemp(suffix=".zip")
    with os.fdopen(handle, "wb") as out, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as packed:
        for path in sorted(p for p in folder.rglob("*") if _is_of_session(p)):
            packed.write(path, Path(kept.slug) / path.relative_to(folder))
    away = BackgroundTask(lambda: Path(name).unlink(missing_ok=True))
    return FileResponse(
        name,
        media_type="application/zip",
        filename=f"{kept.slug}{folder.name.removeprefix(SESSION)}.zip",
        background=away,
    )


def _is_of_session(path: Path) -> bool:
    """True for a file that was made whole, and lies here."""
    return path.is_file() and not path.is_symlink() and not path.name.startswith(".")


ROUTES = (
    Route("/r/{slug}/session", answering(session)),
    Route("/r/{slug}/session/make", answering(make), methods=["POST"]),
    Route("/r/{slug}/session/stop", answering(stop), methods=["POST"]),
    Route("/r/{slug}/session/state", answering(state)),
    Route("/r/{slug}/working", answering(working)),
    Route("/r/{slug}/working/stop", answering(stop_working), methods=["POST"]),
    Route("/r/{slug}/session.zip", answering(take_along)),
    Route("/r/{slug}/files/{which}/follow/index.html", answering(follow)),
    Route("/r/{slug}/files/{which}/{name:path}", answering(file)),
)
