"""Where a beat sounds to within milliseconds: attacks near beats that are known to a frame."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rondel.listening.features import FINE, Features, Floats
from rondel.listening.network import OFFSET, RATE, Impression

Seconds = NDArray[np.float64]

REACH = 0.04  # seconds to either side of a beat in which its attack is sought
#: The growth of a short window is steepest this long before its centre reaches the attack.
EARLY = 0.0
AT_ONCE = 100_000  # rows of `fine` handled together, so that hours stay small
CLEAR = 3.0  # an attack this many times as sudden as what is usual nearby can be relied on


def near_peaks(impression: Impression, frames: NDArray[np.int64]) -> Seconds:
    """Return seconds of beats: the crest of what the network says around each frame."""
    last = len(impression.beat) - 2
    inside = np.clip(frames, 1, max(1, last))
    best = inside.copy()
    for shift in (-1, 1):
        other = np.clip(inside + shift, 1, max(1, last))
        best = np.where(impression.beat[other] > impression.beat[best], other, best)
    left, middle, right = (np.log(impression.beat[best + k] + 1e-4) for k in (-1, 0, 1))
    bend = left - 2 * middle + right
    part = np.where(bend < -1e-6, 0.5 * (left - right) / np.where(bend < -1e-6, bend, 1), 0.0)
    crest = best + np.clip(part, -0.5, 0.5)
    return np.asarray(crest / RATE + OFFSET, dtype=np.float64)


def suddenness(features: Features) -> Floats:
    """Return how suddenly sound grows, FINE times a second, all four wide bands together."""
    count = len(features.fine)
    grown = np.zeros(count, dtype=np.float32)
    for start in range(2, count - 2, AT_ONCE):
        past = min(count - 2, start + AT_ONCE)
        fine = features.fine[start - 2 : past + 2].astype(np.float32)
        loud = np.log1p(np.exp(fine) * (300.0 / features.level))
        here = np.maximum(loud[3:-1] - loud[1:-3], 0).sum(axis=1)
        grown[start:past] = here + 0.5 * np.maximum(loud[4:] - loud[:-4], 0).sum(axis=1)
    return grown


def sharpened(features: Features, beats: Seconds) -> tuple[Seconds, Seconds]:
    """Return the attack nearest in kind to each beat, and how clear each is (0: none there)."""
    grown = suddenness(features)
    reach = round(REACH * FINE)
    exact, clear = beats.copy(), np.zeros(len(beats))
    away = np.exp(-0.5 * (np.arange(-reach, reach + 1) / (0.5 * reach)) ** 2)
    for index, beat in enumerate(beats):
        middle = round(beat * FINE)
        low = middle - reach
        if low < 1 or middle + reach + 2 > len(grown):
            continue
        here = grown[low : middle + reach + 1]
        place = int((here * away).argmax())
        usual = float(np.median(grown[max(0, middle - 4 * reach) : middle + 4 * reach])) + 0.02
        top = low + place
        left, peak, right = (float(grown[top + k]) for k in (-1, 0, 1))
        bend = left - 2 * peak + right
        part = 0.5 * (left - right) / bend if bend < -1e-6 else 0.0
        exact[index] = (top + np.clip(part, -0.5, 0.5)) / FINE + EARLY
        clear[index] = max(0.0, peak / usual - 1)
    return exact, clear
