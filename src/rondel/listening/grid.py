"""Beats as an evenly counted row: between them, beyond them, more or fewer of them, and bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Seconds = NDArray[np.float64]

#: How many times as fast the same music may be counted.
RATIOS = (1 / 4, 1 / 3, 1 / 2, 2 / 3, 1.0, 3 / 2, 2.0, 3.0, 4.0)
#: A tempo within this share of such a ratio is meant to be it.
NEAR_RATIO = 0.04


def near_ratio(ratio: float) -> float | None:
    """Return the ratio of RATIOS that `ratio` is meant to be, or None."""
    nearest = min(RATIOS, key=lambda known: abs(np.log(ratio / known)))
    return nearest if abs(ratio / nearest - 1) <= NEAR_RATIO else None


@dataclass(frozen=True, slots=True)
class Grid:
    """Two beats or more, counted from 0; places between and beyond them go on evenly."""

    beats: Seconds

    def second_of(self, count: Seconds) -> Seconds:
        """Return the seconds at which `count` (with fractions, also beyond the beats) falls."""
        last = len(self.beats) - 1
        whole = np.clip(np.floor(count).astype(int), 0, last - 1)
        here, there = self.beats[whole], self.beats[whole + 1]
        return np.asarray(here + (there - here) * (count - whole))

    def count_at(self, seconds: Seconds) -> Seconds:
        """Return how many beats, with fractions, have gone by at `seconds`."""
        last = len(self.beats) - 1
        whole = np.clip(np.searchsorted(self.beats, seconds, side="right") - 1, 0, last - 1)
        here, there = self.beats[whole], self.beats[whole + 1]
        return np.asarray(whole + (seconds - here) / (there - here))

    def recounted(self, ratio: float, anchor: float, end: float) -> Grid:
        """Return the beats counted `ratio` times as fast, one of them at count `anchor`.

        They reach as far as the beats did: to less than one new beat from the first and the last,
        never outside 0 to `end` seconds.
        """
        step = 1 / ratio
        margin = min(step, 1.0) - 1e-6
        low = int(np.ceil((-margin - anchor) / step))
        high = int(np.floor((len(self.beats) - 1 + margin - anchor) / step))
        seconds = self.second_of(anchor + np.arange(low, high + 1, dtype=float) * step)
        return Grid(seconds[(seconds >= -1e-9) & (seconds <= end + 1e-9)].clip(0, end))


def bars_on(beats: Sequence[float], starts: Sequence[int], beats_per_bar: int) -> tuple[float, ...]:
    """Return the beats that begin a bar. Each of `starts` (counts) rules until the next one.

    The first rules before itself too.
    """
    chosen: list[float] = []
    for place, start in enumerate(starts):
        past = starts[place + 1] if place + 1 < len(starts) else len(beats)
        first = start % beats_per_bar if place == 0 else start
        chosen.extend(beats[first:past:beats_per_bar])
    return tuple(chosen)
