"""The peak stands in the strongest section: at least half of it, or of the section if shorter.

Every block of the peak is held to it, which is stricter than the rule where a peak has several.
"""

from rondel.model.track import Course, Laid
from rondel.rules.summit import SHARE

#: A bar of the peak's firm work (its rests apart) outside the strongest section.
COST = 0.1


def inside(start: int, end: int, course: Course) -> int:
    """Return how many of the bars from `start` to `end` lie in the strongest section."""
    first, past = course.strongest
    return max(0, min(end, past) - max(start, first))


def is_met(start: int, end: int, laid: Laid) -> bool:
    """True where enough of the time from bar `start` to bar `end` lies in the strongest section."""
    at, (first, past) = laid.bar_starts, laid.course.strongest
    end = min(end, laid.bars)
    shared = at[min(end, past)] - at[max(start, first)] if start < past and first < end else 0.0
    return shared >= SHARE * min(at[end] - at[start], at[past] - at[first]) - 1e-6
