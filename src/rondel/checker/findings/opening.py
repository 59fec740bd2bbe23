"""Where the first 90 seconds (scaled) are not quiet.

A passage belongs to the opening if it overlaps it by more than a hundredth of a second. Time left
open may not stand there. The beat of a brought track is for the rule `quiet`.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.model.words import Family
from rondel.rules.opening import MAX_PRESSURE, RULE, SECONDS

QUIET_FAMILIES = (Family.GLIDING, Family.HOLDING, Family.EMBRACE)


def findings(view: View) -> Iterator[Finding]:
    ends = SECONDS * view.scale
    for passage in view.passages:
        if min(ends, view.end(passage)) - view.start(passage) <= ROUNDING_SECONDS:
            continue
        place, until = view.place(passage), f"the opening, which lasts until {as_minutes(ends)}"
        family = view.family(passage)
        if passage.is_open:
            says = f"{place} stands in {until}; leave time free later on."
            yield view.finding(RULE, passage.start_bar, says)
            continue
        if passage.pressure > MAX_PRESSURE:
            says = f"{place} presses at {passage.pressure} in {until}; stay at {MAX_PRESSURE} or"
            yield view.finding(RULE, passage.start_bar, f"{says} less.")
        if family is not None and family not in QUIET_FAMILIES:
            says = f"{place} is {family} in {until}; only gliding, holding or an embrace belong"
            yield view.finding(RULE, passage.start_bar, f"{says} there.")
    yield from _beat(view)


def _beat(view: View) -> Iterator[Finding]:
    """The composer reads the same span from the routine's own length, a touch off the brief's."""
    if view.is_with_track:
        return
    first = view.routine.clock.seconds_at(view.heard[0])
    ends = SECONDS * min(view.scale, view.total_seconds / 360)
    if first < ends - ROUNDING_SECONDS:
        says = f"A beat is heard from {as_minutes(first)} on; keep it out until {as_minutes(ends)}."
        yield view.finding(RULE, view.bar_of(first), says)
