"""Where a brought track changes, or a rise arrives, and nothing changes under the hands."""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.rules.turns import RULE, WITHIN_BARS


def findings(view: View) -> Iterator[Finding]:
    if view.course is None:
        return
    changes = {view.routine.bars, *(p.start_bar for p in view.line)}
    for turn in view.course.turns:
        if turn >= view.routine.bars or any(abs(turn - bar) <= WITHIN_BARS for bar in changes):
            continue
        under_way = next((p for p in view.line if p.start_bar <= turn < p.end_bar), None)
        what = f"{view.place(under_way)} goes on" if under_way else "nothing changes"
        says = f"At {as_minutes(view.at(turn))} the track changes, but {what}; change within a bar."
        yield view.finding(RULE, turn, says)
