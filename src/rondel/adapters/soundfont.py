"""The piano of a SoundFont, where one is given or installed; never required.

The player (tinysoundfont) is an optional extra and knows no timbre by velocity, so each key is
split into a dark and a bright part that grow apart with the touch, as in the built-in piano.
"""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from scipy.signal import butter, sosfiltfilt

from rondel.model.errors import BadInput, OutsideFailure
from rondel.music.instruments.room import in_room
from rondel.music.instruments.tone import RATE, Instrument, Stereo, Struck, Tone, trimmed
from rondel.music.score import LayerName
from rondel.music.synth import BUILT_IN

#: Where systems keep SoundFonts, most specific first.
USUAL_PLACES = (
    Path("/usr/share/sounds/sf3"),
    Path("/usr/share/sounds/sf2"),
    Path("/usr/share/soundfonts"),
    Path("/usr/local/share/soundfonts"),
)

#: (bank, program) of pianos, the softest first: some sets keep a mellow one in bank 8.
PIANOS = ((8, 0), (0, 0))

SECONDS = 6.0
DARK_HERTZ = 900.0
STRUCK_AT = 84  # velocity at which keys are recorded; touch is shaped afterwards
LEVEL = 0.2  # RMS of the first third of a second, as in the built-in piano
ROOM = 0.28


def find_soundfont(places: tuple[Path, ...] = USUAL_PLACES) -> Path | None:
    """Return a SoundFont in the system's usual places, the first by name; None if there is none."""
    for place in places:
        found = sorted(p for p in place.glob("*") if p.suffix.lower() in (".sf2", ".sf3"))
        if found:
            return found[0]
    return None


def _player() -> Any | None:
    """Return the optional player, or None where it is not installed."""
    try:
        return importlib.import_module("tinysoundfont")
    except ImportError:
        return None


class SampledPiano:
    """A piano recorded key by key from a SoundFont."""

    def __init__(self, path: Path, player: Any) -> None:
        try:
            self._synth = player.Synth(samplerate=RATE)
            self._font = self._synth.sfload(path.read_bytes())
        except OSError as error:
            raise BadInput("the SoundFont cannot be read", at=str(path)) from error
        except Exception as error:  # the player has no error of its own that can be named
            raise BadInput("this file is not a SoundFont", at=str(path)) from error
        self._select(path)
        self._keys: dict[int, tuple[Stereo, Stereo]] = {}
        self._lock = Lock()

    def _select(self, path: Path) -> None:
        for bank, program in PIANOS:
            try:
                if self._synth.sfpreset_name(self._font, bank, program) is None:
                    continue
                self._synth.program_select(0, self._font, bank, program)
            except Exception:
                continue
            return
        raise BadInput("this SoundFont has no piano; choose another", at=str(path))

    def _recorded(self, pitch: int) -> tuple[Stereo, Stereo]:
        """Return the dark and the bright part of a key, in the room."""
        self._synth.sounds_off()
        if not self._synth.noteon(0, pitch, STRUCK_AT):
            raise OutsideFailure(f"the SoundFont does not play key {pitch}; choose another")
        raw = np.frombuffer(self._synth.generate(int(SECONDS * RATE)), dtype=np.float32)
        sound = raw.reshape(-1, 2).astype(np.float64)
        level = np.sqrt((sound[: RATE // 3] ** 2).mean())
        if level < 1e-6:
            raise OutsideFailure(f"the SoundFont is silent at key {pitch}; choose another")
        sound *= LEVEL / level
        low = butter(2, DARK_HERTZ, "lowpass", fs=RATE, output="sos")
        dark = sosfiltfilt(low, sound, axis=0)
        parts = (dark, sound - dark)
        kept = tuple(trimmed(in_room(part, ROOM), floor_db=-70.0) for part in parts)
        return kept[0], kept[1]

    def sound(self, tone: Tone) -> Struck:
        with self._lock:
            if tone.pitch not in self._keys:
                self._keys[tone.pitch] = self._recorded(tone.pitch)
        dark, bright = self._keys[tone.pitch]
        touch = tone.velocity / 127
        return Struck(
            start=tone.start,
            parts=((dark, 0.82 * touch**1.4), (bright, 1.1 * touch**2.4)),
            damp_from=tone.frames,
        )


def _refuse_stranger(path: Path) -> None:
    """Raise BadInput for a file that is not there or begins as no SoundFont does (RIFF, sfbk)."""
    try:
        with path.open("rb") as file:
            head = file.read(12)
    except OSError as error:
        raise BadInput(f"the SoundFont cannot be read ({error.strerror})", at=str(path)) from error
    if head[:4] != b"RIFF" or head[8:] != b"sfbk":
        raise BadInput("this file is not a SoundFont", at=str(path))


def instruments_for(path: Path | None = None) -> Mapping[LayerName, Instrument]:
    """Return the built-in instruments, with the piano of a SoundFont where that can be had.

    With `path` the teacher asks for it: BadInput where it is no SoundFont, OutsideFailure where
    the player is missing. Without, what is not there is not missed.
    """
    if path is not None:
        _refuse_stranger(path)
    player = _player()
    if path is not None and player is None:
        says = (
            "playing a SoundFont needs one more package: pip install --no-deps tinysoundfont==0.3.7"
        )
        raise OutsideFailure(says, at=str(path))
    chosen = path or find_soundfont()
    if chosen is None or player is None:
        return BUILT_IN
    try:
        return {**BUILT_IN, LayerName.PIANO: SampledPiano(chosen, player)}
    except BadInput:
        if path is not None:
            raise
        return BUILT_IN
