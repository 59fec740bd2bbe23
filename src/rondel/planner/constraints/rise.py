"""Pressure rises by at most one from one passage to the next."""

from rondel.rules.rise import MAX_STEP, OPEN_COUNTS, STILL_COUNTS


def counted(pressure: int | None) -> int:
    """Return what a passage counts: None is an open passage, 0 a still hold."""
    if pressure is None:
        return OPEN_COUNTS
    return pressure if pressure > 0 else STILL_COUNTS


def may_follow(before: int, pressure: int) -> bool:
    """True where counted pressure `before` may be followed by `pressure`."""
    return counted(pressure) <= before + MAX_STEP
