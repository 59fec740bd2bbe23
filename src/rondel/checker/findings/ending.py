"""Where the music of a brought track and the routine do not end together.

A composed tail ends with the routine. Music that stops before the track is over has to fade.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.rules.ending import RULE


def findings(view: View) -> Iterator[Finding]:
    course = view.course
    if course is None or not course.pieces or course.tail_from is not None:
        return
    last, total = view.routine.bars - 1, view.total_seconds
    ends, allowed = course.pieces[-1].end, view.bar_seconds + ROUNDING_SECONDS
    if abs(ends - total) > allowed:
        how = "before" if ends < total else "after"
        says = (
            f"The music ends at {as_minutes(ends)}, {abs(ends - total):.0f} seconds {how} the "
            f"routine, which lasts {as_minutes(total)}; let them end together."
        )
        yield view.finding(RULE, last, says)
    goes_on = (course.track_seconds or 0.0) - course.pieces[-1].source.end
    if goes_on > allowed and course.fade_seconds <= 0:
        says = (
            f"The music breaks off at {as_minutes(ends)}, although the track goes on for another "
            f"{as_minutes(goes_on)}; let it fade."
        )
        yield view.finding(RULE, last, says)
