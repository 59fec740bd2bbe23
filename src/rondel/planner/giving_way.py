"""Small changes around one passage: neighbours lasting a little longer or less long.

Where that is enough, nothing else has to be planned anew, and what changes is known to be little.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import product

from rondel.model.repertoire import Craft
from rondel.model.routine import Proof, Routine
from rondel.model.words import Role
from rondel.planner.frame import frame_of
from rondel.planner.layouts import Layout, Row, done_in_rows, grown_rows, routine_of_rows
from rondel.planner.requests import Request
from rondel.planner.score import score
from rondel.planner.targets import ANYTHING, done_in

#: So many arrangements are held against the rule book at most, and so many once one has passed.
_MOST_CHECKS, _MORE_CHECKS = 60, 12
_MOST_BARS = 30  # that one slot gives or takes
_MOST_RETURNS = 6  # of the refrain, for which every way of giving way is tried

#: So many bars more for each slot named by its place.
More = dict[int, int]


def given_way(
    request: Request, old: Routine, craft: Craft, is_lawful: Callable[[Routine], bool]
) -> tuple[Routine, int] | None:
    """Return the routine that does what is asked with the fewest other bars changed, and how many.

    Only lengths around it, and for a move the order, are tried. Of equals the better by the score
    is taken. None where none of what was tried is lawful and does what is asked.
    """
    frame = frame_of(request.brief)
    tried: list[tuple[int, int, list[Row]]] = []
    wanted = done_in(request.target)
    for layout in request.layouts:
        for more in _ways(layout, old.bars):
            rows = grown_rows(layout, more)
            if rows is not None:
                done = done_in_rows(rows)
                changed = sum(
                    a != b and a[0] != ANYTHING for a, b in zip(wanted, done, strict=True)
                )
                tried.append((changed, len(tried), rows))
    tried.sort(key=lambda t: t[:2])
    best: tuple[float, Routine] | None = None
    fewest, checks = 0, 0
    for changed, _, rows in tried:
        checks += 1
        if best is not None and (changed > fewest or checks > _MORE_CHECKS):
            break
        if best is None and checks > _MOST_CHECKS:
            return None
        routine = routine_of_rows(rows, old, request.brief, frame, craft)
        if routine is None or not is_lawful(routine) or not request.is_met(routine):
            continue
        cost = score(routine, craft).total
        if best is None:
            fewest, checks = changed, 0
        if best is None or cost < best[0]:
            best = cost, routine
    if best is None:
        return None
    cost, routine = best
    return replace(routine, proof=Proof(objective=round(cost, 6))), fewest


def by_itself(request: Request, old: Routine, craft: Craft) -> Routine | None:
    """Return the routine with the edit and only lengths changed, whatever rule that breaks; None
    where not even that can be laid out."""
    frame = frame_of(request.brief)
    for layout in request.layouts:
        for more in _ways(layout, old.bars):
            rows = grown_rows(layout, more)
            routine = routine_of_rows(rows, old, request.brief, frame, craft) if rows else None
            if routine is not None:
                return routine
    return None


def _ways(layout: Layout, bars: int) -> Iterator[More]:
    """Yield which slots may give or take bars so that the whole lasts `bars` again and the anchor
    starts where it should, within one bar."""
    need = bars - layout.bars
    late = layout.start - layout.anchor_start
    returns = _returns(layout)
    if layout.anchor in returns:
        yield from _around_returns(layout, returns, need)
        return
    if abs(late) <= 1 and not need:
        yield {}
        return
    able = [i for i, slot in enumerate(layout.slots) if slot.elastic and i != layout.anchor]
    for i in able:
        if need and abs(late - (need if i < layout.anchor else 0)) <= 1:
            yield {i: need}
    for i, j in product(able, able):
        if i >= j:
            continue
        for first in _shares(need, late):
            shift = (first if i < layout.anchor else 0) + (need - first if j < layout.anchor else 0)
            if first and first != need and abs(late - shift) <= 1:
                yield {i: first, j: need - first}


def _shares(need: int, late: int) -> list[int]:
    """Return what the first of two slots may take."""
    most = min(_MOST_BARS, abs(need) + abs(late) + 1)
    return sorted(range(-most, most + 1), key=lambda n: (abs(n), n))


def _returns(layout: Layout) -> list[int]:
    """Return the places of the refrain's returns."""
    return [i for i, slot in enumerate(layout.slots) if slot.row[0][0].role is Role.REFRAIN]


def _around_returns(layout: Layout, returns: list[int], need: int) -> Iterator[More]:
    """Yield ways in which, at every return, what follows or what comes before gives way."""
    if not need:
        yield {}
        return
    each = need // len(returns)
    choices = [_soft_beside(layout, i) for i in returns]
    if not all(choices):
        return
    if len(returns) > _MOST_RETURNS:
        choices = [c[:1] for c in choices]
    for places in product(*choices):
        more: More = {}
        for place in places:
            more[place] = more.get(place, 0) + each
        yield more


def _soft_beside(layout: Layout, place: int) -> list[int]:
    """Return the elastic slots next to `place`, the one that follows first."""
    after = [i for i in range(place + 1, len(layout.slots)) if layout.slots[i].elastic]
    before = [i for i in range(place - 1, -1, -1) if layout.slots[i].elastic]
    return [*after[:1], *before[:1]]
