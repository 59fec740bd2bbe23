"""Where the last 60 seconds (scaled) are not soft, or the last passage is not a farewell.

An open passage counts as pressure 2 and may stand in the close, but not as the last passage.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.model.words import Family
from rondel.rules.close import MAX_PRESSURE, RULE, SECONDS

FAREWELLS = (Family.HOLDING, Family.GLIDING, Family.EMBRACE)


def findings(view: View) -> Iterator[Finding]:
    begins = view.total_seconds - SECONDS * view.scale
    for passage in view.passages:
        if view.end(passage) - max(begins, view.start(passage)) <= ROUNDING_SECONDS:
            continue
        if view.counted(passage) > MAX_PRESSURE:
            says = (
                f"{view.place(passage)} presses at {passage.pressure} in the close, which begins "
                f"at {as_minutes(begins)}; stay at {MAX_PRESSURE} or less there."
            )
            yield view.finding(RULE, passage.start_bar, says)
    if not view.line:
        return
    last = max(view.line, key=lambda p: p.end_bar)
    family = view.family(last)
    if last.is_open or (family is not None and family not in FAREWELLS):
        what = "is left open" if last.is_open else f"is {family}"
        says = f"{view.place(last)} is the last passage and {what}; end with a hold, a glide or an"
        yield view.finding(RULE, last.start_bar, f"{says} embrace.")
