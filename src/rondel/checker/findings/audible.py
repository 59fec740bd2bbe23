"""Where something is struck, or goes hand after hand, while the brought track has no beat."""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.time import as_minutes
from rondel.rules.audible import RULE


def findings(view: View) -> Iterator[Finding]:
    if view.course is None:
        return
    for passage, technique in view.known():
        bars = range(passage.start_bar, min(passage.end_bar, view.course.bars))
        quiet = [bar for bar in bars if not view.course.heard[bar]]
        if not technique.is_rhythmic or not quiet:
            continue
        last = next((b for b in bars if b > quiet[0] and view.course.heard[b]), passage.end_bar)
        says = (
            f"{view.place(passage)} needs a beat, and from {as_minutes(view.at(quiet[0]))} to "
            f"{as_minutes(view.at(last))} none is heard; move it, or glide or hold there."
        )
        yield view.finding(RULE, passage.start_bar, says)
