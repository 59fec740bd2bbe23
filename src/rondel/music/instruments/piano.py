"""A felt piano: softer keys are darker, not only quieter."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from rondel.music.instruments.room import in_room
from rondel.music.instruments.tone import (
    RATE,
    Partial,
    Stereo,
    Struck,
    Tone,
    ease_in,
    hertz,
    ringing,
    trimmed,
)

#: Stiffness of the strings at middle C and how it grows each octave (order of magnitude of
#: published measurements, from memory): partials stand a little above whole multiples.
STIFFNESS, STIFFER_EACH_OCTAVE = 3.5e-4, 2.2
STRIKE_PLACE = 1 / 8.2  # of the string; leaves the eighth partial weak
ROOM = 0.32


def _partials(pitch: int) -> list[tuple[int, float]]:
    f0 = hertz(pitch)
    stiff = STIFFNESS * STIFFER_EACH_OCTAVE ** ((pitch - 60) / 12)
    found = ((n, n * f0 * np.sqrt(1 + stiff * n * n)) for n in range(1, 25))
    return [(n, float(f)) for n, f in found if f < 5200]


def _strings(pitch: int, slope: float, lowest: int, linger: float) -> NDArray[np.float32]:
    """Return two strings of one key a hair apart in tune, left and right."""
    seconds = linger * 5.6 * 2.0 ** ((55 - pitch) / 26)
    frames = int(min(7.0, seconds) * RATE)
    rows: tuple[list[Partial], list[Partial]] = ([], [])
    for n, f in _partials(pitch):
        if n < lowest:
            continue
        amount = abs(np.sin(np.pi * n * STRIKE_PLACE)) * n**-slope * np.exp(-f / 3200)
        t60 = seconds * (300 / (300 + f)) ** 0.45
        for cents, left, right in ((-0.7, 0.64, 0.36), (0.6, 0.38, 0.62)):
            exact = f * 2 ** (cents / 1200)
            for share, lasts in ((0.55, t60), (0.45, 0.28 * t60)):
                for side, gain in enumerate((left, right)):
                    # Phases that spread keep the hammer from being one tall peak.
                    phase = 1.7 * n * n + 0.4 * side
                    rows[side].append(Partial(exact, lasts, gain * share * amount, phase))
    return np.stack([ringing(side, frames) for side in rows], axis=1)


def _felt(pitch: int, frames: int) -> NDArray[np.float64]:
    """Return the soft thud of hammer and key."""
    lot = np.random.default_rng(pitch)
    band = butter(2, (70, 380), "bandpass", fs=RATE, output="sos")
    short = int(0.16 * RATE)
    noise = sosfilt(band, lot.standard_normal(short)) * np.exp(-np.arange(short) / (0.022 * RATE))
    sound = np.zeros((frames, 2))
    sound[:short] = noise[:, None]
    return sound


def _placed(sound: NDArray[np.floating], pitch: int) -> Stereo:
    """Return the sound at the key's place from left to right, in the room."""
    ease_in(sound, 0.008)
    lean = np.clip((pitch - 64) / 48, -0.3, 0.3)
    sound *= np.sqrt(np.array([1 - lean, 1 + lean], dtype=sound.dtype))
    return trimmed(in_room(sound, ROOM))


def _first_level(body: NDArray[np.floating]) -> float:
    """Return the RMS of the first third of a second."""
    return float(np.sqrt((body[: RATE // 3] ** 2).mean()))


@cache
def _dark(pitch: int) -> Stereo:
    body = _strings(pitch, slope=1.5, lowest=1, linger=1.0)
    return _placed(body / _first_level(body) * 0.2 + 0.05 * _felt(pitch, len(body)), pitch)


@cache
def _bright(pitch: int) -> Stereo:
    body = _strings(pitch, slope=0.8, lowest=2, linger=0.6)
    return _placed(body / _first_level(body) * 0.115, pitch)


class SoftPiano:
    """The built-in piano."""

    def sound(self, tone: Tone) -> Struck:
        touch = tone.velocity / 127
        return Struck(
            start=tone.start,
            parts=(
                (_dark(tone.pitch), 0.82 * touch**1.4),
                (_bright(tone.pitch), 1.1 * touch**3.0),
            ),
            damp_from=tone.frames,
        )
