"""What warms a region, and how much of it deep work needs."""

from rondel.planner.frame import Frame
from rondel.rules.warm import PRESSURES, SECONDS


def need_bars(frame: Frame) -> int:
    """Return the bars of warming that deep work on a region needs."""
    return frame.at_least(SECONDS * frame.scale)


def warms(pressure: int) -> bool:
    """True where actual pressure warms the region it meets."""
    low, high = PRESSURES
    return low <= pressure <= high
