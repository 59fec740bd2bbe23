"""Change one passage of a routine, and plan the rest as near to it as the rules allow."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.app.make_plan import with_cues
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.planner.edits import Edit
from rondel.planner.frame import frame_of
from rondel.planner.groups import groups_of
from rondel.planner.material import material_of
from rondel.planner.moved import Asked, what_moved
from rondel.planner.plan import plan
from rondel.planner.reasons import clinician_reasons, reasons_against
from rondel.planner.refrain_edits import refrain_request_for
from rondel.planner.refrains import refrain_rows
from rondel.planner.requests import Refused, Request, pick, request_for
from rondel.planner.targets import asked_bars, changed_bars
from rondel.planner.wishes import require_known

NOT_NEAR = (
    "No routine was found that does this and keeps the rest about as it is. Try a smaller step, "
    "or free something that you insist on."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """What an edit came to. Without a routine, `outcome` says why and what to do.

    `moved` tells what else is no longer as it was. `asked_bars` are the bars that the edit itself
    takes or sets free, `changed_bars` those that had to change besides.
    """

    outcome: Outcome
    moved: tuple[str, ...] = ()
    changed_bars: int = 0
    asked_bars: int = 0


def change_plan(routine: Routine, edit: Edit, craft: Craft) -> Changed:
    """Return `routine` with the edit done and as little else changed as could be found.

    What was asked for is from then on insisted on in the routine's brief, until it is freed.
    """
    request = _request(routine, edit, craft)
    if isinstance(request, Refused):
        return _refused(*request.reasons)
    if request.settled is not None:
        outcome = Outcome(routine=request.settled)
    else:
        reasons = _reasons(request, craft)
        if reasons:
            return _refused(*reasons)
        outcome = plan(request.brief, craft, near=request.target, home=request.home)
    new = outcome.routine
    if new is None:
        return Changed(outcome=outcome)
    if not request.is_met(new):
        return _refused(NOT_NEAR)
    new = with_cues(new, craft)
    return Changed(
        outcome=Outcome(routine=new),
        moved=what_moved(routine, new, craft, _asked(request, new, craft)),
        changed_bars=changed_bars(request.target, new),
        asked_bars=asked_bars(routine, request.target),
    )


def passage_at(routine: Routine, seconds: float) -> Passage:
    """Return the passage of the line that is under way at `seconds`."""
    return routine.passage_at(routine.clock.beat_at(seconds) + 1e-6)


def _refused(*reasons: str) -> Changed:
    return Changed(outcome=Outcome(routine=None, reasons=reasons))


def _request(routine: Routine, edit: Edit, craft: Craft) -> Request | Refused:
    if routine.music.kind == "track":
        return Refused(("A routine that is set to a brought track cannot be changed here yet.",))
    picked = pick(routine, craft, edit.passage)
    if isinstance(picked, Refused):
        return picked
    require_known(picked.brief, craft, at="brief")
    first = clinician_reasons(picked.brief, craft)
    if first:
        return Refused(first)
    if picked.group.is_refrain:
        return refrain_request_for(picked, edit)
    return request_for(picked, edit)


def _reasons(request: Request, craft: Craft) -> tuple[str, ...]:
    """Return what arithmetic alone shows to be impossible, before anything is planned."""
    material, frame = material_of(request.brief, craft), frame_of(request.brief)
    rows = refrain_rows(material, frame)
    return reasons_against(request.brief, craft, material, frame, rows)


def _asked(request: Request, new: Routine, craft: Craft) -> Asked:
    """Return what the teacher asked for, as it stands in `new`: the nearest that does it."""
    able = [
        g.start_bar
        for g in groups_of(new, craft)
        if g.is_refrain or request.technique in (p.technique for p in g.work)
    ]
    nearest = min(able, key=lambda bar: abs(bar - request.new_bar), default=request.new_bar)
    return Asked(old_bar=request.old_bar, new_bar=nearest, aspects=request.aspects)
