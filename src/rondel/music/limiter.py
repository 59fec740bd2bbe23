"""No peak above the ceiling, not even between samples: gain that looks ahead and moves slowly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import resample_poly

from rondel.music.instruments.tone import RATE, Stereo

#: Frames of sound that must be known before and after a block.
CONTEXT = RATE // 10

#: Reach of the gain before and after a peak, frames (20 ms): slow enough not to be heard.
REACH = RATE // 50

CHUNK = RATE // 100

#: A true peak stands above its samples by more than this only in sounds unlike music.
BETWEEN_SAMPLES = 0.7


def true_peaks(sound: Stereo) -> NDArray[np.float64]:
    """Return the highest of every frame and the three between it and the next, both channels.

    Four-fold oversampling, as ITU-R BS.1770-4 annex 2 asks at 48 kHz.
    """
    fine = resample_poly(sound.astype(np.float64), 4, 1, axis=0)
    return np.asarray(np.abs(fine).max(axis=1).reshape(-1, 4).max(axis=1))


def _needed(sound: Stereo, ceiling: float) -> NDArray[np.float64] | None:
    """Return the gain each frame needs by itself; None where none needs any."""
    sample_peaks = np.abs(sound).max(axis=1)
    if sample_peaks.max(initial=0.0) <= ceiling * BETWEEN_SAMPLES:
        return None
    gain = np.ones(len(sound))
    for start in range(0, len(sound), CHUNK):
        if sample_peaks[start : start + CHUNK].max() <= ceiling * BETWEEN_SAMPLES:
            continue
        low, high = max(0, start - 64), min(len(sound), start + CHUNK + 64)
        peaks = true_peaks(sound[low:high])[start - low : start - low + CHUNK]
        gain[start : start + len(peaks)] = np.minimum(1.0, ceiling / np.maximum(peaks, 1e-9))
    return gain if gain.min() < 1 else None


def limited(sound: Stereo, ceiling: float) -> Stereo:
    """Return `sound` without its CONTEXT at both ends, its true peak at most `ceiling`."""
    inner = slice(CONTEXT, len(sound) - CONTEXT)
    needed = _needed(sound, ceiling)
    if needed is None:
        return sound[inner]
    lowest = minimum_filter1d(needed, 2 * REACH + 1, mode="nearest")
    half = REACH // 2 * 2 + 1
    smooth = uniform_filter1d(uniform_filter1d(lowest, half, mode="nearest"), half, mode="nearest")
    return np.asarray(sound[inner] * smooth[inner, None], dtype=np.float32)
