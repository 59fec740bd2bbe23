"""The hands: the repertoire as cards, one technique open, adding and changing in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.repertoire_files import Repertoire, StaleTechnique, Taught
from rondel.adapters.routine_shelf import Kept, slug_of
from rondel.adapters.technique_uses import Use, uses_of
from rondel.checker.check import check
from rondel.desk import hands_view as view
from rondel.desk import technique_form as form
from rondel.desk.asking import Ask, Handler, answering, to
from rondel.desk.names_view import names_shown
from rondel.desk.page_view import strangers
from rondel.drawing.figure import still
from rondel.hands.load import hand_load
from rondel.hands.saying import ABOUT, in_words, name_of
from rondel.model.errors import BadInput, RondelError
from rondel.model.finding import Severity
from rondel.model.names import POSITION_SAYS
from rondel.model.repertoire import Craft, Technique
from rondel.rules.teachable import Refusal, refusals, remarks, unsaid

#: What was done, said once after it.
SAID = {
    "added": "{name} is among your hands now.",
    "changed": "{name} is kept as you said it.",
    "named": "It is called {name} now.",
    "gone": "It is taken out of your repertoire.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the leaf is open: in the book of a routine, or by itself."""

    base: str
    kept: Kept | None

    @property
    def here(self) -> frozenset[str]:
        """The techniques of the open routine."""
        passages = self.kept.routine.passages if self.kept else ()
        return frozenset(p.technique for p in passages if p.technique)


def place_of(ask: Ask) -> Place:
    """Return where the leaf was asked for. BadInput for a routine that is not there."""
    slug = ask.request.path_params.get("slug")
    if slug is None:
        return Place(base="/hands", kept=None)
    return Place(base=f"/r/{slug}/hands", kept=ask.desk.open(str(slug)))


def leaf(ask: Ask, template: str, place: Place, status: int = 200, **values: object) -> Response:
    """Return a page of the leaf, in the frame of a routine where one is open."""
    if place.kept is None:
        return ask.page(template, status, frame="hands_frame.html", base=place.base, **values)
    return ask.leaf(
        template, "hands", place.kept, status, frame="routine.html", base=place.base, **values
    )


# ------------------------------------------------------------------ all of them
def cards(ask: Ask) -> Response:
    place, craft = place_of(ask), ask.desk.craft()
    region, words = ask.word("region"), ask.word("words")[:200]
    rows = view.found(craft.techniques, craft, ask, region=region, words=words)
    if ask.word("here") and place.kept is not None:
        rows = [t for t in rows if t.id in place.here]
    count = ask.say("{some} of {all} techniques", some=len(rows), all=len(craft.techniques))
    return leaf(
        ask,
        "hands.html",
        place,
        groups=_groups(ask, rows, craft, place.here),
        count=count,
        regions=[(r.id, ask.say(r.name)) for r in craft.regions],
        region=region,
        words=words,
        is_here=bool(ask.word("here")),
        digests=_stamps(rows),
        said=ask.say(SAID["gone"]) if ask.word("said") == "gone" else "",
        load=_load(ask, place.kept, craft) if place.kept is not None else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What a routine asks of the giver's hands: shares by part of the hand, and sentences."""

    shares: tuple[tuple[str, float], ...]
    says: tuple[str, ...]


def _load(ask: Ask, kept: Kept, craft: Craft) -> Load | None:
    """Return what the routine asks of the hands; None where it has techniques that are gone."""
    if strangers(kept.routine, craft):
        return None

    def made() -> Load:
        load = hand_load(kept.routine, craft)
        shares = tuple((name_of(contact), round(share, 3)) for contact, share in load.shares())
        return Load(shares=shares, says=(*in_words(load), *ABOUT))

    return ask.desk.recent.get(("load", kept.slug, kept.version, ask.desk.craft_stamp()), made)


def _groups(
    ask: Ask, rows: Sequence[Technique], craft: Craft, here: frozenset[str]
) -> list[tuple[str, list[view.Card]]]:
    """Return the cards by place on the body, in the order of the body."""
    found = []
    for region in craft.regions:
        cards = [view.card(ask, t, craft, here) for t in rows if t.region == region.id]
        if cards:
            says = ask.say(region.name)
            found.append((says[:1].upper() + says[1:], cards))
    return found


def _stamps(rows: Sequence[Technique]) -> dict[str, str]:
    """Return what changes in the address of a picture when the picture does."""
    seen = ("region", "family", "contact", "lateral", "landing", "path_cm", "trace", "position")
    return {
        t.id: slug_of("-".join(str(getattr(t, k)) for k in (*seen, "from_far_end"))) for t in rows
    }


def picture(ask: Ask) -> Response:
    """Return the drawing on a card; its address changes whenever it does."""
    technique = _technique(ask, ask.desk.craft())
    kept = {"Cache-Control": "private, max-age=31536000"}
    return Response(_still(technique), media_type="image/svg+xml", headers=kept)


@lru_cache(maxsize=256)
def _still(technique: Technique) -> str:
    return still(technique, view.side_of(technique), technique.position[0])


def _technique(ask: Ask, craft: Craft) -> Technique:
    id = ask.path("id")
    if not craft.has_technique(id):
        raise BadInput("there is no such technique in this studio", at=id[:60])
    return craft.technique(id)


# ------------------------------------------------------------------ one of them
def one(ask: Ask) -> Response:
    return show_one(ask)


def show_one(
    ask: Ask,
    *,
    trouble: str = "",
    trial_trouble: str = "",
    typed: Mapping[str, str] | None = None,
    is_english: bool = False,
    status: int = 200,
) -> Response:
    """Return one technique, open: what it is, where it is used, and its names by audience.

    `is_english` is true for a trouble that is not told in the reader's language.
    """
    place, craft = place_of(ask), ask.desk.craft()
    technique = _technique(ask, craft)
    taught = Repertoire(ask.desk.studio).taught(technique.id)
    position = next((p for p in technique.position if p == ask.word("lie")), technique.position[0])
    uses = uses_of(ask.desk.shelf, technique.id)
    said = ask.word("said")
    return leaf(
        ask,
        "hands_one.html",
        place,
        status,
        t=technique,
        taught=taught,
        moving=view.moving(technique, position),
        positions=[(str(p), ask.say(POSITION_SAYS[p]), p is position) for p in technique.position],
        under_name=view.under(ask, technique, craft),
        facts=view.facts(ask, technique),
        care=craft.region(technique.region).care,
        uses=[(_use_leads(u), _use_says(ask, u, craft)) for u in uses],
        said=ask.say(SAID[said], name=technique.plain) if said in SAID else "",
        trouble=trouble,
        trial_trouble=trial_trouble,
        trouble_is_english=is_english,
        names=names_shown(ask, technique, typed or {}),
    )


def _use_leads(use: Use) -> str:
    """Return the address of a routine, or of where it is brought back from."""
    return "/#away" if use.is_away else f"/r/{use.slug}/"


def _use_says(ask: Ask, use: Use, craft: Craft) -> str:
    title = ask.say("{title} (put away)", title=use.title) if use.is_away else use.title
    if use.is_unread:
        return ask.say("{title}: a file of it cannot be read, so nobody knows", title=title)
    if not use.passages:
        return ask.say("{title}: its brief, or an earlier version of it", title=title)
    says = ask.say("{title}: {count} passages", title=title, count=use.passages)
    if use.is_away:
        return says
    try:
        routine = ask.desk.open(use.slug).routine
        broken = [f for f in check(routine, craft) if f.severity is Severity.MUST]
    except RondelError:
        return says
    if not broken:
        return says
    return ask.say("{says}; something there must be put right now", says=says)


def remove(ask: Ask) -> Response:
    """Take a technique out; refused while a routine needs it."""
    place, id = place_of(ask), ask.path("id")
    uses = uses_of(ask.desk.shelf, id)
    if uses:
        where = "; ".join(_use_says(ask, u, ask.desk.craft()) for u in uses)
        says = ask.say("It is still used, so it was not taken out. {where}.", where=where)
        return show_one(ask, trouble=says, status=422)
    try:
        Repertoire(ask.desk.studio).remove(id, seen=ask.word("seen"))
    except StaleTechnique as error:
        if error.kept is None:
            return to(f"{place.base}?said=gone")
        says = ask.say("It was changed in another window meanwhile, so it was not taken out.")
        return show_one(ask, trouble=says, status=409)
    return to(f"{place.base}?said=gone")


def rename(ask: Ask) -> Response:
    """Make one of the names the plain name."""
    place, kept = place_of(ask), Repertoire(ask.desk.studio)
    taught, name = kept.taught(ask.path("id")), " ".join(ask.word("name").split())
    try:
        kept.put(replace(taught.technique, plain=name), seen=ask.word("seen"))
    except StaleTechnique:
        says = ask.say("It was changed in another window meanwhile, so its name was left as it is.")
        return show_one(ask, trouble=says, status=409)
    except BadInput as error:
        return show_one(ask, trouble=error.says, is_english=True, status=422)
    return to(f"{place.base}/t/{taught.technique.id}?said=named")


def again(ask: Ask) -> Response:
    """Show the open card to who comes back by the address of something that was refused."""
    return to(f"{place_of(ask).base}/t/{ask.path('id')}")


# ------------------------------------------------------------------ teaching
def new(ask: Ask) -> Response:
    return show_form(ask, form.NEW, None)


def edit(ask: Ask) -> Response:
    taught = Repertoire(ask.desk.studio).taught(ask.path("id"))
    return show_form(ask, form.fields_of(taught.technique), taught)


def show_form(
    ask: Ask,
    fields: Mapping[str, object],
    taught: Taught | None,
    *,
    troubles: Sequence[Refusal] = (),
    both: Sequence[tuple[str, str, str]] | None = None,
    is_gone: bool = False,
    trouble: str = "",
    status: int = 200,
) -> Response:
    """Return the form. `both` is what differs from a version that another window kept."""
    place, craft = place_of(ask), ask.desk.craft()
    read = form.read(fields, "new", taught.technique if taught else None)
    return leaf(
        ask,
        "hands_edit.html",
        place,
        status,
        fields=fields,
        offered=form.offered(ask, craft),
        taught=taught,
        troubles=_beside(troubles),
        remarks=_beside(remarks(read.technique) if read.technique else ()),
        drawn=_drawn(read.technique),
        both=both,
        is_gone=is_gone,
        trouble=trouble,
    )


def _beside(found: Sequence[Refusal]) -> dict[str, Refusal]:
    """Return the first refusal of each field."""
    rows: dict[str, Refusal] = {}
    for refusal in found:
        rows.setdefault(refusal.field, refusal)
    return rows


def _drawn(technique: Technique | None) -> view.Moving | None:
    return None if technique is None else view.moving(technique, technique.position[0])


def figure(ask: Ask) -> Response:
    """Return the figure of what is in the form now, and what the body does not allow of it."""
    craft, id = ask.desk.craft(), ask.word("id") or "new"
    old = craft.technique(id) if craft.has_technique(id) else None
    read = form.read(form.asked_for(ask), old.id if old else "a-new-one", old)
    technique = read.technique
    limits = read.troubles if technique is None else refusals(technique, craft)
    is_drawable = technique is not None and craft.has_region(technique.region)
    return ask.page(
        "hands_drawn.html",
        drawn=_drawn(technique if is_drawable else None),
        troubles=_beside(limits),
        remarks=_beside(remarks(technique) if technique else ()),
    )


def save(ask: Ask) -> Response:
    """Keep what the form says, or say beside the fields why it cannot be kept."""
    place, kept, craft = place_of(ask), Repertoire(ask.desk.studio), ask.desk.craft()
    fields, id = form.asked_for(ask), str(ask.request.path_params.get("id", ""))
    old = craft.technique(id) if id and craft.has_technique(id) else None
    read = form.read(fields, id or _free_id(str(fields["plain"]), craft), old)
    technique = read.technique
    troubles = read.troubles
    if technique is not None:
        troubles = (*unsaid(technique), *refusals(technique, craft))
    if technique is None or troubles:
        taught = _as_seen(kept, id, ask.word("seen"))
        return show_form(ask, fields, taught, troubles=troubles, status=422)
    try:
        if not id:
            kept.add(technique)
            return to(f"{place.base}/t/{technique.id}?said=added")
        kept.put(technique, seen=ask.word("seen"))
    except StaleTechnique as error:
        if error.kept is None:
            return show_form(ask, fields, None, is_gone=True, status=409)
        both = form.differing(ask, technique, error.kept.technique)
        return show_form(ask, fields, error.kept, both=both, status=409)
    except BadInput as error:
        taught = _as_seen(kept, id, ask.word("seen"))
        return show_form(ask, fields, taught, trouble=str(error), status=422)
    return to(f"{place.base}/t/{id}?said=changed")


def _as_seen(kept: Repertoire, id: str, seen: str) -> Taught | None:
    """Return what is being changed, under the digest that she saw; None for one not there."""
    try:
        return replace(kept.taught(id), digest=seen) if id else None
    except BadInput:
        return None


def _free_id(plain: str, craft: Craft) -> str:
    name = slug_of(plain, "technique")
    number, id = 1, name
    while craft.has_technique(id):
        number += 1
        id = f"{name}-{number}"
    return id


# ------------------------------------------------------------------ addresses
_GET: tuple[tuple[str, Handler], ...] = (
    ("", cards),
    ("/new", new),
    ("/figure", figure),
    ("/t/{id}", one),
    ("/t/{id}/edit", edit),
    ("/t/{id}/picture.svg", picture),
    ("/t/{id}/remove", again),
    ("/t/{id}/name", again),
)
_POST: tuple[tuple[str, Handler], ...] = (
    ("/new", save),
    ("/t/{id}/edit", save),
    ("/t/{id}/remove", remove),
    ("/t/{id}/name", rename),
)

ROUTES = tuple(
    Route(base + path, answering(handler), methods=[method])
    for base in ("/hands", "/r/{slug}/hands")
    for method, rows in (("GET", _GET), ("POST", _POST))
    for path, handler in rows
)
