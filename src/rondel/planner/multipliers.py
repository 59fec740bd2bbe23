"""Prices of what the network forgets, and what repeated uses really cost at least."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rondel.planner.table import Floats, Ints

_MOST_USES = 40  # that tables go up to; no technique comes more often


@dataclass(frozen=True)
class Multipliers:
    """The price of one use of each technique and of one block on each region, of each bar that is
    short on the main regions (all of them together first, then each one), and of deep work that
    is not warmed, by region."""

    techniques: Floats
    regions: Floats
    shortages: Floats
    warmth: Floats


@dataclass(frozen=True)
class Uses:
    """How often a way through the network uses each technique and region, its shortages, and the
    warmth that it lacks at its peak (less what other regions have), by region."""

    techniques: Floats
    regions: Floats
    shortages: Floats
    warmth: Floats


class Repeats:
    """What repeated uses really cost at least: `price` for every pair within half an hour.

    In a form that is longer, uses may be spread over `windows` half hours that do not overlap, and
    then how often a technique came before says nothing for sure about what is still to come.
    """

    def __init__(self, price: Floats, windows: int) -> None:
        self.price, self.windows = price, windows
        uses = np.arange(_MOST_USES)
        each, over = uses // windows, uses % windows
        pairs = (windows - over) * each * (each - 1) / 2 + over * (each + 1) * each / 2
        self.pairs = pairs[None, :] * price[:, None]  # (things, uses)

    def credit(self, multipliers: Floats) -> Floats:
        """Return, for each thing and number of earlier uses, the least of what further uses really
        cost minus what they are priced at: 0 or less. Shape (things, uses)."""
        uses = np.arange(_MOST_USES)
        first = (self.pairs - multipliers[:, None] * uses).min(axis=1)
        if self.windows > 1:
            return np.repeat(first[:, None], _MOST_USES, axis=1)
        # With n uses behind, the m-th further one costs price * (n + m - 1).
        more = uses[None, None, :]
        before = uses[None, :, None]
        real = self.price[:, None, None] * (before * more + more * (more - 1) / 2)
        return np.asarray((real - multipliers[:, None, None] * more).min(axis=2))

    def best_uses(self, multipliers: Floats, earlier: Ints | None = None) -> Floats:
        """Return for each thing how many uses after `earlier` ones its credit is reckoned with."""
        uses = np.arange(_MOST_USES)
        real = self.pairs
        if earlier is not None and self.windows == 1:
            real = real + self.price[:, None] * earlier[:, None] * uses
        best = np.argmin(real - multipliers[:, None] * uses, axis=1)
        return np.asarray(best, dtype=np.float64)


@dataclass(frozen=True)
class Credits:
    """Credits by thing and earlier uses, for one set of multipliers."""

    techniques: Floats
    regions: Floats
