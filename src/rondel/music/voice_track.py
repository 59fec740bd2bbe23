"""Spoken cues on the session's clock: 48 kHz, each at one natural loudness, in the middle."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

from rondel.music.instruments.tone import RATE, Stereo, raised
from rondel.music.weighing import SILENCE, Weigher, integrated

#: Quieter recordings are brought up by at most this, so that hiss is not.
MOST_GAIN_DB = 30.0


class Spoken(Protocol):
    """What is needed of a spoken cue: mono samples in -1..1 that begin at `start_seconds`."""

    @property
    def cue_id(self) -> str: ...
    @property
    def start_seconds(self) -> float: ...
    @property
    def samples(self) -> NDArray[np.float32]: ...
    @property
    def sample_rate(self) -> int: ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedCue:
    """One cue in frames of the session; `mono` has the loudness of the whole voice."""

    cue_id: str
    start: int
    mono: NDArray[np.float32]

    @property
    def end(self) -> int:
        return self.start + len(self.mono)


def at_session_rate(samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    """Return mono samples at 48 kHz, without rumble, with soft edges."""
    mono = np.asarray(samples, dtype=np.float64)
    if rate != RATE:
        common = gcd(rate, RATE)
        mono = resample_poly(mono, RATE // common, rate // common, window=("kaiser", 9.0))
    mono = sosfilt(butter(2, 65, "highpass", fs=RATE, output="sos"), mono)
    edge = min(len(mono) // 2, RATE // 100)
    mono[:edge] *= raised(edge)
    mono[len(mono) - edge :] *= raised(edge)[::-1]
    return np.asarray(mono, dtype=np.float32)


def spoken_loudness(mono: NDArray[np.float32]) -> float:
    """Return the loudness of a mono voice heard on both sides, LUFS."""
    return integrated(Weigher().add(np.stack([mono, mono], axis=1)))


def place(spoken: tuple[Spoken, ...], level: float, frames: int) -> tuple[PlacedCue, ...]:
    """Return the cues at `level` LUFS each, cut at the session's end; silent ones left out."""
    placed = []
    for cue in sorted(spoken, key=lambda c: c.start_seconds):
        mono = at_session_rate(cue.samples, cue.sample_rate)
        start = max(0, round(cue.start_seconds * RATE))
        mono = mono[: max(0, frames - start)]
        if not len(mono) or (now := spoken_loudness(mono)) <= SILENCE:
            continue
        gain = 10 ** (min(level - now, MOST_GAIN_DB) / 20)
        placed.append(PlacedCue(cue_id=cue.cue_id, start=start, mono=mono * np.float32(gain)))
    return tuple(placed)


def voice_block(cues: tuple[PlacedCue, ...], start: int, frames: int) -> Stereo:
    """Return frames `start` to `start + frames` of the voice."""
    block = np.zeros((frames, 2), dtype=np.float32)
    for cue in cues:
        low, high = max(start, cue.start), min(start + frames, cue.end)
        if low < high:
            block[low - start : high - start] += cue.mono[low - cue.start : high - cue.start, None]
    return block
