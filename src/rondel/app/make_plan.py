"""Plan a routine from a brief, say why it is as it is, and word its cues."""

from __future__ import annotations

import math
import time
from dataclasses import replace

from rondel.app.explain_plan import explain_plan, with_reasons
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
    """Return a routine with its reasons and its cues, or the reasons why there is none.

    With `near`, the plan stays as close to that routine as the brief lets it. With
    `within_seconds`, wider and wider searches follow as long as the next is likely to be over in
    time, and the best plan is kept: the answer then hangs on how fast the machine is.
    """
    began = time.monotonic()
    outcome = plan(brief, craft, near=near)
    if within_seconds is not None and outcome.routine is not None:
        took = time.monotonic() - began
        outcome = _widened(outcome, brief, craft, near, took=took, until=began + within_seconds)
    if outcome.routine is None:
        return outcome
    routine, mattered = explain_plan(outcome.routine, craft)
    return replace(outcome, routine=with_cues(routine, craft), mattered=mattered)


def _widened(
    outcome: Outcome, brief: Brief, craft: Craft, near: Routine | None, *, took: float, until: float
) -> Outcome:
    """Return the best of `outcome` and what searches of twice the width each find until `until`.

    No search follows on a plan that is proved to be the best.
    """
    best, effort = outcome, NORMAL
    while time.monotonic() + GROWTH * took < until and not _is_proved(best):
        effort = replace(effort, width=2 * effort.width, rows=effort.rows + 2)
        started = time.monotonic()
        found = plan(brief, craft, near=near, effort=effort)
        took = time.monotonic() - started
        if _rank(found, near) < _rank(best, near):
            best = found
    return best


def _is_proved(outcome: Outcome) -> bool:
    return outcome.routine is not None and outcome.routine.proof.status == "optimal"


def _rank(outcome: Outcome, near: Routine | None) -> tuple[float, float]:
    """Return the bars that are not as in `near`, then the cost: less is better."""
    routine = outcome.routine
    if routine is None:
        return math.inf, math.inf
    return 0 if near is None else bars_apart(near, routine), routine.proof.objective


def bars_apart(one: Routine, other: Routine) -> int:
    """Return in how many bars of the longer one the two do not do the same on the same side."""

    def by_bar(routine: Routine) -> list[tuple[object, object]]:
        return [(p.technique, p.side) for p in routine.line for _ in range(p.bars)]

    alike = sum(a == b for a, b in zip(by_bar(one), by_bar(other), strict=False))
    return max(one.bars, other.bars) - alike


def make_others(brief: Brief, craft: Craft, routine: Routine, *, count: int) -> tuple[Routine, ...]:
    """Return up to `count` clearly different routines for the same brief."""
    from rondel.planner.plan import others

    found = others(brief, craft, routine, count)
    return tuple(with_cues(with_reasons(r, craft), craft) for r in found)


def with_cues(routine: Routine, craft: Craft) -> Routine:
    """Return `routine` with its cues worded anew."""
    return replace(routine, cues=word_cues(routine, craft))
