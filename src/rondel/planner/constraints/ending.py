"""The routine ends with the music."""

from rondel.model.track import Laid
from rondel.planner.frame import Frame

ROUNDING_SECONDS = 0.01


def is_met(frame: Frame, laid: Laid) -> bool:
    """True where what is played of the track ends within a bar of the routine, by itself or
    fading; or where a tail ends it, or nothing is told."""
    course, allowed = laid.course, float(frame.bar_seconds) + ROUNDING_SECONDS
    if course.tail_from is not None or not course.pieces:
        return True
    last = course.pieces[-1]
    left = (course.track_seconds or 0.0) - last.source.end
    is_whole = left <= allowed or course.fade_seconds > 0
    return is_whole and abs(last.end - laid.total_seconds) <= allowed
