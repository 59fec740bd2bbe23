"""The rest that answers deep work, bound to it in one block."""

import math
from fractions import Fraction

from rondel.rules.rest import MAX_PRESSURE, SHARE


def least_bars(deep_bars: int) -> int:
    """Return the fewest bars of rest after `deep_bars` of deep work on one side."""
    return math.ceil(Fraction(SHARE) * deep_bars)


def allows(pressure: int) -> bool:
    """True where a passage on the same region and side counts as rest."""
    return pressure <= MAX_PRESSURE
