"""What one routine asks of the hands, and a technique that was learned brought into it."""

from __future__ import annotations

from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.routine_shelf import Stale
from rondel.app.grow_plan import grow_plan
from rondel.desk.asking import Ask, answering, to
from rondel.desk.leaves.hands import show_one
from rondel.desk.leaves.page import stale
from rondel.model.errors import RondelError


def bring_in(ask: Ask) -> Response:
    """Bring a technique into the routine that is open, and leave the rest alone; or say why not."""
    slug, id = ask.path("slug"), ask.path("id")
    kept, craft = ask.desk.open(slug), ask.desk.craft()
    if ask.word("version") != kept.version:
        return stale(ask, ask.word("version"), kept)
    try:
        grown = ask.desk.planner.do(grow_plan, kept.routine, craft, [id], at=kept.slug)
        new = grown.outcome.routine
        if new is None:
            return show_one(
                ask, trouble=" ".join(grown.outcome.reasons), is_english=True, status=422
            )
        says = ask.say("{name} is brought in.", name=craft.technique(id).plain)
        ask.desk.shelf.put(slug, new, says, moved=grown.says, seen=kept.version)
    except Stale as error:
        return stale(ask, error.seen, error.kept)
    except RondelError as error:
        return show_one(ask, trouble=str(error), is_english=True, status=422)
    passage = next((p.id for p in new.line if p.technique == id), "")
    return to(f"/r/{slug}/?p={passage}&said=1")


ROUTES = (Route("/r/{slug}/hands/t/{id}/grow", answering(bring_in), methods=["POST"]),)
