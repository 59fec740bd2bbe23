"""The main regions get at least half of the working time, each its part of it."""

from __future__ import annotations

from collections.abc import Sequence

from rondel.rules.focus import MIN_SHARE, RULE


def cost(main_bars: Sequence[int], all_bars: int) -> float:
    """Return what it costs that `main_bars` (a number a region) fall short of half of `all_bars`.

    The weight stands once for the sum, and once for every region having half of its even part:
    a place that was asked for is not to be left out because another is easier to reach.
    """
    if not main_bars or not all_bars:
        return 0.0
    wanted = MIN_SHARE * all_bars
    short = max(0.0, 1 - sum(main_bars) / wanted)
    part = wanted / len(main_bars) / 2
    lean = sum(max(0.0, 1 - bars / part) for bars in main_bars) / len(main_bars)
    return RULE.weight * (short + lean)
