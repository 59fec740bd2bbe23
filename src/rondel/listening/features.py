"""The front end of listening: sound in blocks in, small arrays out, in memory that stays small.

Three hours come to about 250 MB. Everything is in absolute time: row i of an array with N rows a
second is centred at i ÷ N seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft, rfftfreq

from rondel.listening.framing import Framing, Sound

Halves = NDArray[np.float16]
Floats = NDArray[np.float32]

RATE = 22050  # Hz: attacks and harmony lie below 11 kHz
FRAMES = 100  # rows a second of `bands` and `novelty`
FINE = 400  # rows a second of `fine`: 2.5 ms, for the exact place of an attack
SLOW = 10  # rows a second of `pitches` and `rms`

BANDS = 81  # ten an octave from 40 Hz to 10.24 kHz
LOWEST_PITCH = 33  # MIDI note of the first column of `pitches`: A1, 55 Hz
PITCHES = 68  # … up to E7, 2.6 kHz
FINE_EDGES = (0.0, 200.0, 800.0, 3000.0, 11025.0)  # Hz, of the columns of `fine`
NOVELTY_EDGES = (0, 20, 40, 60, 81)  # columns of `bands`: to 160 Hz, 640 Hz, 2.56 kHz, the rest

BESIDE = np.float32(0.25)  # of the power that is not in all channels alike
FLOOR = 1e-6  # magnitudes below this count as silence; a full-scale sine has about 0.5
LEVEL_SHARE = 99.0  # percentile of the loudest band that stands for a track's level


@dataclass(frozen=True, slots=True, kw_only=True)
class Features:
    """What is kept of `seconds` of sound, for every part of listening.

    `bands` (FRAMES a second, BANDS): natural logarithm of magnitude, ten bands an octave.
    `novelty` (FRAMES a second, 4): growth of loudness from low to high, vibrato left out.
    `fine` (FINE a second, 4): logarithm of magnitude in four wide bands, from short windows.
    `pitches` (SLOW a second, PITCHES): magnitude by semitone from LOWEST_PITCH, square-rooted.
    `rms` (SLOW a second): root mean square over all channels, from i ÷ SLOW on; 1 is full scale.
    `level`: the magnitude that is loud in this track, so that a quiet copy reads the same.
    """

    seconds: float
    bands: Halves
    novelty: Halves
    fine: Halves
    pitches: Halves
    rms: Floats
    level: float

    @property
    def chroma(self) -> Floats:
        """(SLOW a second, 12) pitch classes from C, each row of length 1 (silence: zeros)."""
        folded = np.zeros((len(self.pitches), 12), dtype=np.float32)
        for column in range(self.pitches.shape[1]):
            folded[:, (LOWEST_PITCH + column) % 12] += self.pitches[:, column]
        length = np.linalg.norm(folded, axis=1, keepdims=True)
        return np.asarray(folded / np.maximum(length, 1e-9), dtype=np.float32)


class FeatureStream:
    """Takes sound in blocks and gives its features; nothing of the sound itself is kept."""

    def __init__(self, rate: int = RATE) -> None:
        if rate != RATE:
            raise ValueError(f"features are made from sound at {RATE} Hz, not {rate}")
        self._bands = _Spectra(size=2048, per_second=FRAMES, weights=_band_weights())
        self._fine = _Spectra(size=256, per_second=FINE, weights=_fine_weights())
        self._pitches = _Spectra(size=8192, per_second=SLOW, weights=_pitch_weights())
        self._powers: list[Floats] = []
        self._left: Floats = np.zeros(0, dtype=np.float32)
        self._samples = 0

    def feed(self, block: Sound) -> None:
        """Take float32 (samples,) or (samples, channels), as many channels in every block.

        Channels are heard together: what is in the middle, and half as loud what is beside it (a
        quarter of its power). Two channels that are each other's mirror so do not cancel, and a
        room, which is wide, does not drown what sounds in it.
        """
        wide = (block[:, None] if block.ndim == 1 else block).astype(np.float32, copy=False)
        channels = [np.ascontiguousarray(wide[:, k]) for k in range(wide.shape[1])]
        for spectra in (self._bands, self._fine, self._pitches):
            spectra.feed(channels)
        self._weigh(np.mean(wide**2, axis=1))
        self._samples += len(wide)

    def features(self) -> Features:
        """Return the features of all that was fed; the stream ends with it."""
        bands, fine, pitches = (
            spectra.finish(self._samples) for spectra in (self._bands, self._fine, self._pitches)
        )
        if len(self._left):
            self._powers.append(np.array([self._left.mean()], dtype=np.float32))
        rms = np.sqrt(np.concatenate([np.zeros(0, dtype=np.float32), *self._powers]))
        level = _level(bands)
        return Features(
            seconds=self._samples / RATE,
            bands=bands,
            novelty=novelty_of(bands, level),
            fine=fine,
            pitches=np.sqrt(np.exp(pitches.astype(np.float32))).astype(np.float16),
            rms=rms.astype(np.float32),
            level=level,
        )

    def _weigh(self, power: Floats) -> None:
        joined = np.concatenate([self._left, power])
        whole = len(joined) // (RATE // SLOW)
        used = joined[: whole * (RATE // SLOW)]
        if whole:
            self._powers.append(used.reshape(whole, -1).mean(axis=1))
        self._left = joined[len(used) :]


def loudness_of(bands: Halves, level: float) -> Floats:
    """Return log-compressed magnitudes, 0 in silence; equal for a track and its quieter copy."""
    return np.asarray(np.log1p(np.exp(bands.astype(np.float32)) * (100.0 / level)))


def novelty_of(bands: Halves, level: float, at_once: int = 6000) -> Halves:
    """Return growth of loudness in four parts of the spectrum, (rows, 4).

    Each band is compared with the louder of itself and its neighbours two rows (20 ms) before:
    a pitch that only wavers is then no news (the maximum filter of Böck & Widmer 2013).
    """
    lag = 2
    parts = []
    for start in range(0, len(bands), at_once):
        loud = loudness_of(bands[max(0, start - lag) : start + at_once], level)
        if start == 0:
            loud = np.concatenate([np.repeat(loud[:1], lag, axis=0), loud])
        before = loud[:-lag].copy()
        np.maximum(before[:, 1:], loud[:-lag, :-1], out=before[:, 1:])
        np.maximum(before[:, :-1], loud[:-lag, 1:], out=before[:, :-1])
        growth = np.maximum(loud[lag:] - before, 0)
        columns = np.add.reduceat(growth, NOVELTY_EDGES[:-1], axis=1)
        parts.append((columns / np.diff(NOVELTY_EDGES)).astype(np.float16))
    return np.concatenate(parts) if parts else np.zeros((0, 4), dtype=np.float16)


class _Spectra:
    """Logarithms of weighted magnitudes, a row a window."""

    def __init__(self, *, size: int, per_second: int, weights: Floats) -> None:
        self._size, self._per_second = size, per_second
        self._framings: list[Framing] = []  # one a channel
        self._weights = weights * np.float32(2.0 / size)
        self._rows: list[Halves] = []

    def feed(self, channels: list[Sound]) -> None:
        framings = self._framings_of(len(channels))
        fed = [framing.feed(one) for framing, one in zip(framings, channels, strict=True)]
        self._rows.extend(self._measure(windows) for windows in zip(*fed, strict=True))

    def finish(self, samples: int) -> Halves:
        ends = [framing.finish(samples) for framing in self._framings_of(1)]
        self._rows.extend(self._measure(windows) for windows in zip(*ends, strict=True))
        rows, self._rows = self._rows, []
        whole = np.empty((sum(map(len, rows)), self._weights.shape[1]), dtype=np.float16)
        past = len(whole)
        while rows:  # each let go as soon as it is copied, so that hours are not held twice
            part = rows.pop()
            whole[past - len(part) : past] = part
            past -= len(part)
        return whole

    def _framings_of(self, channels: int) -> list[Framing]:
        """Return the framings, made for so many channels where no sound came before."""
        if not self._framings:
            self._framings = [
                Framing(rate=RATE, size=self._size, per_second=self._per_second)
                for _ in range(channels)
            ]
        return self._framings

    def _measure(self, windows: tuple[Sound, ...]) -> Halves:
        first = windows[0]
        spectrum = rfft(first, axis=1)
        magnitudes = np.abs(spectrum)
        if not all(np.array_equal(first, other) for other in windows[1:]):
            power = magnitudes**2
            for other in windows[1:]:
                more = rfft(other, axis=1)
                spectrum += more
                power += more.real**2 + more.imag**2
            middle = np.abs(spectrum / np.float32(len(windows))) ** 2
            whole = power / np.float32(len(windows))
            magnitudes = np.sqrt(middle + BESIDE * np.maximum(whole - middle, 0))
        levels = np.log(np.maximum(magnitudes @ self._weights, FLOOR))
        return np.asarray(levels, dtype=np.float16)


def _level(bands: Halves) -> float:
    if not len(bands):
        return FLOOR
    loudest = bands[:: max(1, len(bands) // 100_000)].max(axis=1).astype(np.float32)
    return float(np.exp(np.percentile(loudest, LEVEL_SHARE)))


@lru_cache(maxsize=1)
def _band_weights() -> Floats:
    """Triangles ten an octave; where the spectrum is coarser than a band, its nearest bin."""
    centres = 40.0 * 2.0 ** (np.arange(-1, BANDS + 1) / 10)
    return _triangles(rfftfreq(2048, 1 / RATE), centres)


@lru_cache(maxsize=1)
def _pitch_weights() -> Floats:
    notes = np.arange(LOWEST_PITCH - 1, LOWEST_PITCH + PITCHES + 1)
    return _triangles(rfftfreq(8192, 1 / RATE), 440.0 * 2.0 ** ((notes - 69) / 12))


@lru_cache(maxsize=1)
def _fine_weights() -> Floats:
    frequencies = rfftfreq(256, 1 / RATE)
    low, high = np.array(FINE_EDGES[:-1]), np.array(FINE_EDGES[1:])
    inside = (frequencies[:, None] >= low) & (frequencies[:, None] < high)
    return np.asarray(inside, dtype=np.float32)


def _triangles(frequencies: NDArray[np.float64], centres: NDArray[np.float64]) -> Floats:
    left, middle, right = centres[:-2], centres[1:-1], centres[2:]
    up = (frequencies[:, None] - left) / (middle - left)
    down = (right - frequencies[:, None]) / (right - middle)
    weights = np.maximum(np.minimum(up, down), 0)
    nearest = np.abs(frequencies[:, None] - middle).argmin(axis=0)
    empty = weights.sum(axis=0) < 0.5
    weights[nearest[empty], np.flatnonzero(empty)] = 1
    return np.asarray(weights, dtype=np.float32)
