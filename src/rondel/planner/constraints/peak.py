"""Where the peak row may lie and how long it may be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from rondel.model.words import DEEP, Intention
from rondel.planner.frame import Frame
from rondel.rules.peak import MAX_SECONDS, MIDDLE

#: The pressure each intention wishes for at its peak, where limits allow it (common practice).
WISHED = {
    Intention.SETTLE: 5,
    Intention.WAKE: 5,
    Intention.SLEEP: 3,
    Intention.CLOSENESS: 3,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Summit:
    """The pressure of the peak, and its limits in bars. `first` and `last` bound twice the middle.

    Outside the row pressure stays at `outside` or less.
    """

    pressure: int
    outside: int
    most_bars: int
    first: int
    last: int

    @property
    def is_deep(self) -> bool:
        return self.pressure >= DEEP

    @property
    def is_longest(self) -> bool:
        """True where the peak must be the longest run at its pressure."""
        return self.pressure == 3

    @property
    def is_brightest(self) -> bool:
        """True where the peak is told by its energy."""
        return self.pressure <= 2

    def is_placed(self, start: int, bars: int) -> bool:
        """True where a row of `bars` from `start` has its middle where it should be."""
        return self.first <= 2 * start + bars <= self.last

    def may_begin(self, start: int, shortest: int) -> bool:
        """True where a row begun at `start` can have its middle where it should be."""
        return 2 * start + self.most_bars >= self.first and 2 * start + shortest <= self.last

    def may_reach(self, start: int, bars: int) -> bool:
        """True where a row begun so is not yet too late or too long."""
        return 2 * start + bars <= self.last and bars <= self.most_bars


def summit(frame: Frame, pressure: int) -> Summit:
    """Return the limits of a peak at `pressure`."""
    low, high = (Fraction(str(x)) for x in MIDDLE)
    sixth = min(frame.total_seconds, frame.brief.minutes * 60) / 6
    longest = max(MAX_SECONDS * frame.scale, sixth)
    return Summit(
        pressure=pressure,
        outside=pressure - 1 if pressure >= DEEP else pressure,
        most_bars=frame.at_most(longest),
        first=math.ceil(2 * (low * frame.bars + frame.astray)),
        last=math.floor(2 * (high * frame.bars - frame.astray)),
    )
