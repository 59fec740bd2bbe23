"""The rest that answers deep work, bound to it in one block."""

import math
from fractions import Fraction

from rondel.rules.rest import MAX_PRESSURE, SHARE


def least_bars(deep_bars: int, drift: Fraction = Fraction(0)) -> int:
    """Return the fewest bars of rest after `deep_bars` of deep work on one side, also where bars
    are quicker or slower than others by a share of `drift`."""
    return math.ceil(Fraction(SHARE) * deep_bars * (1 + drift) / (1 - drift))


def allows(pressure: int) -> bool:
    """True where a passage on the same region and side counts as rest."""
    return pressure <= MAX_PRESSURE
