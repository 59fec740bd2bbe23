"""The curves of the rule `curve`, as the planner measures with them: summed bar by bar."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate, pairwise

from rondel.model.words import Intention
from rondel.rules.curve import CLOSENESS_COUNTS, ENERGY, PRESSURE, Points

__all__ = ["CLOSENESS_COUNTS", "ENERGY", "PRESSURE", "Points", "Shape", "shape_of", "value_at"]


def value_at(points: Points, share: float) -> float:
    """Return the curve's value at `share` (0 to 1) of the time."""
    for (x0, y0), (x1, y1) in pairwise(points):
        if share <= x1:
            return y0 + (y1 - y0) * (share - x0) / (x1 - x0)
    return points[-1][1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """The curves of one routine summed bar by bar, so that any stretch costs one subtraction.

    Each tuple has one number more than there are bars: the sum over all bars before.
    """

    pressure: tuple[float, ...]
    pressure_squares: tuple[float, ...]
    energy: tuple[float, ...]
    energy_squares: tuple[float, ...]
    closeness_counts: float


def shape_of(intention: Intention, bars: int) -> Shape:
    """Return the curves of `intention` for a routine of `bars` bars, taken mid-bar."""
    shares = [(bar + 0.5) / bars for bar in range(bars)]
    pressure = [value_at(PRESSURE[intention], x) for x in shares]
    energy = [value_at(ENERGY[intention], x) for x in shares]
    return Shape(
        pressure=tuple(accumulate(pressure, initial=0.0)),
        pressure_squares=tuple(accumulate((p * p for p in pressure), initial=0.0)),
        energy=tuple(accumulate(energy, initial=0.0)),
        energy_squares=tuple(accumulate((e * e for e in energy), initial=0.0)),
        closeness_counts=CLOSENESS_COUNTS[intention],
    )
