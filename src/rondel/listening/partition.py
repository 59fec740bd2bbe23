"""Cut a row of cells into stretches that are alike, at the least cost in all."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rondel.listening.features import Floats

LONGEST = 64  # cells of one stretch in the search; longer ones are joined afterwards


def best_cuts(
    cells: Floats, weights: Floats, *, price: float, bonus: Floats, shortest: int
) -> tuple[int, ...]:
    """Return the first cells of all stretches but the first, rising.

    `cells` (cells, columns) cost their distance from the median of their stretch, times
    `weights`: a few strange cells are borne with, where a squared distance would cut around them.
    Every cut costs `price` less the `bonus` of its cell; a stretch has `shortest` cells or more.
    """
    count = len(cells)
    if count < 2 * shortest:
        return ()
    costs = _costs(cells, weights, shortest)
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
    return _joined(cells, weights, cuts[::-1], toll)


def _costs(cells: Floats, weights: Floats, shortest: int) -> NDArray[np.float64]:
    """Return costs[first, length] of every stretch that may be."""
    count = len(cells)
    costs = np.full((count, LONGEST + 1), np.inf)
    for first in range(count):
        for length in range(shortest, min(LONGEST, count - first) + 1):
            costs[first, length] = _cost(cells, weights, first, first + length)
    return costs


def _cost(cells: Floats, weights: Floats, first: int, past: int) -> float:
    part = cells[first:past]
    away = np.abs(part - np.median(part, axis=0)).sum(axis=1)
    return float(away @ weights[first:past])


def _joined(cells: Floats, weights: Floats, edges: list[int], toll: Floats) -> tuple[int, ...]:
    """Take out cuts that do not pay, as those made only because a stretch was long enough."""
    at = 1
    while at < len(edges) - 1:
        first, cut, past = edges[at - 1], edges[at], edges[at + 1]
        apart = _cost(cells, weights, first, cut) + _cost(cells, weights, cut, past)
        if _cost(cells, weights, first, past) <= apart + toll[cut]:
            del edges[at]
            at = max(1, at - 1)
        else:
            at += 1
    return tuple(edges[1:-1])
