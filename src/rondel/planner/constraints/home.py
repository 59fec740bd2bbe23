"""The refrain stands where the track's motif returns."""

from collections.abc import Sequence

from rondel.rules.home import RULE, WITHIN_BARS

#: One return of the refrain away from the motif: a quarter of the weight.
SHARE = 0.25
COST = SHARE * RULE.weight


def is_home(start: int, homes: Sequence[int]) -> bool:
    """True where a return begun at bar `start` meets the motif, or the track has none."""
    return not homes or any(abs(start - home) <= WITHIN_BARS for home in homes)
