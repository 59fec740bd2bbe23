"""Where a passage begins beside the phrases of a brought track.

The passages within the refrain flow into each other, and a rest begins when the deep work before it
is over; neither is held to the phrases.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.rules.phrase import RULE


def findings(view: View) -> Iterator[Finding]:
    if view.course is None:
        return
    before = None
    for passage in view.line:
        is_within = passage.role is Role.REFRAIN and before is Role.REFRAIN
        before = passage.role
        if is_within or passage.role is Role.REST or passage.start_bar in view.course.phrases:
            continue
        near = min(view.course.phrases, key=lambda b: abs(b - passage.start_bar), default=None)
        says = f"{view.place(passage)} begins in the midst of a phrase of the track"
        if near is not None:
            says += f"; the nearest one begins at {as_minutes(view.at(near))}"
        yield view.finding(RULE, passage.start_bar, f"{says}.")
