"""Is one even grid behind the beats of a track? And beats smoothed where there is none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded

Seconds = NDArray[np.float64]

CLOSE = 0.045  # seconds: a beat this near to the grid is explained by it
EXPLAINED = 0.7  # of what the best row of beats is worth, for a track to be constant
TREND = 0.025  # seconds that beats may stray together from the grid, a stretch long
STRETCH = 12  # beats
AT_ONCE = 500_000  # angles worked out together
SEARCH = 0.03  # the grid's period lies within this share of the usual one


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """Beats at `first` + k × `period` seconds; `trend`: how far peaks stray together."""

    first: float
    period: float
    trend: float

    def beats(self, start: float, end: float) -> Seconds:
        """Return the grid from `start` to `end` seconds."""
        low = int(np.ceil((start - self.first) / self.period - 1e-9))
        high = int(np.floor((end - self.first) / self.period + 1e-9))
        return np.asarray(self.first + self.period * np.arange(low, high + 1), dtype=np.float64)


def steady_grid(at: Seconds, weight: Seconds, usual: float) -> Steady | None:
    """Return the even grid near the period `usual` on which most of the peaks `at` lie.

    The peaks need not all be beats: those between two beats speak for no grid or for another.
    None of fewer than eight, nor where fewer than two near the grid have any weight: held tones
    have many peaks of which none is sure.
    """
    if len(at) < 8:
        return None
    span = float(at[-1] - at[0])
    count = int(2 * SEARCH * 8 * span / usual) + 3
    periods = usual * (1 + np.linspace(-SEARCH, SEARCH, count))
    turns = _turns(at, weight, periods)
    best = int(np.abs(turns).argmax())
    period = float(periods[best])
    first = float(np.angle(turns[best])) / (2 * np.pi) * period
    for reach in (0.12, 0.07, CLOSE, CLOSE):
        number = np.rint((at - first) / period)
        off = at - first - number * period
        near = np.abs(off) < reach
        if near.sum() < 4 or np.ptp(number[near]) < 4:
            return None
        sure = number[near & (weight > 0)]
        if len(sure) < 2 or np.ptp(sure) == 0:  # no line goes through fewer than two peaks
            return None
        share = np.sqrt(weight[near])
        line, _, rank, _, _ = np.polyfit(number[near], at[near], 1, w=share, full=True)
        if rank < 2:  # nearly all the weight lies on one peak, through which any line goes
            return None
        period, first = (float(number) for number in line)
    off = at - first - np.rint((at - first) / period) * period
    return Steady(first=first, period=period, trend=_trend(off[np.abs(off) < 3 * CLOSE]))


def _turns(at: Seconds, weight: Seconds, periods: Seconds) -> NDArray[np.complex128]:
    """Return, for each period, where in it the peaks fall together: the sum of them on a circle.

    A few periods together, for both periods and peaks grow with the length of a track.
    """
    few = max(1, AT_ONCE // len(at))
    sums = [
        np.exp(2j * np.pi * at[None, :] / periods[start : start + few, None]) @ weight
        for start in range(0, len(periods), few)
    ]
    return np.concatenate(sums)


def _trend(off: Seconds) -> float:
    """Return how far a stretch of neighbouring beats strays together, at its worst but a few."""
    if len(off) < STRETCH:
        return 0.0
    middles = [float(np.median(off[k : k + STRETCH])) for k in range(0, len(off) - STRETCH + 1, 3)]
    return float(np.percentile(np.abs(middles), 90))


def smoothed(beats: Seconds, weights: Seconds, stiffness: float, homing: float) -> Seconds:
    """Return beats near the given ones whose tempo changes little from one to the next.

    Least squares on the beats by weight, on their second differences by `stiffness`, and by
    `homing` on how far each step is from the usual one: where nothing beats for long, the tempo
    comes back to what it is in most of the track.
    """
    count = len(beats)
    if count < 4:
        return beats
    main = np.full(count, 6.0)
    main[[0, -1]], main[[1, -2]] = 1.0, 5.0
    above = np.full(count - 1, -4.0)
    above[[0, -1]] = -2.0
    bands = np.zeros((3, count))
    bands[0, 2:] = stiffness
    bands[1, 1:] = stiffness * above
    bands[2] = stiffness * main + weights + 1e-6
    bands[1, 1:] -= homing
    bands[2] += homing * np.where((np.arange(count) == 0) | (np.arange(count) == count - 1), 1, 2)
    sure = weights[1:] * weights[:-1] > 0.04
    steps = np.diff(beats)
    even = beats[0] + np.arange(count) * float(np.median(steps[sure] if sure.any() else steps))
    moved = solveh_banded(bands, (weights + 1e-6) * (beats - even))
    return np.asarray(even + moved)
