"""One region not yet touched, short and light, in the last quarter."""

from __future__ import annotations

import math
from fractions import Fraction

from rondel.planner.frame import Frame
from rondel.rules.filler import LAST_SHARE, MAX_PRESSURE, RULE

COST = RULE.weight
_SHORT_SECONDS = 60  # a side; common practice, no source


def first_bar(frame: Frame, last_share: float = LAST_SHARE) -> int:
    """Return the first bar of the last quarter."""
    return math.ceil((1 - Fraction(str(last_share))) * frame.bars)


def is_short_and_light(frame: Frame, bars: int, pressure: int) -> bool:
    """True where a passage of `bars` is a small thing by the way."""
    return pressure <= MAX_PRESSURE and bars <= frame.at_most(_SHORT_SECONDS)
