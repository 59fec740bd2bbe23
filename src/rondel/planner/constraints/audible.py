"""Rhythmic passages stand only where a beat is heard."""

from rondel.model.repertoire import Technique
from rondel.model.track import Course


def asks_beat(technique: Technique | None) -> bool:
    """True for what is struck, or goes hand after hand."""
    return technique is not None and technique.is_rhythmic


def is_heard(start: int, end: int, course: Course) -> bool:
    """True where a beat can be heard in every bar from `start` to `end`."""
    return all(course.heard[start:end])
