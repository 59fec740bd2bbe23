"""Which tempi a track may have: seven at most, the likelier first."""

from __future__ import annotations

import numpy as np

from rondel.listening.features import Floats
from rondel.listening.network import RATE, SLOWEST, TEMPI, Impression

MOST = 7
APART = 0.09  # candidates nearer to each other than this share are one
AT_ONCE = 30_000  # frames handled together, so that hours stay small
LOWEST, HIGHEST = 36.0, 170.0  # BPM; beyond, a hand follows every second beat or two to a beat
USUAL, SPREAD = 74.0, 0.6  # BPM and octaves: where beats of music to be touched to mostly lie


def candidates(impression: Impression) -> tuple[float, ...]:
    """Return tempi in BPM worth decoding, from what the network says and from what repeats."""
    scores = _said(impression) + _repeats(impression)
    grid = SLOWEST * 2.0 ** (np.arange(-5, TEMPI + 5) / (TEMPI / 2))
    scores = scores * np.exp(-0.5 * (np.log2(grid / USUAL) / SPREAD) ** 2)
    chosen: list[float] = []
    for place in np.argsort(-scores):
        bpm = float(grid[place])
        if scores[place] > 0 and all(abs(np.log(bpm / other)) > APART for other in chosen):
            chosen.append(bpm)
        if len(chosen) == MOST - 2:
            break
    for ratio in (2.0, 0.5):
        bpm = chosen[0] * ratio if chosen else 0.0
        if LOWEST <= bpm <= HIGHEST and all(abs(np.log(bpm / one)) > APART for one in chosen):
            chosen.append(bpm)
    return tuple(chosen) or (USUAL,)


def _said(impression: Impression) -> Floats:
    weight = impression.heard + np.float32(1e-3)
    said = np.zeros(TEMPI, dtype=np.float32)
    for start in range(0, len(weight), AT_ONCE):
        said += weight[start : start + AT_ONCE] @ impression.tempo[start : start + AT_ONCE]
    said /= max(float(weight.sum()), 1e-9)  # a track of no length has no frames
    smooth = np.convolve(np.pad(said, 5), [0.25, 0.5, 0.25], mode="same")
    return np.asarray(smooth / max(float(smooth.max()), 1e-9))


def _repeats(impression: Impression) -> Floats:
    """Return how strongly beats repeat at each tempo: their autocorrelation, and of its double."""
    beat = impression.beat * impression.heard
    beat = beat - beat.mean() if len(beat) else beat
    size = 2 ** int(np.ceil(np.log2(2 * len(beat) + 1)))
    spectrum = np.fft.rfft(beat, size)
    alike = np.fft.irfft(np.abs(spectrum) ** 2, size)[: len(beat)]
    alike = alike / max(float(alike[0]), 1e-9) if len(alike) else np.zeros(1)
    grid = SLOWEST * 2.0 ** (np.arange(-5, TEMPI + 5) / (TEMPI / 2))
    lags = 60 * RATE / grid
    at = np.arange(len(alike))
    once, twice = np.interp(lags, at, alike), np.interp(2 * lags, at, alike)
    return np.asarray(np.maximum(0, 0.6 * once + 0.4 * twice))
