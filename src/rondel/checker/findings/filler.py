"""Where no new place is met, short and light, in the last quarter.

Short is read here as a minute a side at most. A region counts as met before if any earlier
passage worked on it; strokes that only pass over it do not.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.rules.filler import MAX_PRESSURE, RULE

SHORT_SECONDS = 60


def findings(view: View) -> Iterator[Finding]:
    begins = view.total_seconds * (1 - view.number(RULE, "last_share"))
    met: set[str] = set()
    for passage in view.line:
        region = view.region(passage)
        if region is None:
            continue
        is_late = view.start(passage) >= begins - ROUNDING_SECONDS
        if is_late and region not in met and _is_short_and_light(view, passage):
            return
        met.add(region)
    says = f"After {as_minutes(begins)} there is room for one place not yet touched, short and"
    yield view.finding(RULE, view.bar_of(begins), f"{says} light; none is there.")


def _is_short_and_light(view: View, passage: Passage) -> bool:
    return (
        passage.role is not Role.REFRAIN
        and passage.pressure <= MAX_PRESSURE
        and view.seconds(passage) <= SHORT_SECONDS + ROUNDING_SECONDS
    )
