"""Bars of warming a region has had, packed into one whole number, eight bits a region."""

from rondel.planner.frame import Frame
from rondel.rules.warm import PRESSURES, SECONDS

_BITS = 8
_MOST = (1 << _BITS) - 1


def need_bars(frame: Frame) -> int:
    """Return the bars of warming that deep work on a region needs."""
    return frame.at_least(SECONDS * frame.scale)


def warms(pressure: int) -> bool:
    """True where actual pressure warms the region it meets."""
    low, high = PRESSURES
    return low <= pressure <= high


def bars_of(packed: int, slot: int) -> int:
    """Return the bars of warming that region `slot` has had on each side (at most 255)."""
    return packed >> (_BITS * slot) & _MOST


def add(packed: int, slot: int, bars: int) -> int:
    """Return `packed` with `bars` more for region `slot`."""
    have = bars_of(packed, slot)
    return packed + ((min(_MOST, have + bars) - have) << (_BITS * slot))
