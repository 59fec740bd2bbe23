"""A first, quick hearing of a routine from any second on: music and voice, without mastering.

It has the notes, the words and their places of the finished session. It is not measured and not
limited as that is: levels come from what composed music and voices usually have.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rondel.app.gather_music import gather_music
from rondel.app.mix_sound import VOICE_OVER_MUSIC
from rondel.app.play_track import USUAL_LUFS, BroughtTrack
from rondel.app.ports.voice import Recordings, Speaker
from rondel.app.progress import Silent
from rondel.app.speak_cues import speak_cues
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.music.ducking import STANDS_ABOVE, Duck, curve, gain_block
from rondel.music.instruments.tone import RATE, Instrument, Stereo
from rondel.music.loudness_targets import SESSION
from rondel.music.score import LayerName
from rondel.music.synth import BUILT_IN, LayerSound
from rondel.music.voice_track import PlacedCue, place, voice_block
from rondel.music.weighing import SILENCE, Weigher, integrated

#: Cues so near to what is heard are spoken together, so that none begins over another, seconds.
AROUND = 12.0
#: The track's loudness is taken from so many seconds of what is heard first.
LEVEL_SECONDS = 6


class RememberedVoice:
    """A voice that says what it has said before without working it out again."""

    def __init__(self, speaker: Speaker) -> None:
        self._speaker = speaker
        self._said: dict[str, tuple[NDArray[np.float32], int]] = {}
        self._lock = threading.Lock()

    def speak(self, text: str) -> tuple[NDArray[np.float32], int]:
        """Return `text` as mono samples and their rate, as the voice itself does."""
        with self._lock:
            if text not in self._said:
                self._said[text] = self._speaker.speak(text)
            return self._said[text]


class QuickHearing:
    """One routine, ready to be heard from any second on. Safe to ask from several threads."""

    def __init__(
        self,
        routine: Routine,
        craft: Craft,
        speaker: Speaker,
        *,
        own_voice: Recordings | None = None,
        instruments: Mapping[LayerName, Instrument] = BUILT_IN,
        track: BroughtTrack | None = None,
    ) -> None:
        self.routine, self._craft = routine, craft
        self._speaker, self._own_voice = speaker, own_voice
        self._instruments, self._track = instruments, track
        self._lock = threading.Lock()
        self._frames = round(routine.clock.total_seconds * RATE)
        self._cues: dict[str, PlacedCue] = {}
        self._at = 0
        self._gather()
        self._music_lufs: float | None = USUAL_LUFS if track is None else None

    @property
    def seconds(self) -> float:
        """How long the routine lasts."""
        return self._frames / RATE

    def block(self, start: int, frames: int) -> Stereo:
        """Return frames `start` to `start + frames` at 48 kHz, shape (frames, 2), within -1..1.

        What lies past the end is left out.
        """
        with self._lock:
            frames = max(0, min(frames, self._frames - start))
            music = self._music(start, frames)
            level = self._level(music)
            cues = self._placed(start, frames, level)
            ducks = [
                Duck(start=c.start - start, end=c.end - start, depth_db=STANDS_ABOVE) for c in cues
            ]
            music *= gain_block(_within(ducks, frames), 0, frames) if ducks else 1.0
            mix = music + voice_block(cues, start, frames)
            return softly(mix * np.float32(10 ** ((SESSION.lufs - level) / 20)))

    def get_ready(self, start: int, frames: int, *, words: bool) -> None:
        """Work out ahead what the block of this span takes longest for: the sounds of its tones, or
        the `words` spoken there. Of a brought track nothing is worked out ahead."""
        if self._track is not None:
            return
        with self._lock:
            if words:
                self._placed(start, frames, USUAL_LUFS)
                return
            for layer in self._layers:
                if isinstance(layer, LayerSound):
                    layer.get_ready(start, frames)

    def _gather(self) -> None:
        self._layers = gather_music(
            self.routine, self._craft, self._instruments, self._track
        ).layers
        self._at = 0

    def _music(self, start: int, frames: int) -> Stereo:
        """Return the music alone. A track can only be read onwards, so it is opened again to go
        back, and read past to go on."""
        if self._track is not None:
            if start < self._at:
                self._gather()
            while self._at < start:
                step = min(10 * RATE, start - self._at)
                self._read(self._at, step)
        return self._read(start, frames)

    def _read(self, start: int, frames: int) -> Stereo:
        total = np.zeros((frames, 2), dtype=np.float32)
        for layer in self._layers:
            total += layer.block(start, frames)
        self._at = start + frames
        return total

    def _level(self, music: Stereo) -> float:
        if self._music_lufs is None:
            found = integrated(Weigher().add(music[: LEVEL_SECONDS * RATE]))
            if found <= SILENCE:
                return USUAL_LUFS
            self._music_lufs = found
        return self._music_lufs

    def _placed(self, start: int, frames: int, level: float) -> tuple[PlacedCue, ...]:
        """Return the cues that sound in or near the block; each stays where it was first put."""
        low, high = start / RATE - AROUND, (start + frames) / RATE + AROUND
        near = tuple(
            cue
            for cue in self.routine.cues
            if low <= self.routine.clock.seconds_at(cue.at_beat) <= high
        )
        if any(cue.id not in self._cues for cue in near):
            part = replace(self.routine, cues=near)
            speech = speak_cues(part, self._own_voice, self._speaker, Silent())
            for cue in place(speech.heard, level + VOICE_OVER_MUSIC, self._frames):
                self._cues.setdefault(cue.cue_id, cue)
        return tuple(self._cues[cue.id] for cue in near if cue.id in self._cues)


def _within(ducks: list[Duck], frames: int) -> NDArray[np.float32]:
    """Return the gain under `ducks` for a block; what lies before or after it is shaped as well."""
    margin = 4 * RATE
    moved = [
        replace(d, start=d.start + margin, end=d.end + margin)
        for d in ducks
        if d.end > -margin and d.start < frames + margin
    ]
    gains = curve(moved, frames + 2 * margin)
    return np.asarray(gains[margin * 100 // RATE :], dtype=np.float32)


def softly(sound: Stereo) -> Stereo:
    """Return `sound` bent back smoothly where it would leave -1..1."""
    return np.asarray(
        np.where(
            np.abs(sound) < 0.7,
            sound,
            np.sign(sound) * (0.7 + 0.3 * np.tanh((np.abs(sound) - 0.7) / 0.3)),
        ),
        dtype=np.float32,
    )
