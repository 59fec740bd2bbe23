"""How many beats a bar has, and which beats begin one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rondel.listening.network import METRES, OFFSET, RATE, Impression

Seconds = NDArray[np.float64]

SLIP = 9.0  # cost of a bar with too few or too many beats, in log-odds
METRE_WEIGHT = 0.15  # of what the network says of the metre, a beat


def bars_of(impression: Impression, beats: Seconds) -> tuple[int, tuple[int, ...], float]:
    """Return (beats a bar, the counts of the beats that begin one, how sure from 0 to 1)."""
    if len(beats) < 2 or not len(impression.beat):
        return 4, tuple(range(0, len(beats), 4)), 0.0
    worth, heard = _worth(impression, beats)
    said = (impression.metre * impression.heard[:, None]).sum(axis=0)
    said = np.log(said / max(float(said.sum()), 1e-9) + 0.01)
    scores, rows = [], []
    for column, per_bar in enumerate(METRES):
        row = _best_bars(worth - float(worth.mean()), per_bar)
        rows.append(row)
        told = _told_apart(worth, row)
        scores.append(told + METRE_WEIGHT * float(heard.sum()) * float(said[column]))
    order = np.argsort(scores)
    best = int(order[-1])
    margin = (scores[best] - scores[int(order[-2])]) / max(float(heard.sum()), 1.0)
    return METRES[best], tuple(int(k) for k in rows[best]), float(1 - np.exp(-4 * margin))


def _worth(impression: Impression, beats: Seconds) -> tuple[Seconds, Seconds]:
    """Return what a downbeat on each beat is worth, and the share of a beat heard there."""
    frames = np.clip(np.rint((beats - OFFSET) * RATE).astype(int), 1, len(impression.beat) - 2)
    near = np.stack([impression.downbeat[frames + k] for k in (-1, 0, 1)]).max(axis=0)
    heard = impression.heard[frames].astype(np.float64)
    odds = np.log((near + 0.05) / (1 - near + 0.05))
    return np.asarray(odds * heard, dtype=np.float64), heard


def _told_apart(worth: Seconds, row: NDArray[np.int64]) -> float:
    """Return how much better worth is told by downbeats and others apart, in log-likelihood."""
    down = np.zeros(len(worth), dtype=bool)
    down[row] = True
    if down.all() or not down.any() or worth[down].mean() <= worth[~down].mean():
        return 0.0
    within = np.where(down, worth - worth[down].mean(), worth - worth[~down].mean())
    return 0.5 * len(worth) * float(np.log((worth.var() + 0.01) / (within.var() + 0.01)))


def _best_bars(worth: Seconds, per_bar: int) -> NDArray[np.int64]:
    """Return the downbeats of the best walk through bars of `per_bar`.

    A beat that begins a bar earns its worth, every other beat the contrary.
    """
    count = len(worth)
    came = np.zeros((count, per_bar), dtype=np.int64)
    state = np.where(np.arange(per_bar) == 0, worth[0], -worth[0])
    for beat in range(1, count):
        onward = np.roll(state, 1)
        jump = int(state.argmax())
        slipped = state[jump] - SLIP
        come = np.where(onward >= slipped, (np.arange(per_bar) - 1) % per_bar, jump)
        came[beat] = come
        state = np.maximum(onward, slipped)
        state = state + np.where(np.arange(per_bar) == 0, worth[beat], -worth[beat])
    place = int(state.argmax())
    starts = []
    for beat in range(count - 1, -1, -1):
        if place == 0:
            starts.append(beat)
        place = int(came[beat, place])
    return np.array(starts[::-1], dtype=np.int64)
