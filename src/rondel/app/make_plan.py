"""Plan a routine from a brief, and word its cues."""

from __future__ import annotations

from dataclasses import replace

from rondel.cues.wording import word_cues
from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.plan import plan


def make_plan(
    brief: Brief, craft: Craft, *, near: Routine | None = None, within_seconds: float | None = None
) -> Outcome:
    """Return a routine with its cues, or the reasons why there is none.

    With `near`, the plan stays as close to that routine as the brief lets it.
    """
    outcome = plan(brief, craft, near=near)
    if outcome.routine is None:
        return outcome
    return replace(outcome, routine=with_cues(outcome.routine, craft))


def make_others(brief: Brief, craft: Craft, routine: Routine, *, count: int) -> tuple[Routine, ...]:
    """Return up to `count` clearly different routines for the same brief."""
    from rondel.planner.plan import others

    return tuple(with_cues(r, craft) for r in others(brief, craft, routine, count))


def with_cues(routine: Routine, craft: Craft) -> Routine:
    """Return `routine` with its cues worded anew."""
    return replace(routine, cues=word_cues(routine, craft))
