"""The brief of a routine as its sentence; planned anew near what is there."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.brief_beside import said_beside
from rondel.adapters.routine_shelf import Kept, Stale
from rondel.adapters.track_place import find_track, refuse_track_outside
from rondel.app.make_plan import make_plan
from rondel.desk import briefs, sentence_view
from rondel.desk.aside_work import heard_in
from rondel.desk.asking import Ask, answering, to
from rondel.desk.leaves.page import stale
from rondel.desk.leaves.start import Sketch, loosen_buttons
from rondel.model.brief import Brief
from rondel.model.errors import BadInput, RondelError
from rondel.model.finding import Outcome
from rondel.model.routine import Routine
from rondel.planner.moved import what_moved
from rondel.planner.wishes import require_known


def brief(ask: Ask) -> Response:
    kept = ask.desk.open(ask.path("slug"))
    beside = said_beside(kept.folder, kept.routine.brief)
    takes_beside = bool(ask.word("beside")) and beside.brief is not None
    first = beside.brief if takes_beside else kept.routine.brief
    fields = briefs.loosened(briefs.fields_of(first), ask.word("loosen"))
    if ask.request.query_params.get("title") is not None:
        wrong = sentence_view.wrong_numbers(ask)
        if wrong:
            return _show_wrong(ask, kept, wrong)
        fields = briefs.loosened(briefs.asked_for(ask), ask.word("loosen"))
    return _show(ask, kept, fields, Sketch())


def _show(
    ask: Ask,
    kept: Kept,
    fields: dict[str, object],
    sketch: Sketch,
    status: int = 200,
    wrong: Mapping[str, str] | None = None,
) -> Response:
    craft = ask.desk.craft()
    return ask.leaf(
        "brief.html",
        "brief",
        kept,
        status,
        sketch=sketch,
        loosen_at=f"/r/{kept.slug}/brief",
        beside=said_beside(kept.folder, kept.routine.brief),
        **sentence_view.sentence_values(ask, craft, fields, wrong or {}),
    )


def _show_wrong(ask: Ask, kept: Kept, wrong: Mapping[str, str]) -> Response:
    return _show(ask, kept, briefs.asked_for(ask, skips=True), Sketch(), 422, wrong)


def plan_anew(ask: Ask) -> Response:
    """Plan the sentence as it now is, near the routine that is there."""
    kept = ask.desk.open(ask.path("slug"))
    if ask.word("version") != kept.version:
        return stale(ask, ask.word("version"), kept)
    wrong = sentence_view.wrong_numbers(ask)
    if wrong:
        return _show_wrong(ask, kept, wrong)
    try:
        fields = briefs.asked_for(ask)
    except BadInput as error:
        asked = briefs.asked_for(ask, skips=True)
        return _show(ask, kept, asked, Sketch(trouble=str(error)), 422)
    if ask.word("loosen"):
        return _show(ask, kept, briefs.loosened(fields, ask.word("loosen")), Sketch())
    try:
        wished = briefs.brief_of(fields)
        require_known(wished, ask.desk.craft(), at="your sentence")
        outcome = planned_near(ask, kept, wished)
    except RondelError as error:
        return _show(ask, kept, fields, Sketch(trouble=str(error)), 422)
    if outcome.routine is None:
        sketch = Sketch(reasons=outcome.reasons, loosen=loosen_buttons(outcome.loosen))
        return _show(ask, kept, fields, sketch, 422)
    return keep_plan(ask, kept, outcome.routine, ask.say("Planned anew from its sentence."))


def planned_near(ask: Ask, kept: Kept, wished: Brief) -> Outcome:
    """Return the plan for `wished` nearest to `kept`; with what was heard in its track, if any."""
    return planned(ask, kept, wished, near=kept.routine)


def planned(ask: Ask, kept: Kept, wished: Brief, near: Routine | None = None) -> Outcome:
    """Return the best plan for `wished`, which may be all new, or the one nearest to `near`; with
    what was heard in its track, if any."""
    heard = None
    if wished.track is not None:
        refuse_track_outside(wished.track, kept.folder, ask.desk.studio)
        track = find_track(wished.track, kept.folder, at="track")
        heard = ask.desk.planner.do(heard_in, track)
    return ask.desk.planner.do(make_plan, wished, ask.desk.craft(), near=near, heard=heard)


def keep_plan(ask: Ask, kept: Kept, routine: Routine, says: str) -> Response:
    """Keep a new plan of a routine; show it."""
    laid = routine.brief.laid if routine.brief else None
    told = laid.says if laid else ()  # how its track was made to last as long as the routine
    moved = (*told, *what_moved(kept.routine, routine, ask.desk.craft()))
    try:
        ask.desk.shelf.put(kept.slug, routine, says, moved=moved, seen=kept.version)
    except Stale as error:
        return stale(ask, error.seen, error.kept)
    return to(f"/r/{kept.slug}/?said=1")


ROUTES = (
    Route("/r/{slug}/brief", answering(brief)),
    Route("/r/{slug}/brief", answering(plan_anew), methods=["POST"]),
)
