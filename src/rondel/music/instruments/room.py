"""A quiet wooden room: a few early reflections and a tail that darkens as it fades."""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import butter, sosfilt

from rondel.music.instruments.tone import RATE, Stereo, raised

#: Seconds in which each band loses 60 dB; bands end at these frequencies.
BANDS = ((250.0, 2.2), (1200.0, 2.0), (4000.0, 1.4), (9000.0, 0.8))
TAIL_SECONDS = 2.4

STEP = RATE  # lengths are rounded up to this, so that few transforms are needed

#: Early reflections: seconds, left gain, right gain.
EARLY = (
    (0.0113, 0.42, 0.18),
    (0.0171, 0.16, 0.36),
    (0.0237, 0.30, 0.22),
    (0.0311, 0.14, 0.28),
    (0.0413, 0.20, 0.12),
    (0.0530, 0.09, 0.17),
)


@cache
def impulse() -> Stereo:
    """Return the room's answer to a click, without the click itself; unit energy a channel."""
    lot = np.random.default_rng(20_111)
    frames = int(TAIL_SECONDS * RATE)
    seconds = np.arange(frames) / RATE
    answer = np.zeros((frames, 2))
    low = 40.0
    for high, t60 in BANDS:
        noise = lot.standard_normal((frames, 2))
        band = butter(2, (low, high), "bandpass", fs=RATE, output="sos")
        answer += sosfilt(band, noise, axis=0) * (10 ** (-3 * seconds / t60))[:, None]
        low = high
    build = int(0.045 * RATE)
    answer[:build] *= raised(build)[:, None] ** 2
    answer /= np.sqrt((answer**2).sum(axis=0))
    for at, left, right in EARLY:
        answer[int(at * RATE)] += (0.55 * left, 0.55 * right)
    fade = int(0.3 * RATE)
    answer[-fade:] *= raised(fade)[::-1, None]
    answer /= np.sqrt((answer**2).sum(axis=0))
    return answer.astype(np.float32)


@lru_cache(maxsize=8)
def _answer_spectrum(size: int) -> NDArray[np.complex64]:
    return np.asarray(rfft(impulse().T, size, axis=1))


def in_room(sound: NDArray[np.floating], amount: float) -> NDArray[np.float32]:
    """Return `sound` (frames, 2) with the room's answer to it, longer by the tail."""
    frames = len(sound)
    longer = frames + int(TAIL_SECONDS * RATE) - 1
    size = next_fast_len(-(-longer // STEP) * STEP, real=True)
    rows = np.ascontiguousarray(sound.T, dtype=np.float32)
    wet = irfft(rfft(rows, size, axis=1) * _answer_spectrum(size), size, axis=1)[:, :longer]
    wet *= np.float32(amount)
    wet[:, :frames] += rows
    return np.asarray(wet.T, dtype=np.float32)
