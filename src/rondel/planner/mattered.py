"""The choices of a plan that mattered most: those whose next best would cost most."""

from __future__ import annotations

from collections.abc import Iterator

from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.planner.alternatives import Alternatives, Instead, Kind
from rondel.planner.losses import AS_WELL, Losses

TOLD = 3
_MOST_ORDERS = 1  # of the three


def what_mattered(alternatives: Alternatives, count: int = TOLD) -> tuple[str, ...]:
    """Return up to `count` sentences, the weightiest first.

    A choice counts that has a lawful next best which is clearly worse. No two sentences speak of
    the same passages or lose the same thing, as far as there are others.
    """
    losses = Losses(craft=alternatives.craft, material=alternatives.material)
    found = sorted(_choices(alternatives), key=lambda instead: -instead.cost)
    told: list[str] = []
    for must_differ in (True, False):
        about: set[str] = set()
        lost: set[str] = set()
        told, orders = [], 0
        for instead in found:
            subjects = {p.id for p in _subjects(instead)}
            clause = losses.clause(instead)
            is_again = bool(subjects & about) or (must_differ and clause in lost)
            is_order = instead.kind is Kind.ORDER
            if is_again or (is_order and orders == _MOST_ORDERS) or len(told) == count:
                continue
            about |= subjects
            lost.add(clause)
            orders += is_order
            told.append(_sentence(instead, clause, losses))
        if len(told) == count:
            break
    return tuple(told)


def _choices(alternatives: Alternatives) -> Iterator[Instead]:
    seen: set[str] = set()
    for instead in (*alternatives.techniques, alternatives.refrain, *alternatives.orders):
        if instead is None or instead.cost < AS_WELL:
            continue
        if instead.kind is Kind.ORDER:
            if instead.row[0].id in seen:
                continue
            seen.add(instead.row[0].id)
        yield instead


def _subjects(instead: Instead) -> tuple[Passage, ...]:
    both = instead.kind is Kind.ORDER
    return (*instead.row, *instead.other) if both else instead.row


def _sentence(instead: Instead, clause: str, losses: Losses) -> str:
    names = losses.names(instead.row, instead.now)
    other = losses.names(instead.other, instead.now)
    if instead.kind is Kind.ORDER:
        return f"{names} before {other}: the other way round, {clause}."
    if instead.kind is Kind.REFRAIN:
        return f"{names} as the refrain: with {other} instead, {clause}."
    at = as_minutes(instead.now.start_seconds(instead.row[0]))
    peak = " as the peak" if any(p.role is Role.PEAK for p in instead.row) else ""
    return f"{names}{peak} at {at}: with {other} instead, {clause}."
