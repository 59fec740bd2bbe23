"""About how long a session takes to be made, and how large it is: told before it is begun.

Measured on 28 November 2026 with the demo (15 minutes) and a new routine of 5 minutes, both with
composed music and drawn hands, wide, each made into an empty folder by the desk's own worker on two
cores (Linux, x86-64), while other work kept them busy (6 to 9 processes at once wanted to run):

    routine, kind       film       all else    seconds    seconds of a core
    15 minutes, whole   33.2 MB    207 MB      310        not counted
    15 minutes, quick   26.0 MB    207 MB      188        not counted
     5 minutes, whole   11.9 MB     70 MB      139        69
     5 minutes, quick    9.0 MB     70 MB       83        40

The longer times told are these, by the minute. The shorter are about what the seconds of a core
come to on two idle cores that share most of the work; the demo, whole, once took 139 seconds so.
The 5 minutes made tall as well took as long again (74 seconds of a core whole, 43 quick). All else
is sound for the most part: one voice of the music after the other, and all together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Of one kind of making: `film` and `rest` in megabytes, of the film in each shape and of all
    else together; minutes from `low` to `high`, for one shape."""

    film: int
    rest: int
    low: int
    high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measured:
    """For each minute of the routine."""

    film: float
    rest: float
    low: float
    high: float


_WHOLE = _Measured(film=2.3, rest=14.0, low=0.15, high=0.45)
_QUICK = _Measured(film=1.8, rest=14.0, low=0.09, high=0.28)


def cost_of(minutes: float, *, quick: bool) -> Cost:
    """Return about what a routine of so many minutes costs, in round numbers."""
    of = _QUICK if quick else _WHOLE
    low, high = (max(1, math.ceil(minutes * part)) for part in (of.low, of.high))
    return Cost(
        film=_round(minutes * of.film),
        rest=_round(minutes * of.rest),
        low=low,
        high=max(low + 1, high),
    )


def _round(number: float) -> int:
    """Return a rough number that does not look exact: whole, by fives or by tens."""
    step = 1 if number < 20 else 5 if number < 100 else 10
    return max(1, round(number / step) * step)
