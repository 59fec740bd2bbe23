"""Sounds of made-up ambient tracks: struck and blown notes, pads, drums, rises, a room."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, oaconvolve, sosfilt

Sound = npt.NDArray[np.float32]

TABLE = 2048


@dataclass(frozen=True, slots=True, kw_only=True)
class Timbre:
    """Partials as (ratio, level, seconds to fall by 60 dB); `attack` in seconds."""

    partials: tuple[tuple[float, float, float], ...]
    attack: float
    breath: float = 0.0
    is_held: bool = False


def _harmonic(
    levels: tuple[float, ...], decay: float, bright: float
) -> tuple[tuple[float, float, float], ...]:
    return tuple((k + 1.0, level, decay / (1 + bright * k)) for k, level in enumerate(levels))


#: Made up here; none copies an instrument.
TIMBRES = {
    "hammered": Timbre(partials=_harmonic((1, 0.5, 0.35, 0.2, 0.12, 0.08), 4.0, 0.5), attack=0.004),
    "plucked": Timbre(partials=_harmonic((1, 0.7, 0.5, 0.4, 0.2, 0.15), 2.2, 0.9), attack=0.003),
    "bell": Timbre(
        partials=((1, 1, 5), (2.76, 0.4, 2.5), (5.4, 0.25, 1.2), (8.9, 0.1, 0.6)), attack=0.002
    ),
    "glass": Timbre(partials=((1, 1, 4), (3.0, 0.15, 2), (4.2, 0.12, 1)), attack=0.02),
    "thumbed": Timbre(partials=((1, 1, 1.6), (4.0, 0.2, 0.4), (6.1, 0.15, 0.2)), attack=0.003),
    "blown": Timbre(
        partials=_harmonic((1, 0.35, 0.15, 0.05), 60, 0), attack=0.07, breath=0.05, is_held=True
    ),
    "bowed": Timbre(
        partials=_harmonic((1, 0.6, 0.45, 0.3, 0.2, 0.12), 60, 0), attack=0.12, is_held=True
    ),
    "tine": Timbre(partials=((1, 1, 3.5), (2, 0.3, 3), (7.0, 0.2, 0.4)), attack=0.004),
}


@lru_cache(maxsize=4096)
def note(timbre: str, midi: int, centiseconds: int, rate: int) -> Sound:
    """Return one note at full level, with its ring; `centiseconds` is how long it is held."""
    kind = TIMBRES[timbre]
    held = centiseconds / 100
    ring = 0.25 if kind.is_held else min(1.6, held + 1.2)
    seconds = held + ring if kind.is_held else min(held + ring, 4.0)
    times = np.arange(int(seconds * rate), dtype=np.float32) / rate
    hertz = 440.0 * 2 ** ((midi - 69) / 12)
    sound = np.zeros(times.size, dtype=np.float32)
    vibrato = 0.12 * np.sin(2 * np.pi * 4.7 * times) * np.minimum(times, 1) if kind.is_held else 0
    for ratio, level, decay in kind.partials:
        if hertz * ratio < 0.45 * rate:
            fall = np.exp(-6.9 / decay * times) if not kind.is_held else 1.0
            sound += level * fall * np.sin(2 * np.pi * hertz * ratio * times + ratio * vibrato)
    if kind.breath:
        sound += kind.breath * np.random.default_rng(midi).standard_normal(times.size)
    sound *= np.minimum(1, times / kind.attack)
    end = max(1, int((0.25 if kind.is_held else 0.3) * rate))
    sound[-end:] *= np.linspace(1, 0, end) ** 1.5
    level = np.sqrt(sum(level**2 for _, level, _ in kind.partials)) * (2 if kind.is_held else 1)
    return np.asarray(sound / level, dtype=np.float32)


def pad(midi: int, seconds: float, rate: int, dull: float, chance: np.random.Generator) -> Sound:
    """Return a held, softly beating tone with slow ends; `dull` tilts its harmonics down."""
    hertz = 440.0 * 2 ** ((midi - 69) / 12)
    count = int(seconds * rate)
    k = np.arange(1, max(2, min(16, int(4000 / hertz))))
    cycle = np.arange(TABLE) / TABLE
    table = (np.sin(2 * np.pi * np.outer(cycle, k)) @ k.astype(float) ** -dull).astype(np.float32)
    sound = np.zeros(count, dtype=np.float32)
    for cents in (-5.0, 4.0):
        steps = hertz * 2 ** (cents / 1200) / rate * TABLE
        phase = (np.arange(count) * steps + chance.uniform(0, TABLE)).astype(np.int64) % TABLE
        sound += table[phase]
    swell = 1 + 0.15 * np.sin(2 * np.pi * np.arange(count) / rate / chance.uniform(7, 13))
    return sound * _slow_ends(count, rate, min(1.8, seconds / 3)) * swell.astype(np.float32) * 0.4


def _slow_ends(count: int, rate: int, seconds: float) -> Sound:
    edge = int(seconds * rate)
    ramp = (0.5 - 0.5 * np.cos(np.pi * np.linspace(0, 1, edge))).astype(np.float32)
    envelope = np.ones(count, dtype=np.float32)
    envelope[:edge] *= ramp
    envelope[-edge:] *= ramp[::-1]
    return envelope


@lru_cache(maxsize=16)
def drum(name: str, rate: int) -> Sound:
    """Return one soft stroke of a drum: `low`, `brush` or `grain`."""
    chance = np.random.default_rng(len(name))
    if name == "low":
        times = np.arange(int(0.4 * rate)) / rate
        sound = np.sin(2 * np.pi * (48 * times - 2.4 * np.exp(-times / 0.03))) * np.exp(-times * 11)
    else:
        seconds, low, high = (0.3, 900, 5000) if name == "brush" else (0.12, 4000, 9500)
        times = np.arange(int(seconds * rate)) / rate
        noise = chance.standard_normal(times.size)
        band = butter(2, (low, min(high, 0.45 * rate)), "bandpass", fs=rate, output="sos")
        sound = sosfilt(band, noise) * np.exp(-times * 7 / seconds) * np.minimum(1, times / 0.002)
        sound /= np.abs(sound).max()
    return sound.astype(np.float32)


def wash(seconds: float, rate: int, is_rise: bool, chance: np.random.Generator) -> Sound:
    """Return noise that grows louder and brighter to its end, or comes and goes like a wave."""
    count = int(seconds * rate)
    noise = chance.standard_normal(count).astype(np.float32)
    phase = np.linspace(0, 1, count, dtype=np.float32)
    grown = phase if is_rise else np.abs(np.sin(np.pi * phase))
    sound = np.zeros(count, dtype=np.float32)
    edges = (200, 500, 1100, 2200, 4000, 7500)
    for k, (low, high) in enumerate(pairwise(edges)):
        band = butter(2, (low, high), "bandpass", fs=rate, output="sos")
        centre = k / 4
        sound += sosfilt(band, noise) * np.exp(-(((grown - centre) / 0.35) ** 2))
    sound *= grown**1.7
    end = int(0.08 * rate)
    sound[-end:] *= np.linspace(1, 0, end, dtype=np.float32)
    return sound * 0.5


def in_room(sound: Sound, rate: int, seconds: float, share: float, seed: int) -> Sound:
    """Return mono `sound` as (frames, 2) with a made-up hall around it; same length."""
    chance = np.random.default_rng(seed)
    count = int(seconds * rate)
    fall = np.exp(-6.9 * np.arange(count) / count)[:, None]
    tail = (chance.standard_normal((count, 2)) * fall).astype(np.float32)
    tail = sosfilt(butter(1, 4500, fs=rate, output="sos"), tail, axis=0).astype(np.float32)
    tail *= share / np.sqrt((tail**2).sum(axis=0))
    wet = oaconvolve(np.repeat(sound[:, None], 2, axis=1), tail, axes=0)[: sound.size]
    return np.asarray(sound[:, None] + wet, dtype=np.float32)
