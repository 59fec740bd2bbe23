"""The peak stands in the strongest section: at least half of it, or of the section if shorter.

Every block of the peak is held to it, which is stricter than the rule where a peak has several.
"""

from fractions import Fraction

from rondel.model.track import Course
from rondel.rules.summit import SHARE

#: A bar of the peak's firm work (its rests apart) outside the strongest section.
COST = 0.1


def inside(start: int, end: int, course: Course) -> int:
    """Return how many of the bars from `start` to `end` lie in the strongest section."""
    first, past = course.strongest
    return max(0, min(end, past) - max(start, first))


def is_met(start: int, end: int, course: Course) -> bool:
    """True where enough of the bars from `start` to `end` lie in the strongest section."""
    first, past = course.strongest
    wanted = Fraction(SHARE) * min(end - start, past - first)
    return inside(start, end, course) >= wanted
