"""Hearing a routine from any passage on: the finished sound if there is one, else a quick one."""

from __future__ import annotations

import hashlib
from collections.abc import Hashable, Mapping
from typing import cast

from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.routine_shelf import ROUTINE, Kept
from rondel.adapters.session_folder import MADE, DiskFolder
from rondel.adapters.studio_files import routine_text
from rondel.adapters.voice import voice_digests
from rondel.app.craft_digest import craft_digest
from rondel.desk.aside_work import finished, get_ready, hear
from rondel.desk.asking import Ask, answering
from rondel.desk.desk import Desk
from rondel.model.errors import BadInput
from rondel.music.instruments.tone import RATE

#: Where a session is made, and where a small, quick one is: it never takes the place of the other.
SESSION, QUICK, SOUND = "session", "session-quick", "session.flac"
#: The most that is given at once, seconds.
MOST_SECONDS = 12.0
#: So much is asked for first (`FIRST` in hear.js), seconds.
FIRST_SECONDS = 2.5


def sound(ask: Ask) -> Response:
    """Return a few seconds of sound as a WAV, and say whether they are the finished ones."""
    kept = ask.desk.open(ask.path("slug"))
    start, seconds = _number(ask, "from"), min(_number(ask, "seconds"), MOST_SECONDS)
    frames, first = round(seconds * RATE), round(start * RATE)
    # A recording that was just made is heard at once: the finished sound has the one before.
    made = None if ask.word("own") else finished_sound(ask.desk, kept)
    found = None if made is None else ask.desk.player.do(finished, made, first, frames)
    kind = "quick" if found is None else "finished"
    if found is None:
        found = _quick(ask.desk, kept, first, frames)
    return Response(found, media_type="audio/wav", headers={"X-Hearing": kind})


def _number(ask: Ask, name: str) -> float:
    try:
        found = float(ask.word(name))
    except ValueError:
        found = -1.0
    if not 0 <= found <= 24 * 3600:
        raise BadInput("a number of seconds is expected", at=name)
    return found


def finished_sound(desk: Desk, kept: Kept) -> str | None:
    """Return the path of the finished sound of this very version; None where there is none."""
    for name in (SESSION, QUICK):
        path = kept.folder / name / SOUND
        if path.is_file() and is_of(desk, kept, name):
            return str(path)
    return None


def is_of(desk: Desk, kept: Kept, session: str) -> bool:
    """True where what was made in the folder `session` is of all that lies here now.

    That is: of this very version, of the hands as they are taught now and of her recordings, by
    their digests; and no film, track, or what was put right in one, changed since.
    """
    folder = DiskFolder(kept.folder / session)
    inputs = folder.read_made().get("inputs")
    if not isinstance(inputs, Mapping):
        return False
    routine = hashlib.sha256(routine_text(kept.routine).encode("utf-8")).hexdigest()
    if inputs.get(ROUTINE) != routine or inputs.get("craft") != _craft_now(desk):
        return False
    said = {k: v for k, v in inputs.items() if str(k).startswith("voice/")}
    if said != _voice_now(desk, kept):
        return False
    made = (folder.path / MADE).stat().st_mtime_ns
    places = [kept.folder / "takes", desk.studio / "takes"]
    if kept.routine.music.kind == "track":
        places.append(kept.folder / "music")
    files = (p for place in places if place.is_dir() for p in (place, *place.glob("[!.]*")))
    return all(p.stat().st_mtime_ns <= made for p in files)


def _craft_now(desk: Desk) -> str:
    key = ("craft digest", desk.craft_stamp())
    return desk.recent.get(key, lambda: craft_digest(desk.craft()))


def _voice_now(desk: Desk, kept: Kept) -> dict[str, str]:
    """Return the digests of her recordings, as made.json has them."""
    own = kept.folder / "voice"
    if not own.is_dir():
        return {}
    files = [p for p in own.iterdir() if p.is_file()]
    stamps = tuple((p.name, p.stat().st_mtime_ns, p.stat().st_size) for p in files)
    key = ("voice digests", kept.slug, stamps)
    return desk.recent.get(
        key, lambda: {f"voice/{name}": digest for name, digest in voice_digests(own).items()}
    )


def _quick(desk: Desk, kept: Kept, first: int, frames: int) -> bytes:
    key = _key(desk, kept)
    return desk.player.do(hear, key, kept.routine, desk.craft(), kept.folder, first, frames)


def _key(desk: Desk, kept: Kept) -> Hashable:
    """Return what changes when a quick hearing sounds otherwise."""
    own = kept.folder / "voice"
    files = sorted(own.glob("[!.]*")) if own.is_dir() else []
    stamp = tuple((p.name, p.stat().st_mtime_ns) for p in files)
    return str(kept.folder), kept.version, desk.craft_stamp(), stamp


def get_hearing_ready(desk: Desk, kept: Kept, chosen: str) -> None:
    """Wake the voice and the instruments, and let them work out ahead how each passage begins, the
    `chosen` one first: who presses meanwhile waits for no more than one step."""
    craft, routine, folder, key = desk.craft(), kept.routine, kept.folder, _key(desk, kept)
    line = sorted(routine.line, key=lambda passage: passage.id != chosen)
    starts = [round(routine.start_seconds(passage) * RATE) for passage in line]
    frames = round(FIRST_SECONDS * RATE)

    def work(step: Hashable) -> None:
        first, words = cast("tuple[int, bool]", step)
        desk.player.do(get_ready, key, routine, craft, folder, first, frames, words)

    steps = [(start, words) for start in starts for words in (False, True)]
    desk.readying.begin((desk.player.life, key), steps, work)


ROUTES = (Route("/r/{slug}/sound", answering(sound)),)
