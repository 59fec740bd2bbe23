"""How often the receiver may turn, and how long a turning takes."""

from __future__ import annotations

from fractions import Fraction

from rondel.planner.frame import Frame
from rondel.rules.positions import EACH_MINUTES, FIRST_MINUTES, SECONDS


def most_changes(minutes: Fraction) -> int:
    """Return how many changes of position a routine of `minutes` may have."""
    return 1 + int(max(Fraction(0), minutes - FIRST_MINUTES) // EACH_MINUTES)


def least_bars(frame: Frame) -> int:
    """Return the fewest bars in which nothing is asked of the hands but to help."""
    return frame.at_least(SECONDS * frame.scale)
