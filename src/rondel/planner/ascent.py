"""The prices that make the bound highest, by subgradient ascent.

Held, Wolfe & Crowder 1974, Mathematical Programming 6:62-88 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Protocol

import numpy as np

from rondel.planner.bound import Relaxation, Solved
from rondel.planner.multipliers import Multipliers, Uses
from rondel.planner.table import Ints

#: Techniques are counted in uses, shortages in bars: without this the bars would drown the uses.
_BARS_A_USE = 16.0


class Start(Protocol):
    """From where plans are bounded: their beginning, or the end of a half-made one."""

    @property
    def earlier(self) -> tuple[Ints | None, Ints | None]:
        """How often each technique and region came before; None for never."""

    def value(self, solved: Solved) -> float:
        """Return what no plan that goes on from here costs less than."""

    def uses(self, solved: Solved) -> Uses:
        """Return what the cheapest way on uses, with the shortages and the warmth so far."""


class Beginning:
    """Plans that have not begun: what is bounded is every plan."""

    earlier = None, None

    def value(self, solved: Solved) -> float:
        return solved.value()

    def uses(self, solved: Solved) -> Uses:
        return solved.uses()


_BEGINNING = Beginning()


def ascend(
    relaxation: Relaxation,
    start: Solved,
    best_plan: float,
    rounds: int,
    of: Start = _BEGINNING,
) -> Solved:
    """Return the best of `rounds` steps of subgradient ascent (Polyak's step towards the cost of
    the best plan known, halved where nothing is gained), for the plans that go on from `of`."""
    best = solved = start
    value = best_value = of.value(best)
    at, pace, stuck = start.at, 1.0, 0
    for _ in range(rounds):
        if not math.isfinite(value) or best_value >= best_plan - 1e-9:
            break
        slope = _slope(relaxation, solved, of)
        slopes = (slope.techniques, slope.regions, slope.shortages, slope.warmth)
        size = sum(float(np.sum(s * s)) for s in slopes)
        if size < 1e-12:
            break
        goal = min(best_plan, best_value + 0.1 * abs(best_value) + 1.0)
        step = pace * max(goal - value, 1e-6) / size
        at = _moved(relaxation, at, slope, step)
        solved = relaxation.solve(at)
        value = of.value(solved)
        if value > best_value + 1e-6:
            best, best_value, stuck = solved, value, 0
        else:
            stuck += 1
            if stuck >= 4:
                pace, stuck, at = pace / 2, 0, best.at
                solved, value = best, best_value
    return best


def _slope(relaxation: Relaxation, solved: Solved, of: Start) -> Uses:
    """Return how the bound grows with each multiplier, shortages in units of a long passage."""
    uses, at = of.uses(solved), solved.at
    before, there = of.earlier
    techniques = uses.techniques - relaxation.technique_repeats.best_uses(at.techniques, before)
    regions = uses.regions - relaxation.region_repeats.best_uses(at.regions, there)
    techniques[(at.techniques <= 0) & (techniques < 0)] = 0
    techniques[relaxation.technique_repeats.price <= 0] = 0  # known exactly: no price is needed
    regions[(at.regions <= 0) & (regions < 0)] = 0
    shortages = uses.shortages / _BARS_A_USE
    shortages[(at.shortages <= 0) & (shortages < 0)] = 0
    shortages[(at.shortages >= relaxation.most_shortage) & (shortages > 0)] = 0
    warmth = uses.warmth.copy()
    warmth[(at.warmth <= 0) & (warmth < 0)] = 0
    return Uses(techniques, regions, shortages, warmth)


def _moved(relaxation: Relaxation, at: Multipliers, slope: Uses, step: float) -> Multipliers:
    return replace(
        at,
        techniques=np.maximum(0.0, at.techniques + step * slope.techniques),
        regions=np.maximum(0.0, at.regions + step * slope.regions),
        shortages=np.clip(
            at.shortages + step * slope.shortages / _BARS_A_USE, 0.0, relaxation.most_shortage
        ),
        warmth=np.maximum(0.0, at.warmth + step * slope.warmth),
    )
