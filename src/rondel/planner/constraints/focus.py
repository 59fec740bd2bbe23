"""The main regions get at least half of the working time, each its part of it."""

from __future__ import annotations

from collections.abc import Sequence


def shortages(main_bars: Sequence[int], all_bars: int, share: float) -> tuple[float, ...]:
    """Return the bars that are short: of all main regions together, then of each.

    `main_bars` is a number a region, `all_bars` all bars of work. Each region is to have its even
    part of `share`: a place that was asked for is not left out because another is easier to reach.
    """
    if not main_bars:
        return ()
    wanted = share * all_bars
    part = wanted / len(main_bars)
    return (
        max(0.0, wanted - sum(main_bars)),
        *(max(0.0, part - bars) for bars in main_bars),
    )


def cost(
    main_bars: Sequence[int], all_bars: int, usual_bars: int, share: float, weight: float
) -> float:
    """Return `weight` for wholly neglected main regions, and once more for each one's part.

    `usual_bars` is about how many bars of work there are (a fixed number, so that a bar that is
    short costs the same in every plan for one brief).
    """
    return weight * sum(shortages(main_bars, all_bars, share)) / (share * usual_bars)
