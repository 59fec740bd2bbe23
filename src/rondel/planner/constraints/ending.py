"""The routine ends with the music."""

from rondel.model.track import Laid
from rondel.planner.frame import Frame


def is_met(frame: Frame, laid: Laid) -> bool:
    """True where what is played of the track, or a tail, ends within a bar of the routine."""
    if laid.course.tail_from is not None or not laid.course.pieces:
        return laid.course.tail_from is not None
    ends = laid.course.pieces[-1].end
    return abs(ends - laid.total_seconds) <= float(frame.bar_seconds)
