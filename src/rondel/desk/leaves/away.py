"""What was taken away from a routine: brought back, or deleted for good."""

from __future__ import annotations

from pathlib import Path

from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.routine_versions import VERSIONS
from rondel.adapters.set_aside import bring_back, delete_aside, names_aside
from rondel.adapters.voice import VoiceFolder
from rondel.desk.asking import Ask, answering, to
from rondel.desk.bringing import KINDS
from rondel.model.errors import BadInput

#: The folders of a routine that something may be taken away from, and what kinds of files.
PLACES = {
    KINDS["take"].folder: KINDS["take"].suffixes,
    KINDS["track"].folder: KINDS["track"].suffixes,
    "voice": VoiceFolder.SUFFIXES,
}


def aside(folder: Path) -> tuple[str, ...]:
    """Return the names of what was taken away from `folder`, one of a routine's own."""
    return names_aside(folder, PLACES[folder.name])


def _folder(ask: Ask) -> Path:
    kind = ask.path("kind")
    if kind not in PLACES:
        raise BadInput("nothing is taken away from here", at=kind[:40])
    return ask.desk.shelf.folder(ask.path("slug")) / kind


def back(ask: Ask) -> Response:
    """Bring a file back, with all that was known of it."""
    folder = _folder(ask)
    bring_back(folder, ask.word("name"))
    return to(f"/r/{ask.path('slug')}/{folder.name}")


def delete(ask: Ask) -> Response:
    """Delete for good what was taken away before; not a track that an earlier version needs."""
    folder, name = _folder(ask), ask.word("name")
    if folder.name == KINDS["track"].folder and _is_needed(folder.parent, f"{folder.name}/{name}"):
        says = (
            "an earlier version of this routine is set to this track; it stays, so that you can "
            "still go back to that version"
        )
        raise BadInput(says, at=name)
    delete_aside(folder, name)
    return to(f"/r/{ask.path('slug')}/{folder.name}")


def _is_needed(home: Path, track: str) -> bool:
    """True where a version names the track: they are many, and searched rather than read."""
    word = track.encode("utf-8")
    return any(word in path.read_bytes() for path in sorted((home / VERSIONS).glob("*.json")))


ROUTES = (
    Route("/r/{slug}/{kind}/back", answering(back), methods=["POST"]),
    Route("/r/{slug}/{kind}/delete", answering(delete), methods=["POST"]),
)
