"""What may stand in the close."""

from rondel.model.words import Family
from rondel.planner.frame import Frame
from rondel.rules.close import MAX_PRESSURE, SECONDS

LAST_FAMILIES = (Family.GLIDING, Family.HOLDING, Family.EMBRACE)


def last_free_bar(frame: Frame) -> int:
    """Return the last bar at which a passage may end without overlapping the close."""
    return frame.last_bar_before(SECONDS * frame.scale)


def allows(pressure: int) -> bool:
    """True where a passage may overlap the close."""
    return pressure <= MAX_PRESSURE


def may_end(family: Family, pressure: int) -> bool:
    """True where a passage may be the last."""
    return pressure <= MAX_PRESSURE and family in LAST_FAMILIES
