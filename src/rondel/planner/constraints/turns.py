"""Something changes where the track changes."""

from collections.abc import Iterable

from rondel.rules.turns import RULE, WITHIN_BARS

#: One change of the track at which nothing changes: a fifth of the weight.
SHARE = 0.2
COST = SHARE * RULE.weight


def missed(turn: int, changes: Iterable[int]) -> bool:
    """True where none of `changes` (bars) lies within a bar of the track's `turn`."""
    return all(abs(turn - change) > WITHIN_BARS for change in changes)
