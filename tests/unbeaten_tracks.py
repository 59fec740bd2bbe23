"""Made-up sounds in which nothing beats: noise, sea, rain, bowls at random, drones.

`make_unbeaten(kind, seed, seconds)` renders one. The truth needs no form: nowhere is a beat. Bowls
are struck and drops fall at times drawn by chance, so no row of beats is meant anywhere.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, lfilter, sosfilt

from ambient_sounds import Sound

Wave = npt.NDArray[np.float64]

#: What there is.
KINDS = ("noise", "sea", "rain", "bowls", "drone", "breathing drone")

_PEAK = 0.3


def make_unbeaten(kind: str, seed: int, seconds: float, rate: int = 22050) -> Sound:
    """Return float32 (frames, 2) of one of KINDS, the same for the same arguments."""
    chance = np.random.default_rng([KINDS.index(kind), seed])
    times = np.arange(int(seconds * rate)) / rate
    make = {"noise": _noise, "sea": _sea, "rain": _rain, "bowls": _bowls}.get(kind, _drone)
    mono = make(times, rate, chance)
    if kind == "breathing drone":
        mono += chance.uniform(0.02, 0.2) * chance.standard_normal(len(times))
    mono *= _PEAK / np.abs(mono).max()
    return np.repeat(mono[:, None], 2, axis=1).astype(np.float32)


def _noise(times: Wave, rate: int, chance: np.random.Generator) -> Wave:
    """White noise, dulled by chance or cut to a band."""
    white = chance.standard_normal(len(times))
    if chance.random() < 0.5:
        return np.asarray(lfilter([1], [1, -chance.uniform(0, 0.99)], white))
    low = chance.uniform(80, 1500)
    band = (low, min(low * chance.uniform(2, 6), 0.45 * rate))
    return np.asarray(sosfilt(butter(2, band, "bandpass", fs=rate, output="sos"), white))


def _sea(times: Wave, rate: int, chance: np.random.Generator) -> Wave:
    """Dull noise in waves that come every 6 to 14 seconds, by turns of chance."""
    dull = lfilter([1], [1, -chance.uniform(0.9, 0.99)], chance.standard_normal(len(times)))
    steps = chance.uniform(6, 14) * chance.uniform(0.8, 1.2, size=int(times[-1] / 4) + 2)
    phase = np.interp(times, np.concatenate([[0.0], np.cumsum(steps)]), np.arange(len(steps) + 1))
    wave = np.clip(np.sin(2 * np.pi * (phase + chance.random())), 0, 1) ** chance.uniform(1, 3)
    return np.asarray(dull * (chance.uniform(0.05, 0.3) + wave))


def _rain(times: Wave, rate: int, chance: np.random.Generator) -> Wave:
    """Soft noise with drops at random, 2 to 20 a second."""
    sound = 0.03 * lfilter([1], [1, -0.8], chance.standard_normal(len(times)))
    length = int(0.08 * rate)
    for at in chance.integers(0, len(times) - length, size=int(times[-1] * chance.uniform(2, 20))):
        s = np.arange(length) / rate
        drop = np.sin(2 * np.pi * chance.uniform(600, 4000) * s) * np.exp(-s / 0.012)
        sound[at : at + length] += chance.exponential(0.3) * drop
    return np.asarray(sound)


def _bowls(times: Wave, rate: int, chance: np.random.Generator) -> Wave:
    """Bowls struck at times drawn by chance, 2 to 12 seconds apart, that ring long."""
    sound = np.zeros(len(times))
    tones = chance.uniform(90, 320, size=4)
    longest = chance.uniform(5, 12)
    at = chance.uniform(0, 6)
    while at < times[-1] - 1:
        rest = times[int(at * rate) :] - int(at * rate) / rate
        hertz, force = chance.choice(tones), chance.uniform(0.5, 1)
        for ratio, level, ring in ((1, 1, 6), (2.71, 0.5, 4), (5.1, 0.2, 2)):
            tone = np.sin(2 * np.pi * hertz * ratio * rest) * np.exp(-rest / ring)
            sound[-len(rest) :] += force * level * tone * np.minimum(1, rest / 0.02)
        at += chance.uniform(2, longest)
    return sound


def _drone(times: Wave, rate: int, chance: np.random.Generator) -> Wave:
    """Held tones that swell slowly, each in its own time."""
    root, sound = chance.uniform(60, 140), np.zeros(len(times))
    for _ in range(int(chance.integers(3, 7))):
        hertz = root * chance.choice([1, 1.5, 2, 2.5, 3, 4])
        swell = np.sin(2 * np.pi * times / chance.uniform(7, 20) + chance.uniform(0, 6))
        tone = np.sin(2 * np.pi * hertz * times + chance.uniform(0, 6))
        sound += chance.uniform(0.3, 1) * tone * (0.7 + 0.3 * swell)
    return sound
