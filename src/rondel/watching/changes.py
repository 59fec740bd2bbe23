"""Where one kind of motion ends and another begins: the cheapest way to cut a take into stretches
in each of which hands move alike.

Alike is what directions they move in, together and apart, and how these go with each other: the
covariance of the signals over a few seconds. Length and strength of strokes hardly count.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.ndimage import gaussian_filter1d

from rondel.watching.signals import RATE, Numbers, Signals, followed

CELL_SECONDS = 0.2
_OVER_SECONDS = 1.2  # standard deviation of the window
_STRENGTH_COUNTS = 0.12
_LEAST_SECONDS = 5.0  # of a stretch
_MOST_SECONDS = 300.0
#: What one more cut costs, in seconds of motion that is wholly unlike.
PENALTY = 3.0
_APART_COUNTS = 1.6  # moments are about half as large as what they are moments of


def alike(signals: Signals) -> Numbers:
    """Return what is compared, (cells, 22): a row every `CELL_SECONDS`."""
    together, apart = followed(signals.together), followed(signals.apart)
    rows = np.concatenate([together, _APART_COUNTS * apart], axis=1)
    count = rows.shape[1]
    pairs = [(i, j) for i in range(count) for j in range(i, count)]
    products = np.stack([rows[:, i] * rows[:, j] for i, j in pairs], axis=1)
    soft = gaussian_filter1d(products, _OVER_SECONDS * RATE, axis=0, mode="nearest")
    step = int(CELL_SECONDS * RATE)
    soft = soft[step // 2 :: step]
    trace = np.sum([soft[:, n] for n, (i, j) in enumerate(pairs) if i == j], axis=0) + 1e-9
    scale = np.array([1.0 if i == j else np.sqrt(2.0) for i, j in pairs])
    shape = soft / trace[:, None] * scale
    floor = 0.02 * float(np.median(trace)) + 1e-9
    strength = _STRENGTH_COUNTS * np.log2(trace + floor)
    return np.concatenate([shape, strength[:, None]], axis=1)


def stretches_of(signals: Signals) -> list[tuple[float, float]]:
    """Return the spans in each of which hands move alike, side by side, in seconds."""
    rows = alike(signals)
    start, end = float(signals.at[0]), float(signals.at[-1])
    edges = partition(rows, int(_LEAST_SECONDS / CELL_SECONDS), PENALTY / CELL_SECONDS)
    times = [start + edge * CELL_SECONDS for edge in edges]
    times[-1] = end
    return list(pairwise(times))


def partition(rows: Numbers, least: int, penalty: float) -> list[int]:
    """Return the edges of the cheapest cut of `rows` into runs of at least `least`.

    A run costs the sum of squares about its mean, and `penalty`.
    """
    count = len(rows)
    if count < 2 * least:
        return [0, count]
    sums = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0)])
    squares = np.concatenate([[0.0], np.cumsum((rows**2).sum(axis=1))])
    best = np.full(count + 1, np.inf)
    best[0] = -penalty
    came = np.zeros(count + 1, dtype=np.int64)
    most = int(_MOST_SECONDS / CELL_SECONDS)
    for end in range(least, count + 1):
        starts = np.arange(max(0, end - most), end - least + 1)
        mean = sums[end] - sums[starts]
        cost = squares[end] - squares[starts] - (mean**2).sum(axis=1) / (end - starts)
        total = best[starts] + cost + penalty
        pick = int(np.argmin(total))
        best[end], came[end] = total[pick], starts[pick]
    edges = [count]
    while edges[-1] > 0:
        edges.append(int(came[edges[-1]]))
    return edges[::-1]
