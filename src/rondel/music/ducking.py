"""Music steps back under speech: each cue gets the depth it needs, no more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.music.instruments.tone import RATE, raised
from rondel.music.voice_track import PlacedCue
from rondel.music.weighing import HOP, Energies, integrated, loudest_short_term

#: How far speech stands above the music under it, LU. Listeners without training ask for about
#: 14 (10, and 4 more: Torcoli 2019, JAES 67:1003); one more is kept in hand.
STANDS_ABOVE = 15.2

#: The music is down by the first word and comes back unhurried.
ATTACK_SECONDS, RELEASE_SECONDS = 0.6, 1.6

#: Between two cues closer than this the music stays down.
HOLD_SECONDS = 3.0

STEP = RATE // 100  # the curve has a value every 10 ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Duck:
    """From `start` to `end` (frames) the music is lower by `depth_db`; ramps lie outside."""

    start: int
    end: int
    depth_db: float


def _span(cue: PlacedCue) -> slice:
    return slice(cue.start // HOP, -(-cue.end // HOP))


def depth_needed(cue: PlacedCue, music: Energies, voice: Energies) -> float:
    """Return by how many dB the music must step back under `cue`."""
    above = integrated(voice[_span(cue)]) - loudest_short_term(music[_span(cue)])
    return max(0.0, STANDS_ABOVE - above)


def plan_ducks(cues: Sequence[PlacedCue], music: Energies, voice: Energies) -> tuple[Duck, ...]:
    """Return a duck for every cue, and one between cues that follow each other closely."""
    ducks: list[Duck] = []
    for cue in cues:
        duck = Duck(start=cue.start, end=cue.end, depth_db=depth_needed(cue, music, voice))
        if ducks and 0 < duck.start - ducks[-1].end < HOLD_SECONDS * RATE:
            lesser = min(duck.depth_db, ducks[-1].depth_db)
            ducks.append(Duck(start=ducks[-1].end, end=duck.start, depth_db=lesser))
        ducks.append(duck)
    return tuple(ducks)


def curve(ducks: Sequence[Duck], frames: int) -> NDArray[np.float32]:
    """Return the music's gain every 10 ms, from 0 to the end; where ducks overlap, the deepest."""
    decibels = np.zeros(frames // STEP + 2)
    come, go = round(ATTACK_SECONDS * 100), round(RELEASE_SECONDS * 100)
    for duck in ducks:
        first, last = duck.start // STEP, -(-duck.end // STEP) + 1
        shape = np.concatenate([raised(come), np.ones(last - first), raised(go)[::-1]])
        low = first - come
        cut = shape[max(0, -low) : len(decibels) - low]
        here = slice(max(0, low), max(0, low) + len(cut))
        decibels[here] = np.minimum(decibels[here], -duck.depth_db * cut)
    return np.asarray(10 ** (decibels / 20), dtype=np.float32)


def gain_block(gains: NDArray[np.float32], start: int, frames: int) -> NDArray[np.float32]:
    """Return the gain of every frame from `start` on, shape (frames, 1), without steps."""
    at = np.arange(start, start + frames, dtype=np.float64) / STEP
    return np.interp(at, np.arange(len(gains)), gains).astype(np.float32)[:, None]


def ducked(music: Energies, gains: NDArray[np.float32]) -> Energies:
    """Return the music's energies under the curve."""
    per_hop = HOP // STEP
    powers = np.asarray(gains, dtype=np.float64) ** 2
    whole = np.resize(powers[: len(music) * per_hop], len(music) * per_hop)
    return np.asarray(music * whole.reshape(-1, per_hop).mean(axis=1))
