"""Where the refrain returns too seldom, too often, too soon or too late.

g = minutes / (returns + 1), with the returns asked for; where the brief leaves them out, or there
is no brief, with those that are there.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.rules.refrain_spacing import MAX_GAP_SHARE, MIN_GAP_SECONDS, MIN_GAP_SHARE, RULE


def findings(view: View) -> Iterator[Finding]:
    there = len(view.returns)
    asked = view.brief.refrains if view.brief else None
    if asked is not None and asked != there:
        says = f"The refrain comes {_times(there)}, but the brief asks for {_times(asked)}."
        yield view.finding(RULE, 0, says)
    if there == 0:
        return
    even = view.minutes * 60 / ((asked or there) + 1)
    longest = MAX_GAP_SHARE * even
    shortest = min(MIN_GAP_SECONDS * view.scale, MIN_GAP_SHARE * even)
    first, last = view.returns[0][0], view.returns[-1][-1]
    ends = [view.end(row[-1]) for row in view.returns]
    starts = [view.start(row[0]) for row in view.returns]
    if starts[0] > longest + ROUNDING_SECONDS:
        says = f"The refrain is first met at {as_minutes(starts[0])}; let it come by"
        yield view.finding(RULE, first.start_bar, f"{says} {as_minutes(longest)} at the latest.")
    for row, end, start in zip(view.returns[1:], ends, starts[1:], strict=False):
        gap = start - end
        between = (
            f"Between the refrain that ends at {as_minutes(end)} and the next at "
            f"{as_minutes(start)} lie {gap:.0f} seconds"
        )
        if gap < shortest - ROUNDING_SECONDS:
            says = f"{between}; leave at least {shortest:.0f}."
            yield view.finding(RULE, row[0].start_bar, says)
        if gap > longest + ROUNDING_SECONDS:
            says = f"{between}; come home after {longest:.0f} at the latest."
            yield view.finding(RULE, row[0].start_bar, says)
    left = view.total_seconds - ends[-1]
    if left > longest + ROUNDING_SECONDS:
        says = f"After the last refrain {left:.0f} seconds follow; {longest:.0f} are the most."
        yield view.finding(RULE, last.start_bar, says)


def _times(count: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")
