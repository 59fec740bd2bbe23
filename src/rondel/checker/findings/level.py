"""Where a technique lies above the couple's level and is not the one stretch passage.

A pair counts once; so do the two sides of an upper layer. Without a brief nothing is asked.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import Layer
from rondel.rules.close import SECONDS as CLOSE_SECONDS
from rondel.rules.level import LAST_SHARE, MAX_ABOVE, RULE


def findings(view: View) -> Iterator[Finding]:
    if view.brief is None:
        return
    for count, (technique, passages) in enumerate(_above(view, view.brief.level), start=1):
        first, place = passages[0], view.place(passages[0])
        shown = f"{place} is of level {technique.level}, above the couple's {view.brief.level}"
        if not view.brief.stretch:
            yield view.finding(
                RULE, first.start_bar, f"{shown}, and the brief allows no stretch passage."
            )
            continue
        if count > 1:
            yield view.finding(
                RULE, first.start_bar, f"{shown}; there is a stretch passage already."
            )
        if technique.level > view.brief.level + MAX_ABOVE:
            says = f"{shown}; a stretch passage goes at most {MAX_ABOVE} levels above."
            yield view.finding(RULE, first.start_bar, says)
        if not all(p.stretch for p in passages):
            says = f"{shown}, but it is not marked as the stretch passage that may be skipped."
            yield view.finding(RULE, first.start_bar, says)
        yield from _place(view, first, shown)


def _place(view: View, first: Passage, shown: str) -> Iterator[Finding]:
    earliest = view.total_seconds * (1 - LAST_SHARE)
    latest = view.total_seconds - CLOSE_SECONDS * view.scale
    start = view.start(first)
    if start < earliest - ROUNDING_SECONDS:
        says = f"{shown}; it may come after {as_minutes(earliest)} only."
        yield view.finding(RULE, first.start_bar, says)
    if start >= latest:
        says = f"{shown}; it has to start before the close at {as_minutes(latest)}."
        yield view.finding(RULE, first.start_bar, says)


def _above(view: View, level: int) -> list[tuple[Technique, list[Passage]]]:
    """Return what lies above `level`, the passages of one technique in one round together."""
    found: dict[tuple[int, str], tuple[Technique, list[Passage]]] = {}

    def note(place: int, passage: Passage) -> None:
        technique = view.technique(passage)
        if technique is not None and technique.level > level:
            found.setdefault((place, technique.id), (technique, []))[1].append(passage)

    for place, blocks in enumerate(view.rounds):
        for block in blocks:
            for passage in block.passages:
                note(place, passage)
    for passage in view.passages:
        if passage.layer is Layer.OVER:
            note(-1, passage)
    return sorted(found.values(), key=lambda unit: unit[1][0].start_bar)
