"""Hearing a routine from any passage on: the finished sound if there is one, else a quick one."""

from __future__ import annotations

import hashlib
import struct
import threading
from collections.abc import Mapping
from functools import cache

import numpy as np
import soundfile
from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.routine_shelf import ROUTINE, Kept
from rondel.adapters.session_folder import DiskFolder
from rondel.adapters.soundfont import instruments_for
from rondel.adapters.studio_files import routine_text
from rondel.adapters.track_place import brought_track
from rondel.adapters.voice import BundledVoice, VoiceFolder
from rondel.app.hear_quickly import QuickHearing, RememberedVoice
from rondel.desk.asking import Ask, answering
from rondel.desk.desk import Desk
from rondel.model.errors import BadInput
from rondel.model.names import language_of
from rondel.music.instruments.tone import RATE, Stereo

SESSION, SOUND = "session", "session.flac"
#: The most that is given at once, seconds.
MOST_SECONDS = 12.0
_MAKING = threading.Lock()


@cache
def voice() -> RememberedVoice:
    """Return the desk's voice; it takes half a second to wake."""
    return RememberedVoice(BundledVoice())


def warm_up() -> None:
    """Wake the voice before anybody waits for it."""
    voice().speak("Begin now.")


def sound(ask: Ask) -> Response:
    """Return a few seconds of sound as a WAV, and say whether they are the finished ones."""
    kept = ask.desk.open(ask.path("slug"))
    start, seconds = _number(ask, "from"), min(_number(ask, "seconds"), MOST_SECONDS)
    frames, first = round(seconds * RATE), round(start * RATE)
    # A recording that was just made is heard at once: the finished sound has the one before.
    finished = None if ask.word("own") else finished_sound(kept)
    if finished is not None:
        block = _read(finished, first, frames)
    else:
        block = _quick(ask.desk, kept).block(first, frames)
    kind = "quick" if finished is None else "finished"
    return Response(wav(block), media_type="audio/wav", headers={"X-Hearing": kind})


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


def _quick(desk: Desk, kept: Kept) -> QuickHearing:
    own = kept.folder / "voice"
    stamp = (
        tuple(sorted((p.name, p.stat().st_mtime_ns) for p in own.glob("*"))) if own.is_dir() else ()
    )

    def make() -> QuickHearing:
        craft = desk.craft().in_language(language_of(kept.routine))
        return QuickHearing(
            kept.routine,
            craft,
            voice(),
            own_voice=VoiceFolder(own) if own.is_dir() else None,
            instruments=instruments_for(None),
            track=brought_track(kept.routine, kept.folder, at=f"{ROUTINE}: music").track,
        )

    with _MAKING:
        return desk.recent.get(
            ("hearing", kept.slug, kept.version, desk.craft_stamp(), stamp), make
        )


def wav(block: Stereo) -> bytes:
    """Return a block as a WAV file: 16 bits, two channels, 48 kHz (RIFF WAVE, format 1)."""
    samples = np.round(np.clip(block, -1, 1) * 32767).astype("<i2").tobytes()
    head = struct.pack("<4sI4s", b"RIFF", 36 + len(samples), b"WAVE")
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 2, RATE, RATE * 4, 4, 16)
    return head + form + struct.pack("<4sI", b"data", len(samples)) + samples


ROUTES = (Route("/r/{slug}/sound", answering(sound)),)
