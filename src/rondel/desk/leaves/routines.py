"""A routine as a whole: another begun from it, its name, put away and brought back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from starlette.datastructures import URL
from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.routine_shelf import Stale
from rondel.desk import briefs
from rondel.desk.asking import Ask, answering, to
from rondel.desk.leaves.session import is_about
from rondel.desk.leaves.start import Filing, start_page
from rondel.model.errors import RondelError
from rondel.model.routine import Routine


def another(ask: Ask) -> Response:
    """Begin another routine from this one; open it."""

    def begin(title: str) -> Response:
        kept = ask.desk.open(ask.path("slug"))
        says = ask.say("Begun from “{name}”.", name=kept.routine.title)
        new = _called(kept.routine, title)
        found = ask.desk.shelf.another(kept.slug, new, says, seen=ask.word("version"))
        return to(f"/r/{found.slug}/")

    return _named(ask, "another", begin)


def rename(ask: Ask) -> Response:
    """Give the routine another title, as one more step: it can be taken back."""

    def name(title: str) -> Response:
        kept = ask.desk.open(ask.path("slug"))
        says = ask.say("Called “{name}” now.", name=title)
        new = _called(kept.routine, title)
        if new != kept.routine or ask.word("version") != kept.version:
            ask.desk.shelf.put(kept.slug, new, says, seen=ask.word("version"))
        return _done("named", kept.slug)

    return _named(ask, "rename", name)


def _called(routine: Routine, title: str) -> Routine:
    brief = None if routine.brief is None else replace(routine.brief, title=title)
    return replace(routine, title=title, brief=brief)


def _named(ask: Ask, what: str, act: Callable[[str], Response]) -> Response:
    """Return what `act` makes of the title given; or say beside it why it will not do."""
    word = ask.word("title")
    try:
        title = briefs.title_of(word)
    except RondelError as error:
        return _refused(ask, what, 422, told=error.says)
    if not title:
        return _refused(ask, what, 422, says=ask.say("Say what it is to be called."))
    return _tried(ask, what, lambda: act(title))


def put_away(ask: Ask) -> Response:
    """Move the routine, with all that belongs to it, out of the way."""

    def move() -> Response:
        slug = ask.path("slug")
        states = ask.desk.jobs.states()
        if any(one.is_running and is_about(name, slug) for name, one in states.items()):
            says = ask.say(
                "Something of it is still being worked on. Wait until it is done, or stop it."
            )
            return _refused(ask, "put-away", 422, says=says)
        return _done("away", ask.desk.shelf.put_away(slug, seen=ask.word("version")))

    return _tried(ask, "put-away", move)


def back(ask: Ask) -> Response:
    """Bring a routine back that was put away."""
    name = ask.word("name")
    try:
        slug = ask.desk.shelf.bring_back(name)
    except RondelError as error:
        filing = Filing(slug="", what="back", told=str(error))
        return start_page(ask, briefs.USUAL, filing=filing, status=422)
    return _done("back" if slug == name else "back-as", slug)


def _tried(ask: Ask, what: str, act: Callable[[], Response]) -> Response:
    try:
        return act()
    except Stale:
        says = ask.say(
            "This routine was changed in another window since you looked at it, so nothing was "
            "done. Look at it as it is now; to do it all the same, do it again."
        )
        return _refused(ask, what, 409, says=says)
    except RondelError as error:
        return _refused(ask, what, 422, told=str(error))


def _refused(ask: Ask, what: str, status: int, *, says: str = "", told: str = "") -> Response:
    filing = Filing(slug=ask.path("slug"), what=what, word=ask.word("title"), says=says, told=told)
    return start_page(ask, briefs.USUAL, filing=filing, status=status)


def _done(done: str, name: str) -> Response:
    return to(str(URL("/").include_query_params(done=done, of=name)))


def again(ask: Ask) -> Response:
    """Show the first leaf to who comes back by the address of something that was refused."""
    return to("/")


ROUTES = (
    Route("/r/{slug}/another", answering(another), methods=["POST"]),
    Route("/r/{slug}/rename", answering(rename), methods=["POST"]),
    Route("/r/{slug}/put-away", answering(put_away), methods=["POST"]),
    Route("/put-away/back", answering(back), methods=["POST"]),
    *(Route(f"/r/{{slug}}/{what}", answering(again)) for what in ("another", "rename", "put-away")),
    Route("/put-away/back", answering(again)),
)
