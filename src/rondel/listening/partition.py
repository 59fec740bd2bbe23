"""Cut a row of cells into stretches that are alike, at the least cost in all."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rondel.listening.features import Floats

LONGEST = 64  # cells of one stretch in the search; longer ones are joined afterwards


def best_cuts(
    cells: Floats,
    weights: Floats,
    *,
    kinds: Floats,
    cap: float,
    price: float,
    bonus: Floats,
    shortest: int,
) -> tuple[int, ...]:
    """Return the first cells of all stretches but the first, rising.

    `cells` (cells, columns) cost their distance from the median of their stretch, at most `cap`
    a column, times the column's weight in `kinds` and the cell's in `weights`: a few strange cells
    are borne with, where a squared distance would cut around them. Every cut costs `price` less
    the `bonus` of its cell; a stretch has `shortest` cells or more.
    """
    count = len(cells)
    if count < 2 * shortest:
        return ()
    measure = _Measure(cells, weights, kinds, cap)
    costs = _costs(measure, shortest)
    best = np.full(count + 1, np.inf)
    best[0] = 0.0
    came_from = np.zeros(count + 1, dtype=np.int64)
    toll = price - bonus
    toll[0] = 0.0
    for past in range(shortest, count + 1):
        first = max(0, past - LONGEST)
        lengths = past - np.arange(first, past - shortest + 1)
        totals = best[first : past - shortest + 1] + toll[first : past - shortest + 1]
        totals = totals + costs[past - lengths, lengths]
        choice = int(totals.argmin())
        best[past], came_from[past] = totals[choice], first + choice
    cuts = [count]
    while cuts[-1] > 0:
        cuts.append(int(came_from[cuts[-1]]))
    return _joined(measure, cuts[::-1], toll)


class _Measure:
    """The cost of calling some neighbouring cells alike."""

    def __init__(self, cells: Floats, weights: Floats, kinds: Floats, cap: float) -> None:
        self.count = len(cells)
        self._cells = cells * kinds  # weighted once, so that the cap is one a column
        self._weights = weights
        self._caps = cap * kinds

    def cost(self, first: int, past: int) -> float:
        part = self._cells[first:past]
        away = np.minimum(np.abs(part - np.median(part, axis=0)), self._caps).sum(axis=1)
        return float(away @ self._weights[first:past])


def _costs(measure: _Measure, shortest: int) -> NDArray[np.float64]:
    """Return costs[first, length] of every stretch that may be."""
    costs = np.full((measure.count, LONGEST + 1), np.inf)
    for first in range(measure.count):
        for length in range(shortest, min(LONGEST, measure.count - first) + 1):
            costs[first, length] = measure.cost(first, first + length)
    return costs


def _joined(measure: _Measure, edges: list[int], toll: Floats) -> tuple[int, ...]:
    """Take out cuts that do not pay, as those made only because a stretch was long enough."""
    at = 1
    while at < len(edges) - 1:
        first, cut, past = edges[at - 1], edges[at], edges[at + 1]
        apart = measure.cost(first, cut) + measure.cost(cut, past)
        if measure.cost(first, past) <= apart + toll[cut]:
            del edges[at]
            at = max(1, at - 1)
        else:
            at += 1
    return tuple(edges[1:-1])
