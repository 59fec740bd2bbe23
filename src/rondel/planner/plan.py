"""Plan a routine for a brief, or say in sentences why none was found."""

from __future__ import annotations

from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.attempts import NORMAL, Effort, attempt


def plan(
    brief: Brief, craft: Craft, near: Routine | None = None, effort: Effort = NORMAL
) -> Outcome:
    """Return the best routine found for `brief`; or None with reasons and what to loosen."""
    routine = attempt(brief, craft, effort, near=near)
    return Outcome(routine=routine, reasons=() if routine else ("No routine was found.",))
