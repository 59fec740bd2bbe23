"""Where a beat sets in during the opening, though the track begins with a longer span without one.

Allowed is what the track has: a track of which the beat is there after half a minute has a quiet
opening of half a minute. A bar more or less will do.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.rules.opening import SECONDS
from rondel.rules.quiet import RULE


def findings(view: View) -> Iterator[Finding]:
    if view.course is None:
        return
    first = view.course.quiet_bars
    begins = view.at(first)
    wanted = min(SECONDS * view.scale, view.course.quiet_seconds, view.total_seconds)
    if begins < wanted - view.bar_seconds - ROUNDING_SECONDS:
        says = (
            f"A beat is heard from {as_minutes(begins)} on, but the track begins with "
            f"{as_minutes(view.course.quiet_seconds)} without one; keep the opening quiet until "
            f"{as_minutes(wanted)}."
        )
        yield view.finding(RULE, min(first, view.routine.bars - 1), says)
