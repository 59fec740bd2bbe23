"""Where the minutes left free are not there, or in pieces too short to use.

A passage without a technique that is not marked as open, or one marked as open that has a
technique, is a finding of this rule, with or without a brief.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.rules.open import MIN_SECONDS, RULE, TOLERANCE_BARS


def findings(view: View) -> Iterator[Finding]:
    for passage in view.passages:
        at = as_minutes(view.start(passage))
        if passage.is_open and passage.role is not Role.OPEN:
            says = f"The passage at {at} names no technique and is not marked as open; name one,"
            yield view.finding(RULE, passage.start_bar, f"{says} or mark it as open.")
        if not passage.is_open and passage.role is Role.OPEN:
            says = f"{view.place(passage)} is marked as open but has a technique; leave it out, or"
            yield view.finding(RULE, passage.start_bar, f"{says} mark it as work.")
    if view.brief is None:
        return
    left_open = [p for p in view.line if p.is_open]
    needed = MIN_SECONDS * view.scale
    for passage in left_open:
        if view.seconds(passage) < needed - ROUNDING_SECONDS:
            says = (
                f"{view.place(passage)} lasts {view.seconds(passage):.0f} seconds; leave at least"
            )
            yield view.finding(RULE, passage.start_bar, f"{says} {needed:.0f} in one piece.")
    asked, there = float(view.brief.open_minutes) * 60, view.seconds(*left_open)
    if abs(there - asked) > TOLERANCE_BARS * view.bar_seconds + ROUNDING_SECONDS:
        says = f"{there:.0f} seconds are left free, but the brief asks for {asked:.0f}."
        yield view.finding(RULE, left_open[0].start_bar if left_open else 0, says)
