"""Plan a routine for a brief, or say in sentences why none was found."""

from __future__ import annotations

import math
from dataclasses import replace

from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Proof, Routine
from rondel.planner.attempts import NORMAL, QUICK, Attempts, Effort, Found
from rondel.planner.crew import Crew
from rondel.planner.finish import routine_of
from rondel.planner.frame import frame_of
from rondel.planner.handful import handful
from rondel.planner.home_steps import GoOn
from rondel.planner.loosen import loosenings
from rondel.planner.nearness import Kin, Near, home_in, peak_in
from rondel.planner.reasons import clinician_reasons, reasons_against
from rondel.planner.refrains import Home
from rondel.planner.score import score
from rondel.planner.trial import Trial
from rondel.planner.wishes import require_known

NOT_PROVEN = (
    "No routine was found that meets every wish at once. That is not a proof that there is "
    "none, but loosening one wish may help."
)


def plan(
    brief: Brief,
    craft: Craft,
    near: Routine | None = None,
    effort: Effort = NORMAL,
    home: Home = (),
    go_on: GoOn = lambda: True,
    *,
    loosen: bool = True,
    is_kin: bool = False,
    crew: Crew | None = None,
    peak: int | None = None,
) -> Outcome:
    """Return the best routine found for `brief`; or None with reasons and what to loosen.

    With `near`, the routine keeps as many bars of it as the brief and the rules allow; where its
    track is laid out otherwise now, as many as its phrases let it, with the same music. `home` is a
    refrain, as (technique, pressure, bars) of its passages, that should be the refrain, and `peak`
    a pressure that the peak should have; without them, those of `near` are tried first.
    `go_on` is asked between searches; where it answers False, the best plan so far is returned.
    Without `loosen`, wishes that could be loosened are not looked for, and nothing that strays from
    `near` where nothing is found that stays near it. With `is_kin`, `near` is a
    routine of another level: returns and peak stay in their places first, and pressures may change.
    A `crew` helps where nothing is asked beside the brief.
    BadInput where the brief names what the craft does not know.
    """
    require_known(brief, craft)
    first = clinician_reasons(brief, craft)
    if first:
        return Outcome(routine=None, reasons=first)
    extra = (Kin(near) if is_kin else Near(near, frame_of(brief).laid)) if near else None
    if peak is None and near is not None and not is_kin:
        peak = peak_in(near)
    attempts = Attempts(brief, craft, extra, home or (home_in(near) if near else ()), crew, peak)
    impossible = reasons_against(brief, craft, attempts.material, attempts.frame, attempts.rows)
    found = None if impossible else attempts.find(effort, go_on)
    may_be_far = not home and (near is None or loosen)
    if found is None and not impossible and may_be_far and near is not None:
        # To stay near may lead a search astray; a routine that is less near is better than none.
        found = Attempts(brief, craft).find(effort, go_on)
    if found is not None:
        return Outcome(routine=finished(found, craft, is_free=near is None and not home))
    trial = Trial(
        craft=craft, plans=lambda other, failures: planned_among_few(other, craft, failures)
    )
    # Whatever is offered below was found in this way; so who asks for it is given a routine.
    if not impossible and may_be_far and trial.works(brief, is_deep=True):
        return Outcome(routine=trial.routines[brief])
    reasons = impossible or (NOT_PROVEN,)
    if not loosen:
        return Outcome(routine=None, reasons=reasons)
    return Outcome(routine=None, reasons=reasons, loosen=loosenings(brief, trial))


def may_be_planned(brief: Brief, craft: Craft) -> bool:
    """True where a quick search finds a routine. A full search begins with the same ones."""
    return _quickly(brief, craft) is not None


def planned_quickly(brief: Brief, craft: Craft, failures: int = QUICK.failures) -> Routine | None:
    """Return what a quick search finds; None where it finds nothing, and gives up after so many
    settings that fail."""
    found = _quickly(brief, craft, failures)
    return None if found is None else finished(found, craft, is_free=True)


def planned_among_few(brief: Brief, craft: Craft, failures: int) -> Routine | None:
    """Return what a quick search finds in a handful of techniques, which takes a fraction of the
    time; None where it finds nothing."""
    found = _quickly(brief, handful(brief, craft), failures)
    return None if found is None else finished(found, craft)


def _quickly(brief: Brief, craft: Craft, failures: int = QUICK.failures) -> Found | None:
    attempts = Attempts(brief, craft)
    if reasons_against(brief, craft, attempts.material, attempts.frame, attempts.rows):
        return None
    return attempts.find(replace(QUICK, failures=failures))


def finished(found: Found, craft: Craft, *, is_free: bool = True) -> Routine:
    """Return the routine of a found plan, with its cost worked out afresh.

    A bound is told only where the search was `is_free` of other plans.
    """
    placed = found.placed
    routine = routine_of(found.material, found.frame, placed)
    objective = round(score(routine, craft).total, 6)
    return replace(routine, proof=proof_of(objective, found.bound if is_free else None))


def proof_of(objective: float, bound: float | None) -> Proof:
    """Return how good a plan of cost `objective` is known to be."""
    if bound is None:
        return Proof(status="found", objective=objective)
    is_best = bound >= objective - 1e-5
    return Proof(
        status="optimal" if is_best else "within",
        objective=objective,
        bound=objective if is_best else math.floor(bound * 1e6) / 1e6,
    )
