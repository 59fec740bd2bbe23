"""What an instrument is asked for, and what it gives: sound that can be added block by block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Stereo = NDArray[np.float32]  # (frames, 2)

RATE = 48_000
FINE = 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """One note in frames at 48 kHz. `number` counts the notes of its layer."""

    start: int
    frames: int
    rise: int | None
    pitch: int
    velocity: int
    number: int


class Sounding(Protocol):
    """A tone as sound, from frame `start` up to, not including, `end`."""

    start: int
    end: int

    def add_to(self, block: Stereo, at: int) -> None:
        """Add the part of the sound that falls into `block`, whose first frame is `at`."""


class Instrument(Protocol):
    """Turns tones into sound."""

    def sound(self, tone: Tone) -> Sounding:
        """Return the sound of `tone`. Equal tones give equal sounds."""


@dataclass(slots=True, kw_only=True)
class Struck:
    """A tone that was struck once: stored sounds, each with its gain, damped once let go."""

    start: int
    parts: tuple[tuple[Stereo, float], ...]
    damp_from: int | None = None  # frames after the start
    damp_seconds: float = 0.6
    end: int = field(init=False)

    def __post_init__(self) -> None:
        self.end = self.start + max(len(sound) for sound, _ in self.parts)

    def add_to(self, block: Stereo, at: int) -> None:
        for sound, gain in self.parts:
            low = max(at, self.start)
            high = min(at + len(block), self.start + len(sound))
            if low >= high:
                continue
            piece = sound[low - self.start : high - self.start] * np.float32(gain)
            self._damp(piece, low - self.start)
            block[low - at : high - at] += piece

    def _damp(self, piece: Stereo, since: int) -> None:
        if self.damp_from is None or since + len(piece) <= self.damp_from:
            return
        first = max(0, self.damp_from - since)
        past = np.arange(since + first, since + len(piece), dtype=np.float32) - self.damp_from
        piece[first:] *= np.exp(-past / (self.damp_seconds * RATE))[:, None]


def hertz(pitch: float) -> float:
    """Return the frequency of a MIDI pitch in equal temperament, A4 = 69 at 440 Hz (ISO 16)."""
    return float(440.0 * 2.0 ** ((pitch - 69) / 12))


@dataclass(frozen=True, slots=True)
class Partial:
    """A sine that loses 60 dB in `seconds_60db`."""

    frequency: float
    seconds_60db: float
    gain: float
    phase: float = 0.0


def ringing(partials: Sequence[Partial], frames: int) -> NDArray[np.float32]:
    """Return the sum of decaying sines, mono.

    A decaying sine is the imaginary part of a power; split into coarse and fine steps, the sum
    over all partials is one product of two small matrices, far cheaper than a sine a frame.
    """
    steps = np.array(
        [
            complex(-np.log(1000.0) / (p.seconds_60db * RATE), 2 * np.pi * p.frequency / RATE)
            for p in partials
        ]
    )
    first = np.array([p.gain * np.exp(1j * p.phase) for p in partials])
    fine = np.exp(steps[:, None] * np.arange(FINE))
    coarse = first * np.exp(steps * FINE * np.arange(frames // FINE + 1)[:, None])
    left = np.concatenate([coarse.imag, coarse.real], axis=1).astype(np.float32)
    right = np.concatenate([fine.real, fine.imag]).astype(np.float32)
    return np.asarray((left @ right).ravel()[:frames])


def raised(frames: int) -> NDArray[np.float32]:
    """Return a smooth rise from 0 to 1 over `frames`, a half cosine."""
    return (0.5 - 0.5 * np.cos(np.pi * (np.arange(frames) + 0.5) / max(frames, 1))).astype(
        np.float32
    )


def ease_in(sound: NDArray[np.floating], seconds: float) -> None:
    """Give `sound` a soft beginning, in place."""
    frames = min(len(sound), int(seconds * RATE))
    ramp = raised(frames)
    sound[:frames] *= ramp[:, None] if sound.ndim == 2 else ramp


def trimmed(sound: NDArray[np.floating], floor_db: float = -74.0) -> Stereo:
    """Return `sound` without its inaudible end, faded to nothing there."""
    loud = np.abs(sound).max(axis=1)
    over = np.flatnonzero(loud > loud.max() * 10 ** (floor_db / 20))
    last = min(len(sound), int(over[-1]) + 1) if len(over) else 1
    cut = np.ascontiguousarray(sound[:last], dtype=np.float32).copy()
    fade = min(len(cut), int(0.08 * RATE))
    cut[len(cut) - fade :] *= raised(fade)[::-1, None]
    return cut
