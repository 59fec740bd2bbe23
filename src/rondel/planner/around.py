"""Planning near a routine with little beyond what it is made of, which is much faster.

What should stay as it is needs no other techniques. So a plan near a routine is looked for with
those that are there, and a few more of the regions where something has to give way.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.attempts import QUICK, Effort
from rondel.planner.moved import Aspect
from rondel.planner.narrow import narrowed
from rondel.planner.nearness import peak_in
from rondel.planner.plan import plan
from rondel.planner.requests import Request
from rondel.planner.swaps import carried

#: Searches end when so many have failed: with the peak as it was, then with holds and the refrain's
#: strokes as work, then with returns further from their places.
AROUND = replace(QUICK, failures=3)

#: The first of these alone, for what is only offered.
ONCE = replace(QUICK, failures=1, usual_positions=True)

_MORE = 4  # techniques of a region besides those that are there (our choice)
_BARS = 30  # so far around what is asked for, regions are given more techniques (our choice)


def planned_around(
    request: Request, old: Routine, craft: Craft, effort: Effort = AROUND
) -> Routine | None:
    """Return a plan for `request` made of little beyond what is in `old`, or None.

    It need not be lawful by the whole repertoire, nor do what was asked: both are to be seen.
    """
    about = {request.technique, *_about(request)}
    regions = {t.region for t in craft.techniques if t.id in about}
    both = replace(old, passages=(*old.passages, *request.target.passages))
    brief, few = narrowed(request.brief, craft, both, regions, _MORE)
    found = planned_near(request, old, brief, few, effort).routine
    return None if found is None else carried(found, request.brief, craft)


def planned_near(
    request: Request, old: Routine, brief: Brief, craft: Craft, effort: Effort
) -> Outcome:
    """Return what comes of `brief` near the edit, with its refrain and the peak of `old`."""
    return plan(
        brief,
        craft,
        near=request.target,
        effort=effort,
        home=request.home,
        loosen=False,
        peak=peak_wanted(request, old),
    )


def peak_wanted(request: Request, old: Routine) -> int | None:
    """Return the pressure that the peak should have: as in `old`, even where something else takes
    its place, unless another pressure is asked for."""
    is_pressure = Aspect.PRESSURE in request.aspects
    return peak_in(request.target if is_pressure else old)


def _about(request: Request) -> Iterator[str]:
    """Yield what is done around the old and the new place of what is asked for."""
    first, last = sorted((request.old_bar, request.new_bar))
    for passage in request.target.line:
        is_near = passage.start_bar < last + _BARS and passage.end_bar > first - _BARS
        if is_near and passage.technique:
            yield passage.technique
