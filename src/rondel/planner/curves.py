"""The shape of a session: wished pressure and energy over its time, by intention.

Each curve is a row of points (share of the time, value) joined by straight lines. They are our
starting decisions, common practice without a source:

settle     a gentle dome: light at first, deepest at two thirds, then down to almost nothing
wake       pressure rises steadily, energy keeps rising and ends bright
sleep      a low swell that falls from the middle on, ever slower and lighter
closeness  gentle throughout, with one soft swell; what brings two people near counts most
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate, pairwise

from rondel.model.words import Intention

Points = tuple[tuple[float, float], ...]

PRESSURE: dict[Intention, Points] = {
    Intention.SETTLE: ((0, 1.0), (0.15, 1.8), (0.5, 2.8), (0.67, 3.6), (0.82, 2.2), (1, 1.0)),
    Intention.WAKE: ((0, 1.2), (0.15, 2.0), (0.5, 2.8), (0.72, 3.6), (0.9, 2.6), (1, 1.8)),
    Intention.SLEEP: ((0, 1.2), (0.2, 2.0), (0.58, 2.5), (0.75, 1.6), (1, 0.8)),
    Intention.CLOSENESS: ((0, 1.0), (0.2, 1.6), (0.65, 2.5), (0.85, 1.6), (1, 1.0)),
}
ENERGY: dict[Intention, Points] = {
    Intention.SETTLE: ((0, -0.6), (0.3, 0.0), (0.6, 0.3), (0.8, -0.2), (1, -0.8)),
    Intention.WAKE: ((0, -0.4), (0.3, 0.2), (0.7, 0.5), (1, 0.8)),
    Intention.SLEEP: ((0, -0.4), (0.3, -0.2), (0.6, -0.2), (1, -0.9)),
    Intention.CLOSENESS: ((0, -0.5), (0.4, -0.1), (0.65, 0.1), (1, -0.7)),
}
#: How much a technique that brings little closeness counts against the session.
CLOSENESS_COUNTS = {
    Intention.SETTLE: 0.0,
    Intention.WAKE: 0.0,
    Intention.SLEEP: 0.05,
    Intention.CLOSENESS: 0.25,
}


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
