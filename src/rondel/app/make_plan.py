"""Plan a routine from a brief, and word its cues."""

from __future__ import annotations

import math
import time
from dataclasses import replace

from rondel.cues.wording import word_cues
from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.attempts import NORMAL
from rondel.planner.plan import plan

#: How much longer a search of twice the width takes, about.
GROWTH = 2.5


def make_plan(
    brief: Brief, craft: Craft, *, near: Routine | None = None, within_seconds: float | None = None
) -> Outcome:
    """Return a routine with its cues, or the reasons why there is none.

    With `near`, the plan stays as close to that routine as the brief lets it, and is searched for
    once. With `within_seconds` else, wider and wider searches follow as long as the next is likely
    to be over in time, and the best plan is kept: the answer then hangs on how fast the machine is.
    """
    began = time.monotonic()
    outcome = plan(brief, craft, near=near)
    if within_seconds is not None and near is None and outcome.routine is not None:
        took = time.monotonic() - began
        outcome = _widened(outcome, brief, craft, took=took, until=began + within_seconds)
    if outcome.routine is None:
        return outcome
    return replace(outcome, routine=with_cues(outcome.routine, craft))


def _widened(outcome: Outcome, brief: Brief, craft: Craft, *, took: float, until: float) -> Outcome:
    """Return the best of `outcome` and what searches of twice the width each find until `until`."""
    best, effort = outcome, NORMAL
    while time.monotonic() + GROWTH * took < until:
        effort = replace(effort, width=2 * effort.width, rows=effort.rows + 2)
        started = time.monotonic()
        found = plan(brief, craft, effort=effort)
        took = time.monotonic() - started
        if _cost(found) < _cost(best):
            best = found
    return best


def _cost(outcome: Outcome) -> float:
    return math.inf if outcome.routine is None else outcome.routine.proof.objective


def make_others(brief: Brief, craft: Craft, routine: Routine, *, count: int) -> tuple[Routine, ...]:
    """Return up to `count` clearly different routines for the same brief."""
    from rondel.planner.plan import others

    return tuple(with_cues(r, craft) for r in others(brief, craft, routine, count))


def with_cues(routine: Routine, craft: Craft) -> Routine:
    """Return `routine` with its cues worded anew."""
    return replace(routine, cues=word_cues(routine, craft))
