"""The first leaf: her routines by their shape, and a new one from a sentence with fields in it."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field

from markupsafe import Markup
from starlette.background import BackgroundTask
from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.brief_beside import BRIEF, brief_text
from rondel.adapters.routine_shelf import ROUTINE, Kept, slug_of
from rondel.adapters.studio_files import read_brief, read_routine
from rondel.adapters.track_place import refuse_track_outside
from rondel.app.make_plan import make_plan
from rondel.app.sketch_plan import sketch_plan
from rondel.desk import briefs, sentence_view
from rondel.desk.aside_work import brief_and_heard
from rondel.desk.asking import LANGUAGE_COOKIE, Ask, answering, to
from rondel.desk.leaves.page import leaf_of
from rondel.desk.words import LANGUAGES
from rondel.drawing.page import draw_map
from rondel.drawing.page_words import sentence_under_title
from rondel.model.errors import BadInput, RondelError
from rondel.model.finding import Loosening
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Role
from rondel.planner.wishes import require_known

NOTHING = Markup("")
#: What was done with a routine as a whole, said once after it.
DONE = {
    "named": "It is called “{name}” now.",
    "away": "“{name}” is put away, with all that belongs to it. It can be brought back below.",
    "back": "“{name}” is here again, with all that belongs to it.",
    "back-as": (
        "“{name}” is here again, with all that belongs to it. Another has its folder's name now, "
        "so its own folder is called otherwise."
    ),
}
#: Where the sentence of a routine stands.
_BRIEF = re.compile(r"/r/[^/?#]+/brief")
#: The first leaf waits no longer than this for what would come of its sentence.
SOON_SECONDS = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Little:
    """A routine as it lies on the shelf. `trouble` says why it cannot be opened."""

    slug: str
    title: str
    under: str = ""
    shape: Markup = NOTHING
    is_planned: bool = True
    trouble: str = ""
    version: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filing:
    """What was asked of a routine as a whole and not done: `what` of `slug`, with the `word` given,
    and why in `says` (ours) or `told` (English)."""

    slug: str
    what: str
    word: str = ""
    says: str = ""
    told: str = ""


def start(ask: Ask) -> Response:
    if not ask.request.query_params or ask.word("done"):
        answer = start_page(ask, briefs.USUAL)
        answer.background = BackgroundTask(_foresee, ask)
        return answer
    wrong = sentence_view.wrong_numbers(ask) if ask.request.query_params.get("minutes") else {}
    if wrong:
        return start_page(ask, briefs.asked_for(ask, skips=True), wrong=wrong, status=422)
    try:
        return start_page(ask, briefs.loosened(briefs.asked_for(ask), ask.word("loosen")))
    except BadInput as error:
        return start_page(ask, briefs.asked_for(ask, skips=True), trouble=str(error), status=422)


def _foresee(ask: Ask) -> None:
    """Draw the routine that was worked on last, while she looks at the first leaf: most often it is
    the one that she opens."""
    shelf = ask.desk.shelf
    with suppress(RondelError, OSError, ValueError):
        files = [(shelf.home / slug / ROUTINE, slug) for slug in shelf.slugs()]
        there = [(path.stat().st_mtime_ns, slug) for path, slug in files if path.is_file()]
        if there:
            leaf_of(ask, ask.desk.open(max(there)[1]), "")


def start_page(
    ask: Ask,
    fields: Mapping[str, object],
    *,
    trouble: str = "",
    wrong: Mapping[str, str] | None = None,
    filing: Filing | None = None,
    status: int = 200,
) -> Response:
    """Return the first leaf with `fields` in its sentence, what is `wrong` with them, each beside
    its own, and what became of a `filing`."""
    craft = ask.desk.craft()
    littles = [_little(ask, slug, craft) for slug in ask.desk.shelf.slugs()]
    away = [(name, _title_away(ask, name)) for name in ask.desk.shelf.put_away_names()]
    word, of = ask.word("done"), ask.word("of")
    titles = dict(away) if word == "away" else {little.slug: little.title for little in littles}
    # Nobody waits for what would come of a sentence that she has not touched.
    waits = fields is not briefs.USUAL
    sketch = Sketch() if wrong else _sketch(ask, fields, trouble, waits=waits)
    return ask.page(
        "start.html",
        status,
        littles=littles,
        away=away,
        filing=filing,
        done=ask.say(DONE[word], name=titles[of]) if word in DONE and of in titles else "",
        loosen_at="/",
        sketch=sketch,
        lands=_lands(ask, sketch, status),
        **sentence_view.sentence_values(ask, craft, fields, wrong or {}),
    )


def _lands(ask: Ask, sketch: Sketch, status: int) -> str:
    """Return where on the leaf she should be: at why it cannot be, or, once she took a way out, at
    what is still to be pressed."""
    if sketch.reasons or sketch.trouble:
        return "why" if status != 200 or ask.word("loosen") else ""
    return "make" if ask.word("loosen") else ""


def _little(ask: Ask, slug: str, craft: Craft) -> Little:
    try:
        if not ask.desk.shelf.has_routine(slug):
            brief = read_brief(ask.desk.shelf.folder(slug) / BRIEF)
            return Little(slug=slug, title=brief.title, is_planned=False)
        kept = ask.desk.open(slug)
        return ask.desk.recent.get(
            ("little", slug, kept.version, ask.desk.craft_stamp()), lambda: _shape(kept, craft)
        )
    except RondelError as error:
        return Little(slug=slug, title=slug, trouble=str(error))


def _shape(kept: Kept, craft: Craft) -> Little:
    mark = f"{slug_of(kept.slug)}-{zlib.crc32(kept.slug.encode()):x}"
    return Little(
        slug=kept.slug,
        title=kept.routine.title,
        under=sentence_under_title(kept.routine, craft),
        shape=map_of(kept.routine, craft, mark),
        version=kept.version,
    )


def map_of(routine: Routine, craft: Craft, mark: str) -> Markup:
    """Return `routine` as a small page, whose ids carry `mark`: many may stand on one leaf."""
    svg = draw_map(routine, craft, 220.0, 300.0).svg
    return Markup(svg.replace("map-title", f"{mark}-title").replace("map-desc", f"{mark}-desc"))


def _title_away(ask: Ask, name: str) -> str:
    """Return the title of a routine that was put away; its folder's name where none can be read."""
    with suppress(RondelError):
        folder = ask.desk.shelf.put_away_folder(name)
        if (folder / ROUTINE).is_file():
            return read_routine(folder / ROUTINE).title
        return read_brief(folder / BRIEF).title
    return name


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """What would come of the sentence: a shape and a few words, or why nothing would."""

    shape: Markup = NOTHING
    says: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    loosen: tuple[tuple[str, str, tuple[str, ...]], ...] = ()  # JSON of the changes, words, costs
    trouble: str = ""
    wrong: Mapping[str, str] = field(default_factory=dict)  # a sentence for each field


def estimate(ask: Ask) -> Response:
    wrong = sentence_view.wrong_numbers(ask)
    try:
        fields = briefs.loosened(briefs.asked_for(ask, skips=bool(wrong)), ask.word("loosen"))
        sketch = Sketch(wrong=wrong) if wrong else _sketch(ask, fields)
    except RondelError as error:
        sketch = Sketch(trouble=str(error))
    at = ask.word("at", "/")
    is_ours = at == "/" or _BRIEF.fullmatch(at)
    return ask.page("sketch.html", sketch=sketch, loosen_at=at if is_ours else "/")


def _sketch(
    ask: Ask, fields: Mapping[str, object], trouble: str = "", *, waits: bool = True
) -> Sketch:
    """Return what a quick plan says of the sentence; nothing where that takes long and nobody
    `waits` for it."""
    if trouble:
        return Sketch(trouble=trouble)
    craft = ask.desk.craft()
    try:
        brief = briefs.brief_of(fields)
        require_known(brief, craft, at="your sentence")
        if brief.track is not None:
            return Sketch(says=(ask.say("Your track is listened to when the routine is made."),))
        key = ("sketch", brief_text(brief), ask.desk.craft_stamp())
        outcome = ask.desk.recent.find(key)
        if outcome is None and not waits:
            outcome = ask.desk.planner.within(SOON_SECONDS, key, sketch_plan, brief, craft)
            if outcome is None:
                return Sketch()
        if outcome is None:
            outcome = ask.desk.planner.do(sketch_plan, brief, craft)
        ask.desk.recent.get(key, lambda: outcome)
    except RondelError as error:
        return Sketch(trouble=str(error))
    if outcome.routine is None:
        return Sketch(reasons=outcome.reasons, loosen=loosen_buttons(outcome.loosen))
    return Sketch(
        shape=Markup(draw_map(outcome.routine, craft, 220.0, 300.0).svg),
        says=shape_says(ask, outcome.routine, craft),
    )


def loosen_buttons(
    loosen: tuple[Loosening, ...],
) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    return tuple(
        (json.dumps({c.wish: c.to for c in one.changes}), one.says, one.costs) for one in loosen
    )


def shape_says(ask: Ask, routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return what a small page shows at a glance, in a few sentences."""
    names = list(
        dict.fromkeys(
            craft.technique(p.technique).plain
            for row in routine.refrains[:1]
            for p in row
            if p.technique
        )
    )
    peak = next((p for p in routine.line if p.role is Role.PEAK and p.technique), None)
    count, both = len(routine.refrains), ", ".join(names)
    found = [
        ask.say("The refrain, {names}, is met once.", names=both)
        if count == 1
        else ask.say("The refrain, {names}, returns {count} times.", names=both, count=count)
    ]
    if peak is not None and peak.technique:
        found.append(
            ask.say("The deepest point is {name}.", name=craft.technique(peak.technique).plain)
        )
    return tuple(found)


def new(ask: Ask) -> Response:
    """Plan the sentence, keep the routine and open it; or say why not, with the sentence kept."""
    wrong = sentence_view.wrong_numbers(ask)
    if wrong:
        return start_page(ask, briefs.asked_for(ask, skips=True), wrong=wrong, status=422)
    try:
        fields = briefs.asked_for(ask)
    except BadInput as error:
        return start_page(ask, briefs.asked_for(ask, skips=True), trouble=str(error), status=422)
    if ask.word("loosen"):
        return start_page(ask, briefs.loosened(fields, ask.word("loosen")))
    try:
        brief = briefs.brief_of(fields)
        require_known(brief, ask.desk.craft(), at="your sentence")
        if brief.track is not None:
            says = "bring the track on the Music leaf, once the routine is there"
            raise BadInput(says, at="track")
        outcome = ask.desk.planner.do(make_plan, brief, ask.desk.craft())
        if outcome.routine is None:
            return start_page(ask, fields, status=422)
        says = ask.say("Planned from your sentence.")
        kept = ask.desk.shelf.add(outcome.routine, brief_text(brief), says)
    except RondelError as error:
        return start_page(ask, fields, trouble=str(error), status=422)
    return to(f"/r/{kept.slug}/")


def plan_brief(ask: Ask) -> Response:
    """Plan a brief that lies in the studio and has no routine yet."""
    slug = ask.path("slug")
    folder = ask.desk.shelf.folder(slug)
    if ask.desk.shelf.has_routine(slug):
        return to(f"/r/{slug}/")
    asked = read_brief(folder / BRIEF)
    refuse_track_outside(asked.track, folder, ask.desk.studio)
    brief, heard = ask.desk.planner.do(brief_and_heard, folder / BRIEF)
    craft = ask.desk.craft()
    require_known(brief, craft, at=BRIEF)
    outcome = ask.desk.planner.do(make_plan, brief, craft, heard=heard)
    if outcome.routine is None:
        return start_page(ask, briefs.fields_of(brief), status=422)
    ask.desk.shelf.add(outcome.routine, "", ask.say("Planned from its brief."), over=slug)
    return to(f"/r/{slug}/")


def speak(ask: Ask) -> Response:
    """Choose the language of the desk."""
    language = ask.word("language")
    if language not in LANGUAGES:
        raise BadInput("the desk does not speak this language yet", at="language")
    back = ask.word("back", "/")
    answer = to(back if back.startswith("/") and not back.startswith("//") else "/")
    answer.set_cookie(LANGUAGE_COOKIE, language, samesite="strict", path="/", max_age=31536000)
    return answer


ROUTES = (
    Route("/", answering(start)),
    Route("/estimate", answering(estimate)),
    Route("/new", answering(new), methods=["POST"]),
    Route("/language", answering(speak), methods=["POST"]),
    Route("/r/{slug}/plan", answering(plan_brief), methods=["POST"]),
)
