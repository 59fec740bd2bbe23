"""The takes: bring them, see the strokes that were found, name them, see how well they fit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from starlette.responses import FileResponse, Response
from starlette.routing import Route

from rondel.adapters.brief_beside import BRIEF
from rondel.adapters.seen_files import FilesBesideTake, seen_path, take_corrections_path
from rondel.adapters.set_aside import set_aside
from rondel.adapters.take_names import rather_filmed
from rondel.adapters.take_place import takes_at
from rondel.app.fit_takes import fitted_sentences
from rondel.desk.aside_work import film_of, shots_page
from rondel.desk.asking import Ask, answering, to
from rondel.desk.bringing import KINDS, own_file
from rondel.desk.jobs import State
from rondel.desk.leaves.away import aside
from rondel.desk.leaves.brief import keep_plan, planned
from rondel.desk.leaves.page import stale
from rondel.drawing.shot_list import shot_sentences, shots_to_film
from rondel.fitting.choosing import Limits
from rondel.model.codec.moments import moment, span_of
from rondel.model.codec.take_corrections import take_corrections_text
from rondel.model.errors import BadInput, RondelError
from rondel.model.take_corrections import FORGETTABLE, TakeCorrections
from rondel.model.words import Side
from rondel.planner.preferred import preferred_told

#: What was put right may be taken back, kind by kind.
TAKE_BACK = {
    "landings": "take back where strokes land",
    "motions": "take back where hands move otherwise",
    "slips": "take back what was said of slips",
    "away": "take back where hands are away",
}
FOLDER, PICTURES = KINDS["take"].folder, ".pictures"
MOST_ANGLE_LETTERS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """A take beside the routine, or one of the studio's (`is_own` False), and what is known."""

    name: str
    is_own: bool
    is_watched: bool
    picture: str
    corrections: TakeCorrections
    state: State | None
    technique: str = ""
    put_right: tuple[tuple[str, str], ...] = ()


def about(slug: str, name: str) -> str:
    return f"take {slug}/{name}"


def takes(ask: Ask) -> Response:
    return _show(ask, ask.path("slug"))


def _show(
    ask: Ask, slug: str, trouble: str = "", fit: tuple[str, ...] = (), status: int = 200
) -> Response:
    kept, craft = ask.desk.open(slug), ask.desk.craft()
    return ask.leaf(
        "takes.html",
        "takes",
        kept,
        status,
        trouble=trouble,
        fit=fit,
        aside=aside(kept.folder / FOLDER),
        shots=shot_sentences(shots_to_film(kept.routine, craft, _no_picture)),
        takes=[_take(ask, slug, name, path) for name, path in takes_at(kept.folder).items()],
        techniques=sorted(craft.techniques, key=lambda t: t.plain),
        used={p.technique for p in kept.routine.line},
        prefers=preferred_told(kept.routine, craft),
    )


def _take(ask: Ask, slug: str, name: str, path: Path) -> Take:
    # How the work is comes first: work that has ended has written all that is then looked for.
    job = ask.desk.jobs.find(about(slug, name))
    state = job.state if job else None
    picture = path.parent / PICTURES / f"{path.name}.svg"
    try:
        corrections = FilesBesideTake().corrections(path)
    except RondelError:
        corrections = TakeCorrections()
    technique = corrections.technique or ""
    craft = ask.desk.craft()
    return Take(
        name=name,
        is_own=path.parent == ask.desk.shelf.folder(slug) / FOLDER,
        is_watched=seen_path(path).is_file(),
        picture=(
            f"/r/{slug}/takes/picture/{path.name}.svg?of={picture.stat().st_mtime_ns}"
            if picture.is_file()
            else ""
        ),
        corrections=corrections,
        state=state,
        put_right=tuple(
            (kind, ask.say(says))
            for kind, says in TAKE_BACK.items()
            if corrections.forgetting(kind) != corrections
        ),
        technique=craft.technique(technique).plain if craft.has_technique(technique) else technique,
    )


def _path(ask: Ask, slug: str) -> Path:
    found = takes_at(ask.desk.shelf.folder(slug)).get(ask.word("name"))
    if found is None:
        raise BadInput("there is no such take here", at=ask.word("name")[:80])
    return found


def watch(ask: Ask) -> Response:
    """Watch a take, with what is put right in this very form, in a worker."""
    slug = ask.path("slug")
    try:
        path = _path(ask, slug)
        order = {
            "kind": "watch",
            "source": str(path),
            "picture": str(path.parent / PICTURES / f"{path.name}.svg"),
            "more": take_corrections_text(_put_right(ask, path)),
            "forget": _forgotten(ask),
        }
        job = ask.desk.jobs.start(about(slug, path.name), order)
    except RondelError as error:
        return _show(ask, slug, trouble=str(error), status=422)
    job.wait(2.0)
    return to(f"/r/{slug}/takes")


def _forgotten(ask: Ask) -> list[str]:
    """Return the kinds that are taken back. What the whole take is called is said anew by the form,
    empty fields too."""
    if ask.word("forget") == "all":
        return list(FORGETTABLE)
    asked = [word for word in ask.words("forget") if word in FORGETTABLE]
    return [*asked, "names"] if "technique" in ask.form else asked


def _put_right(ask: Ask, path: Path) -> TakeCorrections:
    technique = ask.word("technique")
    if technique and not ask.desk.craft().has_technique(technique):
        raise BadInput("nobody teaches this technique here", at=technique[:60])
    if len(ask.word("angle")) > MOST_ANGLE_LETTERS:
        raise BadInput("a few words are enough for where the camera stands", at="angle")
    try:
        return TakeCorrections(
            landing=moment(ask.word("landing")) if ask.word("landing") else None,
            splits=(moment(ask.word("split")),) if ask.word("split") else (),
            slips=(span_of(ask.word("slip")),) if ask.word("slip") else (),
            no_slips=(span_of(ask.word("no-slip")),) if ask.word("no-slip") else (),
            away=(span_of(ask.word("away")),) if ask.word("away") else (),
            no_away=(span_of(ask.word("not-away")),) if ask.word("not-away") else (),
            technique=technique or None,
            side=Side(ask.word("side")) if ask.word("side") else None,
            angle=ask.word("angle").strip() or None,
            named=FilesBesideTake().corrections(path).named,
        )
    except ValueError as error:
        raise BadInput(str(error), at="what is put right") from error


def fit(ask: Ask) -> Response:
    """Say how well the takes that were watched fit the routine."""
    slug = ask.path("slug")
    kept = ask.desk.open(slug)
    watched = {n: p for n, p in takes_at(kept.folder).items() if seen_path(p).is_file()}
    if not watched:
        return _show(ask, slug, trouble=ask.say("No take was watched yet."), status=422)
    limits = Limits(mirrors=ask.word("mirror") == "yes", shows_slips=ask.word("slips") == "yes")
    try:
        found, notes = ask.desk.planner.do(film_of, kept.routine, watched, limits)
    except RondelError as error:
        return _show(ask, slug, trouble=str(error), status=422)
    rows = fitted_sentences(found, kept.routine, ask.desk.craft())
    return _show(ask, slug, fit=(*notes, *rows))


def plan_rather(ask: Ask) -> Response:
    """Plan the routine anew, rather with what its takes are said to show, or, `with` any, with no
    preference."""
    kept, craft = ask.desk.open(ask.path("slug")), ask.desk.craft()
    if ask.word("version") != kept.version:
        return stale(ask, ask.word("version"), kept)
    brief = kept.routine.brief
    if brief is None:
        return _show(ask, kept.slug, ask.say("This routine carries no brief."), status=422)
    try:
        if ask.word("with") == "any":
            wished, says = replace(brief, prefer=()), ask.say("Planned with no preference.")
        else:
            says = ask.say("Planned rather with what is filmed.")
            wished = rather_filmed(brief, kept.folder / BRIEF, craft)
        outcome = planned(ask, kept, wished)
    except RondelError as error:
        return _show(ask, kept.slug, trouble=str(error), status=422)
    if outcome.routine is None:
        return _show(ask, kept.slug, trouble=" ".join(outcome.reasons), status=422)
    return keep_plan(ask, kept, outcome.routine, says)


def take_away(ask: Ask) -> Response:
    """Set a take of this routine aside, with what was seen in it."""
    slug = ask.path("slug")
    try:
        folder = ask.desk.shelf.folder(slug) / FOLDER
        path = own_file(folder, ask.word("name"), KINDS["take"].suffixes)
    except RondelError as error:
        return _show(ask, slug, trouble=str(error), status=422)
    job = ask.desk.jobs.find(about(slug, path.name))
    if job is not None and job.state.is_running:
        job.stop()
        job.wait(10)
    ask.desk.jobs.forget(about(slug, path.name))
    set_aside(path, (seen_path(path), take_corrections_path(path)))
    return to(f"/r/{slug}/takes")


def _no_picture(*_: object) -> str:
    return ""


def shots(ask: Ask) -> Response:
    """Return what to film as a page to print."""
    kept = ask.desk.open(ask.path("slug"))
    page = ask.desk.planner.do(shots_page, kept.routine, ask.desk.craft())
    return Response(page, media_type="application/pdf")


def picture(ask: Ask) -> Response:
    slug, name = ask.path("slug"), ask.path("name")
    for path in takes_at(ask.desk.shelf.folder(slug)).values():
        drawn = path.parent / PICTURES / f"{path.name}.svg"
        if drawn.name == name and drawn.is_file():
            return FileResponse(drawn, media_type="image/svg+xml")
    raise BadInput("there is no such picture", at=name[:80])


ROUTES = (
    Route("/r/{slug}/takes", answering(takes)),
    Route("/r/{slug}/takes/watch", answering(watch), methods=["POST"]),
    Route("/r/{slug}/takes/fit", answering(fit), methods=["POST"]),
    Route("/r/{slug}/takes/plan", answering(plan_rather), methods=["POST"]),
    Route("/r/{slug}/takes/away", answering(take_away), methods=["POST"]),
    Route("/r/{slug}/takes/shots.pdf", answering(shots)),
    Route("/r/{slug}/takes/picture/{name}", answering(picture)),
)
