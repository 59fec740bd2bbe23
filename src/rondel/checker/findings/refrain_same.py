"""Where a return of the refrain differs from the others, presses, or lacks its hold.

The row that most returns share is the refrain (the earliest of equals). A return whose passages
are all marked `short` may have fewer bars, in a routine under six minutes only.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.rules.refrain_same import MAX_PRESSURE, RULE

SHORT_UNDER_MINUTES = 6

Row = tuple[Passage, ...]


def findings(view: View) -> Iterator[Finding]:
    if not view.returns:
        says = "No passage is marked as the refrain, so there is no home to come back to"
        yield view.finding(RULE, 0, f"{says}; give the routine a refrain of a few base strokes.")
        return
    yield from _presses(view)
    refrain = _most_common(view.returns)
    for row in view.returns:
        yield from _hold(view, row)
        yield from _short(view, row)
        yield from _difference(view, row, refrain)


def _presses(view: View) -> Iterator[Finding]:
    for passage in view.passages:
        if passage.role is Role.REFRAIN and passage.pressure > MAX_PRESSURE:
            says = f"{view.place(passage)} belongs to the refrain and presses at {passage.pressure}"
            says += f"; the refrain stays at {MAX_PRESSURE} or less."
            yield view.finding(RULE, passage.start_bar, says)


def _hold(view: View, row: Row) -> Iterator[Finding]:
    families = [view.family(p) for p in row]
    if not any(family is not None and family.is_held for family in families):
        says = f"The refrain at {as_minutes(view.start(row[0]))} has no embrace and no hold"
        yield view.finding(RULE, row[0].start_bar, f"{says}; put one into every return.")


def _short(view: View, row: Row) -> Iterator[Finding]:
    if any(p.short for p in row) and view.minutes >= SHORT_UNDER_MINUTES:
        says = (
            f"The refrain at {as_minutes(view.start(row[0]))} is marked as shortened; that is for "
            f"routines under {SHORT_UNDER_MINUTES} minutes, and this one has {view.minutes:g}."
        )
        yield view.finding(RULE, row[0].start_bar, says)


def _difference(view: View, row: Row, refrain: Row) -> Iterator[Finding]:
    may_shorten = all(p.short for p in row) and view.minutes < SHORT_UNDER_MINUTES
    differs = [
        what
        for what, here, home in (
            ("techniques", [p.technique for p in row], [p.technique for p in refrain]),
            ("sides", [p.side for p in row], [p.side for p in refrain]),
            ("pressures", [p.pressure for p in row], [p.pressure for p in refrain]),
            ("bars", [p.bars for p in row], [p.bars for p in refrain]),
        )
        if here != home and not (what == "bars" and may_shorten)
    ]
    if differs:
        says = (
            f"The refrain at {as_minutes(view.start(row[0]))} differs from the one at "
            f"{as_minutes(view.start(refrain[0]))} in {' and '.join(differs)}; make every return "
            "the same."
        )
        yield view.finding(RULE, row[0].start_bar, says)


def _most_common(returns: tuple[Row, ...]) -> Row:
    counts = Counter(_signature(row) for row in returns)
    return max(returns, key=lambda row: counts[_signature(row)])


def _signature(row: Row) -> tuple[object, ...]:
    return tuple((p.technique, p.side, p.pressure, p.bars) for p in row)
