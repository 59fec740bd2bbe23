"""How much a couple recognises when it goes from the routine of one level to the next."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rondel.model.routine import Routine
from rondel.model.words import Role
from rondel.planner.nearness import home_in, share_alike


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """From one level to the next: how much a couple recognises.

    `alike` is the share of bars in which both do the same on the same side; `returns_moved` and
    `peak_moved` are seconds (None where the number of returns differs); `new` and `gone` are
    techniques by id, outside the refrain; `theirs` were the stretch passage below and are not now.
    """

    lower: int
    upper: int
    alike: float
    same_refrain: bool
    returns_moved: float | None
    peak_moved: float
    new: tuple[str, ...]
    gone: tuple[str, ...]
    theirs: tuple[str, ...]


def steps_of(routines: Sequence[Routine]) -> Iterator[Step]:
    """Give the steps between neighbours of `routines`, which carry briefs of rising levels."""
    for lower, upper in pairwise(routines):
        if lower.brief is None or upper.brief is None:
            raise ValueError("only routines that carry their briefs have levels")
        below, above = _outside(lower), _outside(upper)
        yield Step(
            lower=lower.brief.level,
            upper=upper.brief.level,
            alike=share_alike(lower, upper),
            same_refrain=home_in(lower) == home_in(upper),
            returns_moved=_moved(lower, upper, _return_starts),
            peak_moved=_moved(lower, upper, _peak_middle) or 0.0,
            new=tuple(sorted(above - _anywhere(lower))),
            gone=tuple(sorted(below - _anywhere(upper))),
            theirs=tuple(sorted(_stretched(lower) & used_in(upper))),
        )


def _outside(routine: Routine) -> set[str]:
    """Return the techniques used outside the refrain."""
    return {p.technique for p in routine.line if p.technique and p.role is not Role.REFRAIN}


def _anywhere(routine: Routine) -> set[str]:
    """Return the techniques used, the refrain with them: what it has is nothing new as a rest."""
    return {p.technique for p in routine.line if p.technique}


def used_in(routine: Routine) -> set[str]:
    """Return the techniques used, the stretch passage apart."""
    return {p.technique for p in routine.line if p.technique and not p.stretch}


def _stretched(routine: Routine) -> set[str]:
    return {p.technique for p in routine.line if p.technique and p.stretch}


def _return_starts(routine: Routine) -> list[float]:
    return [routine.start_seconds(row[0]) for row in routine.refrains]


def _peak_middle(routine: Routine) -> list[float]:
    """Return the second in the middle of the peak, from its first passage to its last."""
    peak = [p for p in routine.line if p.role is Role.PEAK]
    return [(routine.start_seconds(peak[0]) + routine.end_seconds(peak[-1])) / 2] if peak else []


def _moved(one: Routine, other: Routine, times: Callable[[Routine], list[float]]) -> float | None:
    """Return the most seconds by which a time moved; None where there are not equally many."""
    a, b = times(one), times(other)
    if len(a) != len(b):
        return None
    return max((abs(x - y) for x, y in zip(a, b, strict=True)), default=0.0)
