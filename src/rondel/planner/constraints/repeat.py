"""The same technique neither at once nor too often."""

from rondel.rules.repeat import MAX_TIMES, PER_MINUTES, RULE

AT_ONCE = RULE.weight
TOO_OFTEN = RULE.weight
OFTEN = MAX_TIMES
WINDOW_SECONDS = PER_MINUTES * 60


def is_too_often(uses_in_window: int, max_times: int = MAX_TIMES) -> bool:
    """True where one more use, after so many in the last quarter of an hour, is too many."""
    return uses_in_window >= max_times
