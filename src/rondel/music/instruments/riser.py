"""The rise before a change: breath and harmonics that grow, and stop with the change."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft

from rondel.music.instruments.sustained import Colour, loop
from rondel.music.instruments.tone import RATE, Stereo, Struck, Tone, raised

WINDOW, HOP = 4096, 1024
# Steady tones, or the rise would waver and be fullest before it arrives.
DARK = Colour(slope=1.3, ceiling_hertz=700, cents=12, steady=0.985)
BRIGHT = Colour(slope=1.0, ceiling_hertz=2200, cents=18, steady=0.93)

#: The last moment in which the rise lets go, so that it ends on the change and not after it.
LET_GO_SECONDS = 0.16


@lru_cache(maxsize=4)
def _breath(frames: int) -> NDArray[np.float64]:
    """Return noise through a band that climbs from 350 Hz to 2 kHz, unit RMS at its fullest."""
    lot = np.random.default_rng(57)
    count = frames // HOP + 5
    bins = np.maximum(np.arange(WINDOW // 2 + 1) * RATE / WINDOW, 1.0)
    sound = np.zeros(((count + 4) * HOP + WINDOW, 2))
    window = np.hanning(WINDOW)
    for k in range(count):
        share = min(1.0, k / count)
        centre = 350 * (2000 / 350) ** share
        shape = np.exp(-0.5 * (np.log2(bins / centre) / 0.55) ** 2) / np.sqrt(centre)
        turns = lot.uniform(0, 2 * np.pi, (2, len(bins)))
        for side in range(2):
            grain = irfft(shape * np.exp(1j * turns[side]), WINDOW) * window
            sound[k * HOP : k * HOP + WINDOW, side] += grain
    sound = sound[WINDOW // 2 : WINDOW // 2 + frames]
    return np.asarray(sound / np.sqrt((sound**2).mean()))


@lru_cache(maxsize=12)
def _rise(pitch: int, frames: int, is_great: bool) -> Stereo:
    share = np.linspace(0, 1, frames, endpoint=False)[:, None]
    wrap = np.arange(frames) % len(loop(pitch, DARK))
    sound = loop(pitch, DARK)[wrap] * share**1.6
    sound = sound + 0.5 * loop(pitch + 12, DARK)[wrap] * share**2.2
    sound = sound + 0.30 * loop(pitch + 7, BRIGHT)[wrap] * share**3
    if is_great:
        sound = sound + 0.22 * loop(pitch + 19, BRIGHT)[wrap] * share**3.5
        sound = sound + 0.28 * _breath(frames) * share**2.4
    fall = min(frames // 4, int(LET_GO_SECONDS * RATE))
    sound[frames - fall :] *= raised(fall)[::-1, None]
    return sound.astype(np.float32)


class Riser:
    """Rises that end exactly with their note. Firm ones carry breath, gentle ones only tone."""

    def sound(self, tone: Tone) -> Struck:
        rise = _rise(tone.pitch, tone.frames, tone.velocity >= 64)
        return Struck(start=tone.start, parts=((rise, 0.11 * (tone.velocity / 127) ** 1.5),))
