"""Hearing a routine from any passage on: the finished sound if there is one, else a quick one."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

import numpy as np
import soundfile
from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.routine_shelf import ROUTINE, Kept
from rondel.adapters.session_folder import DiskFolder
from rondel.adapters.studio_files import routine_text
from rondel.desk.aside_work import hear
from rondel.desk.asking import Ask, answering
from rondel.desk.desk import Desk
from rondel.desk.wav import wav
from rondel.model.errors import BadInput
from rondel.music.instruments.tone import RATE, Stereo

SESSION, SOUND = "session", "session.flac"
#: The most that is given at once, seconds.
MOST_SECONDS = 12.0


def sound(ask: Ask) -> Response:
    """Return a few seconds of sound as a WAV, and say whether they are the finished ones."""
    kept = ask.desk.open(ask.path("slug"))
    start, seconds = _number(ask, "from"), min(_number(ask, "seconds"), MOST_SECONDS)
    frames, first = round(seconds * RATE), round(start * RATE)
    # A recording that was just made is heard at once: the finished sound has the one before.
    finished = None if ask.word("own") else finished_sound(kept)
    if finished is not None:
        found = wav(_read(finished, first, frames))
    else:
        found = _quick(ask.desk, kept, first, frames)
    kind = "quick" if finished is None else "finished"
    return Response(found, media_type="audio/wav", headers={"X-Hearing": kind})


def _number(ask: Ask, name: str) -> float:
    try:
        found = float(ask.word(name))
    except ValueError:
        found = -1.0
    if not 0 <= found <= 24 * 3600:
        raise BadInput("a number of seconds is expected", at=name)
    return found


def finished_sound(kept: Kept) -> str | None:
    """Return the path of the finished sound of this very version; None where there is none."""
    path = kept.folder / SESSION / SOUND
    return str(path) if path.is_file() and is_of(kept) else None


def is_of(kept: Kept) -> bool:
    """True where the session that was made last is of this very version."""
    inputs = DiskFolder(kept.folder / SESSION).read_made().get("inputs")
    known = inputs.get(ROUTINE) if isinstance(inputs, Mapping) else None
    return known == hashlib.sha256(routine_text(kept.routine).encode("utf-8")).hexdigest()


def _read(path: str, first: int, frames: int) -> Stereo:
    with soundfile.SoundFile(path) as file:
        if first >= file.frames:
            return np.zeros((0, 2), dtype=np.float32)
        file.seek(first)
        return np.asarray(file.read(frames, dtype="float32", always_2d=True), dtype=np.float32)


def _quick(desk: Desk, kept: Kept, first: int, frames: int) -> bytes:
    own = kept.folder / "voice"
    files = sorted(own.glob("[!.]*")) if own.is_dir() else []
    stamp = tuple((p.name, p.stat().st_mtime_ns) for p in files)
    key = (str(kept.folder), kept.version, desk.craft_stamp(), stamp)
    return desk.player.do(hear, key, kept.routine, desk.craft(), kept.folder, first, frames)


ROUTES = (Route("/r/{slug}/sound", answering(sound)),)
