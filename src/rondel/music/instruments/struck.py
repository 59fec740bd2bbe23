"""Small struck sounds: the felt pulse, the refrain's glass voice and the hand drum."""

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

#: Modes of an ideal circular membrane: zeros of Bessel functions over the first, 2.405.
MEMBRANE = (1.0, 1.593, 2.136, 2.295, 2.653, 2.917, 3.155, 3.5)

#: The drum's strokes by pitch: frequency, seconds to lose 60 dB, noise, brightness.
STROKES = {
    64: (88.0, 0.85, 0.25, 0.45),
    63: (142.0, 0.55, 0.35, 0.6),
    62: (205.0, 0.22, 0.8, 0.8),
}


@cache
def _pulse(pitch: int) -> Stereo:
    frames = int(1.1 * RATE)
    f0 = hertz(pitch)
    body = ringing(
        (
            Partial(f0, 0.95, 1.0),
            Partial(2 * f0, 0.6, 0.62, 2.4),
            Partial(3 * f0, 0.35, 0.28, 4.9),
            Partial(4.02 * f0, 0.22, 0.10, 1.3),
        ),
        frames,
    )
    lot = np.random.default_rng(7 + pitch)
    knock = sosfilt(
        butter(2, (260, 1100), "bandpass", fs=RATE, output="sos"), lot.standard_normal(frames)
    ) * np.exp(-np.arange(frames) / (0.012 * RATE))
    # Turned over: on one beat, pulse and drum must not add up to one tall peak.
    sound = np.repeat(-(body + 0.5 * knock)[:, None], 2, axis=1)
    ease_in(sound, 0.003)
    return trimmed(in_room(sound / np.abs(sound).max(), 0.12))


class Pulse:
    """A low felt tone for every beat."""

    def sound(self, tone: Tone) -> Struck:
        gain = 0.43 * (tone.velocity / 127) ** 1.3
        return Struck(start=tone.start, parts=((_pulse(tone.pitch), gain),))


@cache
def _glass(pitch: int) -> Stereo:
    f0 = hertz(pitch)
    frames = int(4.5 * RATE)
    rows = ((1.0, 1.0, 3.8), (2.003, 0.20, 2.2), (3.01, 0.10, 1.0), (4.17, 0.07, 0.5))
    sides = [
        ringing(
            [
                Partial(f0 * ratio * 2 ** (cents / 1200), t60, amount, 0.5 * side + ratio)
                for ratio, amount, t60 in rows
            ],
            frames,
        )
        for side, cents in enumerate((-2.0, 2.0))
    ]
    sound: NDArray[np.floating] = np.stack(sides, axis=1)
    # A slow breath in the tone sets the voice apart from the piano.
    seconds = np.arange(frames) / RATE
    breath = 1 + 0.14 * np.sin(2 * np.pi * 4.3 * seconds - 1.2)
    sound = sound * breath[:, None]
    ease_in(sound, 0.012)
    return trimmed(in_room(sound / np.abs(sound).max(), 0.55))


class Glass:
    """The refrain's own voice."""

    def sound(self, tone: Tone) -> Struck:
        gain = 0.23 * (tone.velocity / 127) ** 1.4
        return Struck(start=tone.start, parts=((_glass(tone.pitch), gain),))


@cache
def _drum(pitch: int) -> Stereo:
    f0, t60, noise, bright = STROKES.get(pitch, STROKES[62])
    frames = int(1.0 * RATE)
    body = ringing(
        [
            Partial(f0 * ratio, t60 / (1 + 0.6 * k), bright**k, 0.7 * k)
            for k, ratio in enumerate(MEMBRANE)
        ],
        frames,
    )
    lot = np.random.default_rng(90 + pitch)
    skin = sosfilt(
        butter(2, (300, 2600), "bandpass", fs=RATE, output="sos"), lot.standard_normal(frames)
    ) * np.exp(-np.arange(frames) / (0.010 * RATE))
    one = body / np.abs(body).max() + noise * 0.35 * skin / np.abs(skin).max()
    sound = np.stack([one * 0.92, one * 1.08], axis=1)
    ease_in(sound, 0.002)
    return trimmed(in_room(sound / np.abs(sound).max(), 0.30))


class HandDrum:
    """A frame drum played with the hand."""

    def sound(self, tone: Tone) -> Struck:
        gain = 0.66 * (tone.velocity / 127) ** 1.6
        return Struck(start=tone.start, parts=((_drum(tone.pitch), gain),))
