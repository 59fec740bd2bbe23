"""Other ways from one sentence: quite different routines, and routines for other levels."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace

from markupsafe import Markup
from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.routine_shelf import Kept
from rondel.adapters.routine_versions import version_of
from rondel.adapters.studio_files import routine_text
from rondel.desk import briefs
from rondel.desk.asking import Ask, answering, to, whole
from rondel.desk.jobs import State
from rondel.desk.leaves.page import refuse_strangers, stale
from rondel.desk.leaves.session import told_state
from rondel.desk.leaves.start import map_of, shape_says
from rondel.model.codec.routine import routine_from_dict
from rondel.model.errors import RondelError
from rondel.model.routine import Routine

#: So many quite different routines are shown beside the one that is there.
COUNT = 3
#: The levels of couples, and how far from the routine's own those lie that are picked at first.
LEVELS, NEAR = (1, 2, 3, 4, 5), 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A routine as one of several small pages. `shared` and `further` are percent, against the one
    that is there; `slug` is where it is kept, empty where it is not kept yet."""

    id: str
    shape: Markup
    seconds: float
    says: tuple[str, ...]
    shared: int = 100
    further: int = 0
    is_best: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelKept:
    """What became of one level: the routine that was kept, or why there is none. `was_there`: it
    was among the routines already, just so, and no other was made of it."""

    level: int
    slug: str
    title: str
    under: str
    shape: Markup
    told: tuple[str, ...]
    says: tuple[str, ...]
    was_there: bool


def about(kind: str, slug: str) -> str:
    return f"{kind} {slug}"


def _unready(ask: Ask, kept: Kept) -> str:
    """Say why nothing can be planned from what the routine was asked to be; "" where it can."""
    brief = kept.routine.brief
    if brief is None:
        return ask.say(
            "This routine does not say what it was asked to be. Plan it anew on its Brief leaf; "
            "then others can be planned from its sentence."
        )
    if brief.track is not None and brief.laid is None:
        return ask.say(
            "What was heard in the track of this routine is not known here. Plan it anew on its "
            "Brief leaf first."
        )
    return ""


def _refused(
    ask: Ask, kept: Kept, show: Callable[[Ask, Kept, str, int], Response]
) -> Response | None:
    """Return why nothing can be planned from the routine as it was looked at; None where it can."""
    if ask.word("version") != kept.version:
        return stale(ask, ask.word("version"), kept)
    refuse_strangers(kept, ask.desk.craft())
    trouble = _unready(ask, kept)
    return show(ask, kept, trouble, 422) if trouble else None


def _order(ask: Ask, kept: Kept, kind: str) -> dict[str, object]:
    studio = str(ask.desk.studio.resolve())
    return {"kind": kind, "studio": studio, "slug": kept.slug, "version": kept.version}


def _state(ask: Ask, kept: Kept, kind: str) -> tuple[State | None, bool]:
    """Return how far the work is, and whether it is about the routine as it now is."""
    job = ask.desk.jobs.find(about(kind, kept.slug))
    return (None, False) if job is None else (job.state, job.order["version"] == kept.version)


# ------------------------------------------------------------------ quite different ones
def others(ask: Ask) -> Response:
    kept = ask.desk.open(ask.path("slug"))
    refuse_strangers(kept, ask.desk.craft())
    return _others(ask, kept)


def _others(ask: Ask, kept: Kept, trouble: str = "", status: int = 200) -> Response:
    state, is_fresh = _state(ask, kept, "others")
    found = _found(ask, kept) if is_fresh else []
    return ask.leaf(
        "others.html",
        "page",
        kept,
        status,
        trouble=trouble,
        state=told_state(ask, state) if state else None,
        about=about("others", kept.slug),
        is_old=state is not None and not is_fresh and not state.is_running,
        ways=_ways(ask, kept, found) if found else [],
        is_done=is_fresh and state is not None and state.result is not None,
        asked=COUNT,
    )


def _found(ask: Ask, kept: Kept) -> list[tuple[Routine, int, int]]:
    """Return the routines that were found, each with what is shared and how much further it is."""
    job = ask.desk.jobs.find(about("others", kept.slug))
    result = (job.state.result if job else None) or {}
    rows = result.get("ways")
    return [_read(row) for row in rows] if isinstance(rows, list) else []


def _read(row: Mapping[str, object]) -> tuple[Routine, int, int]:
    routine = routine_from_dict(row["routine"], at="routine")
    return routine, int(str(row["shared"])), int(str(row["further"]))


def _id(routine: Routine) -> str:
    return version_of(routine_text(routine))


def _ways(ask: Ask, kept: Kept, found: Iterable[tuple[Routine, int, int]]) -> list[Way]:
    """Return the routine that is there and those that were found, as small pages."""
    rows = [(kept.routine, 100, 0), *found]
    least = min(further for _, _, further in rows)
    nearest = [further == least for _, _, further in rows].index(True)
    return [
        replace(_way(ask, routine), shared=shared, further=further, is_best=number == nearest)
        for number, (routine, shared, further) in enumerate(rows)
    ]


def _way(ask: Ask, routine: Routine) -> Way:
    id, craft = _id(routine), ask.desk.craft()

    def made() -> Way:
        return Way(
            id=id,
            shape=map_of(routine, craft, f"way-{id}"),
            seconds=float(routine.clock.total_seconds),
            says=shape_says(ask, routine, craft),
        )

    return ask.desk.recent.get(("way", id, ask.language, ask.desk.craft_stamp()), made)


def find_others(ask: Ask) -> Response:
    """Begin to look for quite different routines for the same wish."""
    kept = ask.desk.open(ask.path("slug"))
    refused = _refused(ask, kept, _others)
    if refused is not None:
        return refused
    state, is_fresh = _state(ask, kept, "others")
    if not (is_fresh and state is not None and state.result is not None):
        order = {**_order(ask, kept, "others"), "count": COUNT}
        ask.desk.jobs.start(about("others", kept.slug), order)
    return to(f"/r/{kept.slug}/others")


def keep_other(ask: Ask) -> Response:
    """Keep one that was found as a new routine beside the one that is there."""
    kept = ask.desk.open(ask.path("slug"))
    if ask.word("version") != kept.version:
        return stale(ask, ask.word("version"), kept)
    wanted = ask.word("way")
    found = next((r for r, _, _ in _found(ask, kept) if _id(r) == wanted), None)
    if found is None or found.brief is None:
        says = ask.say(
            "This one is not known any more. Let the others be looked for again, and keep it then."
        )
        return _others(ask, kept, says, 422)
    title = _free_title(ask, kept.routine.title)
    named = replace(found, title=title, brief=replace(found.brief, title=title))
    says = ask.say("Another way of {title}, from the same sentence.", title=kept.routine.title)
    new = ask.desk.shelf.add_beside(kept.slug, named, says)
    return to(f"/r/{new.slug}/")


def _free_title(ask: Ask, title: str) -> str:
    """Return `title` with the first number, from 2 on, that no routine here is called by yet."""
    taken = set()
    for slug in ask.desk.shelf.slugs():
        with suppress(RondelError):  # what cannot be opened keeps its folder, which is never taken
            taken.add(ask.desk.open(slug).routine.title)
    number = 2
    while f"{title} {number}" in taken:
        number += 1
    return f"{title} {number}"


# ------------------------------------------------------------------ other levels
def levels(ask: Ask) -> Response:
    kept = ask.desk.open(ask.path("slug"))
    refuse_strangers(kept, ask.desk.craft())
    return _levels(ask, kept)


def _levels(ask: Ask, kept: Kept, trouble: str = "", status: int = 200) -> Response:
    own = kept.routine.brief.level if kept.routine.brief else LEVELS[0]
    state, is_fresh = _state(ask, kept, "levels")
    result = (state.result if state else None) or {}
    rows, steps = result.get("levels"), result.get("steps")
    names = {choice.value: choice.says for choice in briefs.choices(ask, ask.desk.craft()).levels}
    return ask.leaf(
        "levels.html",
        "page",
        kept,
        status,
        trouble=trouble,
        state=told_state(ask, state) if state else None,
        about=about("levels", kept.slug),
        is_fresh=is_fresh,
        own=own,
        choices=[(n, names[str(n)], abs(n - own) <= NEAR) for n in LEVELS],
        found=[_level(ask, row, names) for row in rows] if isinstance(rows, list) else [],
        steps=steps or [],
        alone=result.get("alone", ""),
    )


def _level(ask: Ask, row: Mapping[str, object], names: Mapping[str, str]) -> LevelKept:
    level, slug, said = int(str(row["level"])), str(row["slug"]), row["says"]
    told = tuple(str(words) for words in said) if isinstance(said, list) else ()
    title, shape, says = "", Markup(""), tuple[str, ...]()
    if slug:
        with suppress(RondelError):  # it may have been taken away since
            routine, craft = ask.desk.open(slug).routine, ask.desk.craft()
            mark = f"level-{zlib.crc32(slug.encode()):x}"
            key = ("level", slug, _id(routine), ask.desk.craft_stamp())
            shape = ask.desk.recent.get(key, lambda: map_of(routine, craft, mark))
            title, says = routine.title, shape_says(ask, routine, craft)
    return LevelKept(
        level=level,
        slug=slug if title else "",
        title=title,
        under=names[str(level)],
        shape=shape,
        told=told,
        says=says,
        was_there=bool(row.get("was_there")),
    )


def make_levels(ask: Ask) -> Response:
    """Begin to plan the sentence for several levels; each is kept as a routine of its own."""
    kept = ask.desk.open(ask.path("slug"))
    refused = _refused(ask, kept, _levels)
    if refused is not None:
        return refused
    least, most = LEVELS[0], LEVELS[-1]
    picked = sorted({whole(w, at="level", low=least, high=most) for w in ask.words("level")})
    if not picked:
        return _levels(ask, kept, ask.say("Pick at least one level."), 422)
    title = kept.routine.title
    says = ask.say("Planned for another level, from the sentence of {title}.", title=title)
    order = {**_order(ask, kept, "levels"), "levels": picked, "says": says}
    ask.desk.jobs.start(about("levels", kept.slug), order)
    return to(f"/r/{kept.slug}/levels")


ROUTES = (
    Route("/r/{slug}/others", answering(others)),
    Route("/r/{slug}/others", answering(find_others), methods=["POST"]),
    Route("/r/{slug}/others/keep", answering(keep_other), methods=["POST"]),
    Route("/r/{slug}/levels", answering(levels)),
    Route("/r/{slug}/levels", answering(make_levels), methods=["POST"]),
)
