"""What the processes beside the server do; each is one use case, called there by its name."""

from __future__ import annotations

from collections import OrderedDict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from rondel.model.repertoire import Craft
from rondel.model.routine import Routine

if TYPE_CHECKING:
    from rondel.app.fit_takes import Fitted
    from rondel.app.hear_quickly import QuickHearing, RememberedVoice
    from rondel.fitting.choosing import Limits
    from rondel.model.brief import Brief
    from rondel.model.track import Heard


def warm_planner() -> None:
    """Import what planning needs, before anybody waits for it."""
    from rondel.app import change_plan, make_plan, sketch_plan, suggest_instead  # noqa: F401


def warm_hearing() -> None:
    """Import what hearing needs, and wake the voice, before anybody waits for it."""
    from rondel.app import hear_quickly  # noqa: F401

    _voice().speak("Begin now.")


@cache
def _voice() -> RememberedVoice:
    from rondel.adapters.voice import BundledVoice
    from rondel.app.hear_quickly import RememberedVoice

    return RememberedVoice(BundledVoice())


#: The routines that were heard last; each holds some seconds of what it has played.
_HEARD: OrderedDict[object, QuickHearing] = OrderedDict()
MOST_HEARD = 2


def hear(key: object, routine: Routine, craft: Craft, home: Path, first: int, frames: int) -> bytes:
    """Return frames of a quick hearing as 16-bit WAV. `key` tells versions apart."""
    from rondel.desk.wav import wav

    return wav(_hearing(key, routine, craft, home).block(first, frames))


def get_ready(
    key: object, routine: Routine, craft: Craft, home: Path, first: int, frames: int, words: bool
) -> None:
    """Work out ahead what hearing these frames takes longest for: the tones, or the `words`."""
    _hearing(key, routine, craft, home).get_ready(first, frames, words=words)


def _hearing(key: object, routine: Routine, craft: Craft, home: Path) -> QuickHearing:
    from rondel.adapters.soundfont import instruments_for
    from rondel.adapters.track_place import brought_track
    from rondel.adapters.voice import VoiceFolder
    from rondel.app.hear_quickly import QuickHearing
    from rondel.model.names import language_of

    found = _HEARD.get(key)
    if found is None:
        own = home / "voice"
        found = QuickHearing(
            routine,
            craft.in_language(language_of(routine)),
            _voice(),
            own_voice=VoiceFolder(own) if own.is_dir() else None,
            instruments=instruments_for(None),
            track=brought_track(routine, home, at="routine.json: music").track,
        )
        _HEARD[key] = found
        while len(_HEARD) > MOST_HEARD:
            _HEARD.popitem(last=False)
    return found


def finished(path: str, first: int, frames: int) -> bytes | None:
    """Return frames of a session's sound as 16-bit WAV; None where the file is damaged."""
    import numpy as np
    import soundfile

    from rondel.desk.wav import wav

    try:
        with soundfile.SoundFile(path) as file:
            if first >= file.frames:
                return wav(np.zeros((0, 2), dtype=np.float32))
            file.seek(first)
            found = file.read(frames, dtype="float32", always_2d=True)
    except (soundfile.SoundFileError, OSError):
        return None
    return wav(np.asarray(found, dtype=np.float32))


def heard_in(track: Path) -> Heard:
    """Return what was heard in a track, with what was put right; heard now where it must be."""
    from rondel.app.progress import Silent
    from rondel.wiring_tracks import hear_from_file

    return hear_from_file(track, progress=Silent()).heard


def brief_and_heard(path: Path) -> tuple[Brief, Heard | None]:
    """Return the brief in a file, and what is heard in its track, if it names one."""
    from rondel.app.progress import Silent
    from rondel.wiring_tracks import read_brief_and_track

    return read_brief_and_track(path, progress=Silent())


def film_of(
    routine: Routine, takes: dict[str, Path], limits: Limits
) -> tuple[Fitted, tuple[str, ...]]:
    """Return what takes show of a routine, and which were left out; those that changed are watched
    now."""
    from rondel.app.fit_takes import fit_takes, stranger_sentences
    from rondel.app.progress import Silent
    from rondel.wiring_takes import watched_takes

    watched = watched_takes(takes, progress=Silent())
    fitted = fit_takes(routine, watched.named, progress=Silent(), limits=limits)
    return fitted, (*watched.notes, *stranger_sentences(watched.named, routine))


def shots_page(routine: Routine, craft: Craft) -> bytes:
    """Return what to film for a routine, as a PDF to print and tick off."""
    from rondel.adapters.typesetting import TypstTypesetter
    from rondel.app.list_shots import shots_job
    from rondel.drawing import figure
    from rondel.drawing.shot_list import shots_to_film

    return TypstTypesetter().typeset(
        shots_job(routine.title, shots_to_film(routine, craft, figure.still))
    )


def voice_notes(routine: Routine, folder: Path) -> tuple[str, ...]:
    """Return what there is to say of her recordings in their places."""
    from rondel.adapters.voice import VoiceFolder
    from rondel.app.progress import Silent
    from rondel.app.speak_cues import speak_cues

    return speak_cues(routine, VoiceFolder(folder), _voice(), Silent()).notes
