"""The likeliest row of beats at about one tempo, through the whole of a track."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.listening.features import Floats
from rondel.listening.network import RATE, SLOWEST, TEMPI, Impression

Frames = NDArray[np.int64]

WIDTH = 0.10  # a track wanders by at most this share around the tempo it is decoded at
EASE = 0.06  # keeps a frame that the network is certain of from outweighing all others
TEMPO_WEIGHT = 0.04  # of what the network says of the tempo, a frame
WANDER = 6.0  # cost of leaving the period, per natural logarithm, even by a frame
AT_ONCE = 30_000  # frames handled together, so that hours stay small
STIFFNESS = 30.0  # further cost of a change of tempo, per natural logarithm of the ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """Beats as frames of the network; `score` compares pulses of one track with each other."""

    frames: Frames
    bpm: float
    score: float


def gains(impression: Impression) -> Floats:
    """Return what a beat on each frame is worth: its log-odds, less where nothing beats."""
    odds = np.log((impression.beat + EASE) / (1 - impression.beat + EASE))
    return np.asarray(odds * impression.heard, dtype=np.float32)


def worth_on(worth: Floats, frames: Frames) -> Floats:
    """Return what beats on `frames` are worth, a frame early or late counting as met."""
    inside = np.clip(frames, 1, max(1, len(worth) - 2))
    return np.asarray(np.stack([worth[inside + k] for k in (-1, 0, 1)]).max(axis=0))


def pulse_at(impression: Impression, bpm: float, width: float = WIDTH) -> Pulse:
    """Return the best pulse whose tempo stays within `width` of `bpm`."""
    low, high = 60 * RATE / (bpm * (1 + width)), 60 * RATE / (bpm * (1 - width))
    periods = np.arange(max(2, int(np.ceil(low))), int(high) + 1)
    worth = gains(impression)
    if len(worth) <= periods[-1]:
        return Pulse(frames=np.zeros(0, dtype=np.int64), bpm=bpm, score=0.0)
    frames, score = _best_row(worth, _tempo_worth(impression, periods), periods)
    steps = np.diff(frames)
    heard = 60 * RATE / float(steps.mean()) if len(steps) else bpm
    return Pulse(frames=frames, bpm=heard, score=score)


def _tempo_worth(impression: Impression, periods: Frames) -> Floats:
    """Return, for a beat on each frame that ends each period, what the network says of it.

    It says so of every frame between the two beats, so that fast and slow are told alike.
    """
    place = TEMPI / 2 * np.log2(60 * RATE / periods / SLOWEST)
    whole = np.clip(np.floor(place).astype(int), 0, TEMPI - 2)
    part = np.clip(place - whole, 0, 1).astype(np.float32)
    count = len(impression.tempo)
    worth = np.empty((count, len(periods)), dtype=np.float32)
    for start in range(0, count, AT_ONCE):
        first, past = max(0, start - int(periods[-1])), min(count, start + AT_ONCE)
        tempo = impression.tempo[first:past].astype(np.float32)
        share = tempo[:, whole] * (1 - part) + tempo[:, whole + 1] * part
        said = np.log(share + 0.003) - np.log(0.003 + 1 / TEMPI)
        said = TEMPO_WEIGHT * said * impression.heard[first:past, None]
        sums = np.concatenate([np.zeros((1, len(periods))), np.cumsum(said, axis=0, dtype=float)])
        ends = np.arange(start, past) - first
        for column, period in enumerate(periods):
            starts = np.maximum(ends - period, 0)
            worth[start:past, column] = sums[ends, column] - sums[starts, column]
    return worth


def _best_row(worth: Floats, tempo_worth: Floats, periods: Frames) -> tuple[Frames, float]:
    """Return the best frames and their score, each beat a period after the one before.

    A dynamic programme over (frame of a beat, period that led to it). Frames nearer to each other
    than the shortest period do not depend on each other and are decided together.
    """
    count, columns = len(worth), np.arange(len(periods))
    ratio = np.abs(np.log(periods[:, None] / periods[None, :]))
    # One frame more or less is the rounding of a steady tempo and costs next to nothing.
    change = -STIFFNESS * np.maximum(0, ratio - 1.01 / periods[None, :]) - WANDER * ratio
    change = change.T.astype(np.float32)  # (period after, period before)
    onward = np.zeros((count, len(periods)), dtype=np.float32)
    came_by = np.zeros((count, len(periods)), dtype=np.int16)
    tail = np.zeros((int(periods[-1]), len(periods)), dtype=np.float32)
    together = int(periods[0])
    for start in range(0, count, together):
        frames = np.arange(start, min(count, start + together))
        previous = frames[:, None] - periods[None, :]
        here = np.where(previous >= 0, onward[np.maximum(previous, 0), columns], np.float32(0))
        here += tempo_worth[frames] + worth[frames, None]
        options = here[:, None, :] + change
        best = options.argmax(axis=2)
        came_by[frames] = best
        onward[frames] = np.take_along_axis(options, best[:, :, None], axis=2)[:, :, 0]
        tail = np.concatenate([tail, here])[-len(tail) :]
    last, column = divmod(int(tail.argmax()), tail.shape[1])
    frame, score = last + count - int(periods[-1]), float(tail.max())
    frames_back = [frame]
    while frame - periods[column] >= 0:
        frame -= int(periods[column])
        column = int(came_by[frame, column])
        frames_back.append(frame)
    return np.array(frames_back[::-1], dtype=np.int64), score
