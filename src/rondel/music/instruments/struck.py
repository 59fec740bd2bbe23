"""Small struck sounds: the felt pulse, the refrain's glass voice and the hand drum."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.signal import butter, sosfilt

from rondel.music.instruments.room import in_room
from rondel.music.instruments.tone import (
    RATE,
    Stereo,
    Struck,
    Tone,
    decaying_sine,
    ease_in,
    hertz,
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
    body = (
        decaying_sine(f0, 0.95, frames)
        + 0.42 * decaying_sine(2 * f0, 0.6, frames, 0.4)
        + 0.16 * decaying_sine(3 * f0, 0.35, frames, 0.9)
        + 0.10 * decaying_sine(4.02 * f0, 0.22, frames, 1.3)
    )
    lot = np.random.default_rng(7 + pitch)
    knock = sosfilt(
        butter(2, (260, 1100), "bandpass", fs=RATE, output="sos"), lot.standard_normal(frames)
    ) * np.exp(-np.arange(frames) / (0.012 * RATE))
    sound = np.repeat((body + 0.5 * knock)[:, None], 2, axis=1)
    ease_in(sound, 0.003)
    return trimmed(in_room(sound / np.abs(sound).max(), 0.12))


class Pulse:
    """A low felt tone for every beat."""

    def sound(self, tone: Tone) -> Struck:
        gain = 0.42 * (tone.velocity / 127) ** 1.3
        return Struck(start=tone.start, parts=((_pulse(tone.pitch), gain),))


@cache
def _glass(pitch: int) -> Stereo:
    f0 = hertz(pitch)
    frames = int(4.5 * RATE)
    sound = np.zeros((frames, 2))
    rows = ((1.0, 1.0, 3.8), (2.003, 0.20, 2.2), (3.01, 0.10, 1.0), (4.17, 0.07, 0.5))
    for ratio, amount, t60 in rows:
        for side, cents in enumerate((-2.0, 2.0)):
            f = f0 * ratio * 2 ** (cents / 1200)
            sound[:, side] += amount * decaying_sine(f, t60, frames, 0.5 * side + ratio)
    # A slow breath in the tone sets the voice apart from the piano.
    seconds = np.arange(frames) / RATE
    sound *= (1 + 0.14 * np.sin(2 * np.pi * 4.3 * seconds - 1.2))[:, None]
    ease_in(sound, 0.012)
    return trimmed(in_room(sound / np.abs(sound).max(), 0.55))


class Glass:
    """The refrain's own voice."""

    def sound(self, tone: Tone) -> Struck:
        gain = 0.24 * (tone.velocity / 127) ** 1.4
        return Struck(start=tone.start, parts=((_glass(tone.pitch), gain),))


@cache
def _drum(pitch: int) -> Stereo:
    f0, t60, noise, bright = STROKES.get(pitch, STROKES[62])
    frames = int(1.0 * RATE)
    body = np.zeros(frames)
    for k, ratio in enumerate(MEMBRANE):
        body += bright**k * decaying_sine(f0 * ratio, t60 / (1 + 0.6 * k), frames, 0.7 * k)
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
        gain = 0.36 * (tone.velocity / 127) ** 1.6
        return Struck(start=tone.start, parts=((_drum(tone.pitch), gain),))
