"""Plan a routine from a brief, say why it is as it is, and word its cues."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace

from rondel.app.explain_plan import explain_plan, with_reasons
from rondel.app.progress import Progress, Silent
from rondel.app.set_track import answered_with_track, refused_by_track, set_track
from rondel.cues.wording import word_cues
from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.track import Heard
from rondel.planner.attempts import BOUNDED, THOROUGH, is_by_homes
from rondel.planner.crew import Crew, NoCrew
from rondel.planner.others import others
from rondel.planner.plan import plan
from rondel.planner.score import score

#: Has helpers for a brief while its block lasts.
CrewFor = Callable[[Brief, Craft], AbstractContextManager[Crew]]


def make_plan(
    brief: Brief,
    craft: Craft,
    *,
    near: Routine | None = None,
    within_seconds: float | None = None,
    heard: Heard | None = None,
    crew: CrewFor | None = None,
) -> Outcome:
    """Return a routine with its reasons and its cues, or the reasons why there is none.

    With `near`, the plan stays as close to that routine as the brief lets it. With
    `within_seconds`, the search goes on for about so long, or until the plan is proven to be the
    best; the answer then hangs on how fast the machine is. A `crew` may help with that in forms
    that are searched home by home. `heard` is what was heard in the brief's track: the routine is
    set to it.
    """
    if heard is not None:
        brief = set_track(brief, heard)
        refusal = refused_by_track(brief, heard, craft)
        if refusal is not None:
            return refusal
    if within_seconds is None:
        outcome = plan(brief, craft, near=near, effort=BOUNDED)
    else:
        outcome = _planned_within(within_seconds, brief, craft, near, crew)
    if outcome.routine is None:
        return outcome if heard is None else answered_with_track(outcome, brief, heard, craft)
    routine, mattered = explain_plan(outcome.routine, craft)
    told = brief.laid.says if brief.laid else ()
    return replace(outcome, routine=with_cues(routine, craft), mattered=(*told, *mattered))


def _planned_within(
    seconds: float, brief: Brief, craft: Craft, near: Routine | None, crew: CrewFor | None
) -> Outcome:
    """Return what is found in so many seconds."""
    until = time.monotonic() + seconds
    may_help = near is None and is_by_homes(brief)
    with crew(brief, craft) if crew and may_help else nullcontext(NoCrew()) as helpers:
        return plan(
            brief,
            craft,
            near=near,
            effort=THOROUGH,
            go_on=lambda: time.monotonic() < until,
            crew=helpers,
        )


def bars_apart(one: Routine, other: Routine) -> int:
    """Return in how many bars of the longer one the two do not do the same on the same side."""

    def by_bar(routine: Routine) -> list[tuple[object, object]]:
        return [(p.technique, p.side) for p in routine.line for _ in range(p.bars)]

    alike = sum(a == b for a, b in zip(by_bar(one), by_bar(other), strict=False))
    return max(one.bars, other.bars) - alike


def percent_shared(one: Routine, other: Routine) -> int:
    """Return the percentage of bars in which both do the same on the same side."""
    longer = max(one.bars, other.bars)
    return round(100 * (longer - bars_apart(one, other)) / longer)


def percent_further(best: Routine, other: Routine, craft: Craft) -> int:
    """Return by how many percent `other` is further from its brief's wishes than `best`; less than
    0 where it is nearer. Both carry their brief."""
    costs = [score(routine, craft).total for routine in (best, other)]
    return round(100 * (costs[1] / costs[0] - 1)) if costs[0] > 0 else 0


def make_others(
    brief: Brief,
    craft: Craft,
    routine: Routine,
    *,
    count: int,
    progress: Progress | None = None,
) -> tuple[Routine, ...]:
    """Return up to `count` clearly different routines for the same brief."""
    telling = progress or Silent()
    telling.begin("Looking for quite different routines", count)
    found = others(brief, craft, routine, count, lambda: telling.advance(1))
    finished = tuple(with_cues(with_reasons(r, craft), craft) for r in found)
    telling.end()
    return finished


def with_cues(routine: Routine, craft: Craft) -> Routine:
    """Return `routine` with its cues worded anew."""
    return replace(routine, cues=word_cues(routine, craft))
