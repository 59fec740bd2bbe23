"""Voices for the motif: small struck and plucked sounds, of one loudness."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

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

SECONDS = 4.5

#: The RMS of the first half second, as that of glass at A5.
LEVEL = 0.36


@dataclass(frozen=True, slots=True, kw_only=True)
class Chime:
    """A sound of decaying partials: (frequency over the first, strength, seconds to lose 60 dB).

    `cents` sets the ears apart, `breath` is how much the tone sways, `soft` its rise in seconds.
    """

    partials: tuple[tuple[float, float, float], ...]
    cents: float
    breath: float
    soft: float
    room: float

    def sound(self, tone: Tone) -> Struck:
        """Return the sound of `tone`."""
        gain = 0.23 * (tone.velocity / 127) ** 1.4
        return Struck(start=tone.start, parts=((_rung(self, tone.pitch), gain),))


@cache
def _rung(chime: Chime, pitch: int) -> Stereo:
    f0, frames = hertz(pitch), int(SECONDS * RATE)
    # High tones die away sooner, as on every string and bar.
    lasts = 2.0 ** ((76 - pitch) / 36)
    sides = [
        ringing(
            [
                Partial(f0 * ratio * 2 ** (cents / 1200), t60 * lasts, amount, 0.5 * side + ratio)
                for ratio, amount, t60 in chime.partials
                if f0 * ratio < 9000
            ],
            frames,
        )
        for side, cents in enumerate((-chime.cents, chime.cents))
    ]
    sound: NDArray[np.floating] = np.stack(sides, axis=1)
    seconds = np.arange(frames) / RATE
    sway = 1 + chime.breath * np.sin(2 * np.pi * 4.3 * seconds - 1.2)
    sound = sound * sway[:, None]
    ease_in(sound, chime.soft)
    level = float(np.sqrt((sound[: RATE // 2] ** 2).mean()))
    return trimmed(in_room(sound * (LEVEL / level), chime.room))


#: A plucked string: whole multiples, the upper ones sooner gone.
HARP = Chime(
    partials=tuple((float(n), n**-1.25, 3.4 / n**0.6) for n in range(1, 10)),
    cents=1.5,
    breath=0.0,
    soft=0.005,
    room=0.5,
)

#: A bar of wood: its second partial is tuned two octaves up, as on a marimba (common practice).
WOOD = Chime(
    partials=((1.0, 1.0, 2.2), (3.98, 0.16, 0.7), (9.9, 0.03, 0.2)),
    cents=1.0,
    breath=0.06,
    soft=0.007,
    room=0.6,
)

#: Two soft bars an octave apart that beat with each other.
BARS = Chime(
    partials=((1.0, 1.0, 3.4), (2.0, 0.34, 2.6), (2.76, 0.08, 0.9), (5.4, 0.03, 0.4)),
    cents=3.0,
    breath=0.2,
    soft=0.010,
    room=0.6,
)
