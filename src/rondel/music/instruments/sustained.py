"""Tones that are held: drone, pad, bass, strings and swell.

Each pitch is made once as a long loop whose spectrum has a little width around every partial and
free phases: it sounds like many players and closes on itself without a seam.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft

from rondel.music.instruments.tone import RATE, Stereo, Tone, hertz, raised

LOOP = 2**19  # frames, 10.9 s


@dataclass(frozen=True, slots=True, kw_only=True)
class Colour:
    """How a held tone sounds: falling partials up to a soft ceiling, `cents` of width."""

    slope: float
    ceiling_hertz: float
    cents: float
    odd: float = 1.0  # strength of the odd partials above the first
    width: float = 0.6  # 0 both ears alike, 1 apart
    steady: float = 0.6  # share of one still voice among the many; low tones need most


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """How a held tone comes and goes, in seconds, and its gain at full velocity."""

    attack: float
    release: float
    gain: float


@cache
def loop(pitch: int, colour: Colour) -> Stereo:
    """Return one seamless loop of a pitch, of unit RMS."""
    f0 = hertz(pitch)
    bins = np.arange(LOOP // 2 + 1) * RATE / LOOP
    shape = np.zeros(len(bins))
    for n in range(1, 40):
        centre = n * f0
        if centre > 3.2 * colour.ceiling_hertz or centre > 9000:
            break
        amount = n**-colour.slope / (1 + (centre / colour.ceiling_hertz) ** 4)
        amount *= colour.odd if n % 2 and n > 1 else 1.0
        spread = max(0.12, centre * (2 ** (colour.cents / 1200) - 1) / 2)
        low, high = np.searchsorted(bins, (centre - 4 * spread, centre + 4 * spread))
        near = np.exp(-0.5 * ((bins[low:high] - centre) / spread) ** 2)
        many = np.sqrt(1 - colour.steady**2)
        shape[low:high] += many * amount * near / np.sqrt((near**2).sum())
        shape[round(centre * LOOP / RATE)] += colour.steady * amount
    # Instruments of one pitch must not move together, or they would add up like one.
    lot = np.random.default_rng((pitch, round(colour.ceiling_hertz), round(colour.slope * 100)))
    used = np.flatnonzero(shape)
    spectra = np.zeros((3, len(bins)), dtype=np.complex64)
    spectra[:, used] = shape[used] * np.exp(1j * lot.uniform(0, 2 * np.pi, (3, len(used))))
    middle, left, right = irfft(spectra, LOOP, axis=1)
    sound = np.stack([left, right], axis=1) * np.float32(colour.width)
    sound += middle[:, None] * np.float32(np.sqrt(1 - colour.width**2))
    return np.asarray(sound / np.sqrt((sound**2).mean()), dtype=np.float32)


@dataclass(slots=True, kw_only=True)
class Held:
    """A held tone: a loop under an envelope. With `rise`, it is fullest there and then falls."""

    start: int
    frames: int
    rise: int | None
    attack: int
    release: int
    gain: float
    sound: Stereo
    bright: Stereo | None = None  # joins as a swelling tone grows
    end: int = field(init=False)

    def __post_init__(self) -> None:
        self.attack = max(1, min(self.attack, self.frames))
        self.end = self.start + self.frames + (self.release if self.rise is None else 0)

    def _legs(self) -> tuple[tuple[int, int, NDArray[np.float32] | None], ...]:
        """Return (from, to, curve) of coming, staying and going; no curve means full."""
        if self.rise is None:
            come, stay, go = self.attack, self.frames, self.release
        else:
            come = max(1, min(self.rise, self.frames))
            stay, go = come, max(self.frames - come, 0)
        last = stay + go
        return (0, come, _coming(come)), (come, stay, None), (stay, last, _coming(go)[::-1])

    def add_to(self, block: Stereo, at: int) -> None:
        for first, last, curve in self._legs():
            low = max(at, self.start + first)
            high = min(at + len(block), self.start + last)
            if low >= high:
                continue
            since = low - self.start - first
            shape = None if curve is None else curve[since : since + high - low]
            # The place in the loop depends on the clock alone, so a tone that is taken up again
            # where it was let go runs on without a seam.
            _add(block[low - at : high - at], self.sound, low, self.gain, shape)
            if self.bright is not None and shape is not None:
                _add(block[low - at : high - at], self.bright, low, 0.4 * self.gain, shape * shape)


@lru_cache(maxsize=64)
def _coming(frames: int) -> NDArray[np.float32]:
    """Return the gain of a tone that comes in over `frames`: two that cross keep one loudness."""
    return raised(frames)


def _add(
    into: Stereo, sound: Stereo, low: int, gain: float, shape: NDArray[np.float32] | None
) -> None:
    """Add the part of a loop that begins at clock frame `low`, where it is closed on itself."""
    done = 0
    while done < len(into):
        first = (low + done) % len(sound)
        count = min(len(into) - done, len(sound) - first)
        piece = sound[first : first + count] * np.float32(gain)
        if shape is not None:
            piece *= shape[done : done + count, None]
        into[done : done + count] += piece
        done += count


@dataclass(frozen=True, slots=True, kw_only=True)
class Sustained:
    """An instrument of held tones. Higher tones are given a little less, as the ear hears more."""

    colour: Colour
    shape: Shape
    bright: Colour | None = None

    def sound(self, tone: Tone) -> Held:
        ease = 2.0 ** (-(tone.pitch - 57) / 40)
        return Held(
            start=tone.start,
            frames=tone.frames,
            rise=tone.rise,
            attack=int(self.shape.attack * RATE),
            release=int(self.shape.release * RATE),
            gain=self.shape.gain * ease * (tone.velocity / 127) ** 1.5,
            sound=loop(tone.pitch, self.colour),
            bright=loop(tone.pitch, self.bright) if self.bright else None,
        )


DRONE = Sustained(
    colour=Colour(slope=0.9, ceiling_hertz=520, cents=9, width=0.35, steady=0.985),
    shape=Shape(attack=4.0, release=4.0, gain=0.040),
)
PAD = Sustained(
    colour=Colour(slope=1.15, ceiling_hertz=1300, cents=22, odd=0.8, steady=0.72),
    shape=Shape(attack=2.4, release=3.0, gain=0.050),
)
BASS = Sustained(
    colour=Colour(slope=1.0, ceiling_hertz=460, cents=6, width=0.15, steady=0.96),
    shape=Shape(attack=0.5, release=0.9, gain=0.045),
)
STRINGS = Sustained(
    colour=Colour(slope=0.95, ceiling_hertz=2100, cents=26, steady=0.6),
    shape=Shape(attack=1.6, release=2.2, gain=0.07),
)
SWELL = Sustained(
    colour=Colour(slope=0.95, ceiling_hertz=620, cents=16, steady=0.8),
    shape=Shape(attack=2.0, release=2.0, gain=0.055),
    bright=Colour(slope=0.85, ceiling_hertz=1700, cents=24),
)
