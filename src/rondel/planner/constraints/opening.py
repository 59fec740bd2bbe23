"""What may stand in the opening."""

from rondel.model.words import Family
from rondel.planner.frame import Frame
from rondel.rules.opening import MAX_PRESSURE, SECONDS

FAMILIES = (Family.GLIDING, Family.HOLDING, Family.EMBRACE)


def first_free_bar(frame: Frame) -> int:
    """Return the first bar at which a passage may start without overlapping the opening."""
    return frame.first_bar_from(SECONDS * frame.scale)


def allows(family: Family, pressure: int) -> bool:
    """True where a passage may overlap the opening."""
    return pressure <= MAX_PRESSURE and family in FAMILIES
