"""Where a refrain comes home while the motif of a brought track is not there."""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.rules.home import RULE, WITHIN_BARS


def findings(view: View) -> Iterator[Finding]:
    if view.course is None or not view.course.homes:
        return
    for row in view.returns:
        start = row[0].start_bar
        near = min(view.course.homes, key=lambda bar: abs(bar - start))
        if abs(near - start) > WITHIN_BARS:
            says = (
                f"{view.place(row[0])} begins the refrain, but the track's motif does not return "
                f"there; the nearest return is at {as_minutes(view.at(near))}."
            )
            yield view.finding(RULE, start, says)
