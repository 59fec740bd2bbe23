"""The page and the chosen passage: looking, second thoughts, taking back, two versions."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace

from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.routine_shelf import Kept, Stale
from rondel.app.change_plan import Changed, change_plan, take_offer
from rondel.app.edit_words import edit_of, seconds_of, word_of
from rondel.app.suggest_instead import Suggestion, suggest_instead
from rondel.desk.asking import Ask, answering, as_data, data, to
from rondel.desk.leaves.hear import get_hearing_ready
from rondel.desk.page_view import (
    Chosen,
    Drawn,
    Row,
    chosen,
    differing,
    drawn,
    marked,
    rows,
    strangers,
)
from rondel.drawing.page_words import sentence_under_title
from rondel.model.errors import BadInput, RondelError
from rondel.model.names import SIDE_SAYS, language_of, names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.safety import safety_sentences
from rondel.model.time import as_minutes
from rondel.model.words import PRESSURE_SAYS
from rondel.rules.book import BY_ID

#: What could stand instead is waited for no longer than this.
SOON_SECONDS = 0.05
#: What may be done to a passage here, and the sentence that the history keeps of it.
DONE = {
    "lengthen": "{name} lasts longer.",
    "shorten": "{name} is shorter.",
    "move": "{name} moves to {to}.",
    "swap": "{other} in the place of {name}.",
    "side": "{name} begins on the other side.",
    "pressure": "{name} at pressure {to}.",
    "keep": "{name} is kept as it is.",
    "free": "{name} is free again.",
    "open": "The bars of {name} are left open.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """All that both leaves of the open book show."""

    kept: Kept
    craft: Craft
    drawn: Drawn
    rows: tuple[Row, ...]
    under: str
    passage: Passage
    chosen: Chosen
    instead: tuple[Suggestion, ...] | None  # None: not worked out yet


def page(ask: Ask) -> Response:
    kept = ask.desk.open(ask.path("slug"))
    shown = show(ask, kept)
    get_hearing_ready(ask.desk, kept, ask.word("p"))
    return shown


def show(
    ask: Ask,
    kept: Kept,
    *,
    refused: Changed | None = None,
    trouble: str = "",
    status: int = 200,
) -> Response:
    """Return the open book of a routine, with what became of an edit."""
    leaf = leaf_of(ask, kept, ask.word("p"))
    return ask.leaf(
        "page.html",
        "page",
        kept,
        status,
        leaf=leaf,
        said=ask.word("said"),
        wide=marked(leaf.drawn.wide, {leaf.passage.id}, "chosen"),
        slip=marked(leaf.drawn.slip, {leaf.passage.id}, "chosen"),
        rows=as_data(
            [
                {
                    "id": row.id,
                    "start": row.start,
                    "end": row.end,
                    "stroke": row.stroke[0],
                    "lands": row.stroke[1],
                }
                for row in leaf.rows
            ]
        ),
        rule_names={id: rule.name for id, rule in BY_ID.items()},
        facts=_facts(ask, kept.routine, leaf),
        pressures=[(n, ask.say(PRESSURE_SAYS[n])) for n in leaf.chosen.pressures],
        techniques=sorted(leaf.craft.techniques, key=lambda t: t.plain),
        moved=kept.history.now.moved if ask.word("said") else (),
        refused=refused,
        asked={"what": ask.word("what"), "to": ask.word("to")},
        trouble=trouble,
        cautions=safety_sentences(kept.routine.brief, leaf.craft),
        spoken_in=language_of(kept.routine),
    )


def leaf_of(ask: Ask, kept: Kept, wanted: str) -> Leaf:
    """Return what is shown of `kept` with the passage `wanted` chosen, else the first."""
    desk, routine = ask.desk, kept.routine
    craft = desk.craft().in_language(language_of(routine))
    stamp = (kept.slug, kept.version, desk.craft_stamp())
    refuse_strangers(kept, craft)
    line = routine.line
    if not line:
        raise BadInput("this routine has no passages", at=kept.slug)
    passage = next((p for p in line if p.id == wanted), line[0])
    return Leaf(
        kept=kept,
        craft=craft,
        drawn=desk.recent.get(("drawn", *stamp), lambda: drawn(routine, craft)),
        rows=desk.recent.get(("rows", *stamp), lambda: rows(routine, craft)),
        under=sentence_under_title(routine, craft),
        passage=passage,
        chosen=desk.recent.get(
            ("chosen", *stamp, passage.id), lambda: chosen(routine, passage, craft)
        ),
        instead=_instead(ask, stamp, routine, passage),
    )


def refuse_strangers(kept: Kept, craft: Craft) -> None:
    """Raise BadInput where the routine has a technique that nobody teaches here any more."""
    names = strangers(kept.routine, craft)
    if names:
        says = (
            f"this routine has {' and '.join(f'“{name}”' for name in names)} in it, which is not "
            "among your hands any more. Bring it back into the files of your repertoire, or plan "
            "the routine anew on its Brief leaf"
        )
        raise BadInput(says, at=kept.slug)


def _instead(
    ask: Ask, stamp: Hashable, routine: Routine, passage: Passage
) -> tuple[Suggestion, ...] | None:
    """Return what could stand instead; None where that takes long, to be asked for again."""
    desk, key = ask.desk, ("instead", stamp, passage.id)
    found: tuple[Suggestion, ...] | None = desk.recent.find(key)
    if found is None:
        craft = desk.craft()
        found = desk.planner.within(SOON_SECONDS, key, suggest_instead, routine, passage, craft)
        if found is not None:
            desk.recent.get(key, lambda: found)
    return found


def _facts(ask: Ask, routine: Routine, leaf: Leaf) -> list[tuple[str, str]]:
    """Return what there is to know of the chosen passage, as (what, words)."""
    p, say = leaf.passage, ask.say
    start, end = (as_minutes(s) for s in (routine.start_seconds(p), routine.end_seconds(p)))
    found = [(say("bars"), say("{bars}, from {start} to {end}", bars=p.bars, start=start, end=end))]
    if p.technique is None:
        return found
    words = say(PRESSURE_SAYS[p.pressure])
    if p.pressure:
        words = say("{pressure} of 5, {words}", pressure=p.pressure, words=words)
    found.append((say("pressure"), words))
    if not leaf.craft.technique(p.technique).family.is_held:
        beats = p.beats_per_stroke
        count = f"{float(beats):g}"
        words = say("one beat") if beats == 1 else say("{count} beats", count=count)
        lands = p.first_landing_beat % beats
        beat = f"{float(lands) + 1:g}"
        where = (
            say("lands as it begins")
            if lands == 0
            else say("lands on beat {beat} of it", beat=beat)
        )
        found.append((say("one stroke"), f"{words}; {where}"))
    side = say(SIDE_SAYS[p.side])
    if p.side.is_one_sided and _has_other(routine, p):
        side = say("{side}, and the same on the other", side=side)
    found.append((say("side"), side))
    return found


def _has_other(routine: Routine, p: Passage) -> bool:
    return any(q.technique == p.technique and q.side is p.side.other for q in routine.line)


# ------------------------------------------------------------------ second thoughts
def change(ask: Ask) -> Response:
    """Do an edit and show the page as it then is; or say why it cannot be."""
    slug, what, passage = ask.path("slug"), ask.word("what"), ask.word("p")
    kept = ask.desk.open(slug)
    if ask.word("version") != kept.version:
        return stale(ask, ask.word("version"), kept)
    if what not in DONE:
        raise BadInput("this cannot be done to a passage", at=what[:40])
    craft, word = ask.desk.craft(), ask.word("to").strip() or None
    now = next((p for p in kept.routine.line if p.id == passage), None)
    if now is None:
        raise BadInput("there is no such passage on this page", at=passage[:40])
    try:
        edit = edit_of(what, passage, word)
        if ask.word("offer"):
            offer = ask.word("offer")
            changed, edit = ask.desk.planner.do(take_offer, kept.routine, edit, craft, offer)
            word = word_of(edit)
            changed = replace(changed, offers=())  # they would be of another wish than the form's
        else:
            changed = ask.desk.planner.do(change_plan, kept.routine, edit, craft)
    except BadInput as error:
        return show(ask, kept, trouble=str(error), status=422)
    new = changed.outcome.routine
    if new is None:
        return show(ask, kept, refused=changed, status=422)
    if what == "move":  # within a bar of what was asked for
        moved = next(p for p in new.line if p.id == _nearest(new, now, word))
        word = as_minutes(new.start_seconds(moved))
    says = _done(ask, what, now, kept.routine, craft, word)
    try:
        ask.desk.shelf.put(slug, new, says, moved=changed.moved, seen=kept.version)
    except Stale as error:
        return stale(ask, error.seen, error.kept)
    return to(f"/r/{slug}/?p={_nearest(new, now, word if what == 'move' else None)}&said=1")


def _done(ask: Ask, what: str, p: Passage, routine: Routine, craft: Craft, to: str | None) -> str:
    other = craft.technique(to).plain if what == "swap" and to and craft.has_technique(to) else ""
    name = passage_name(p, craft, names_shown(routine))
    return ask.say(DONE[what], name=name, to=to or "", other=other)


def _nearest(routine: Routine, was: Passage, at: str | None = None) -> str:
    """Return the passage of the changed routine that should stay chosen: the nearest of its kind to
    where it was, or to the time `at` to which it was moved."""
    alike = [p for p in routine.line if p.technique == was.technique and p.side is was.side]
    pool = alike or list(routine.line)
    if at is None:
        return min(pool, key=lambda p: abs(p.start_bar - was.start_bar)).id
    seconds = seconds_of(at)
    return min(pool, key=lambda p: abs(routine.start_seconds(p) - seconds)).id


def back(ask: Ask) -> Response:
    return _go(ask, ask.desk.shelf.back)


def on(ask: Ask) -> Response:
    return _go(ask, ask.desk.shelf.on)


def _go(ask: Ask, step: Callable[..., Kept]) -> Response:
    slug = ask.path("slug")
    try:
        step(slug, seen=ask.word("version"))
    except Stale as error:
        return stale(ask, error.seen, error.kept)
    return to(f"/r/{slug}/?p={ask.word('p')}")


def stale(ask: Ask, seen: str, kept: Kept) -> Response:
    """Say that another window was first, with both versions shown. Nothing was done."""
    try:
        before = ask.desk.shelf.routine_at(kept.slug, seen)
    except RondelError:
        before = kept.routine
    return _beside(ask, kept, before, is_stale=True, status=409)


# ------------------------------------------------------------------ two versions
def beside(ask: Ask) -> Response:
    kept = ask.desk.open(ask.path("slug"))
    steps = kept.history.steps
    usual = kept.history.before or kept.history.now
    other = ask.word("with", usual.version)
    if not any(step.version == other for step in steps):
        raise BadInput("there is no such version of this routine", at="with")
    return _beside(ask, kept, ask.desk.shelf.routine_at(kept.slug, other), other=other)


def again(ask: Ask) -> Response:
    """Let a version stand again that was before, as one more step: nothing between is lost."""
    slug, which = ask.path("slug"), ask.word("with")
    steps = ask.desk.open(slug).history.steps
    number = next((n for n, step in enumerate(steps, start=1) if step.version == which), None)
    if number is None:
        raise BadInput("there is no such version of this routine", at="with")
    says = ask.say("As in version {number} again.", number=number)
    try:
        routine = ask.desk.shelf.routine_at(slug, which)
        ask.desk.shelf.put(slug, routine, says, seen=ask.word("version"))
    except Stale as error:
        return stale(ask, error.seen, error.kept)
    return to(f"/r/{slug}/?said=1")


def _beside(
    ask: Ask,
    kept: Kept,
    before: Routine,
    *,
    other: str = "",
    is_stale: bool = False,
    status: int = 200,
) -> Response:
    craft = ask.desk.craft().in_language(language_of(kept.routine))
    gone, come = differing(before, kept.routine)
    one, two = drawn(before, craft), drawn(kept.routine, craft)
    return ask.leaf(
        "beside.html",
        "page",
        kept,
        status,
        steps=list(enumerate(kept.history.steps)),
        other=other,
        is_stale=is_stale,
        one=_renamed(marked(one.slip, gone, "differs"), "was"),
        two=_renamed(marked(two.slip, come, "differs"), "is"),
        gone=_told(before, gone, craft),
        come=_told(kept.routine, come, craft),
    )


def _renamed(svg: object, name: str) -> object:
    """Return a drawing whose ids do not meet those of the other one on the same page."""
    import re

    from markupsafe import Markup

    text = re.sub(r'id="([\w-]+)"', rf'id="{name}-\1"', str(svg))
    text = re.sub(
        r'aria-labelledby="([\w-]+) ([\w-]+)"', rf'aria-labelledby="{name}-\1 {name}-\2"', text
    )
    return Markup(text)


def _told(routine: Routine, ids: frozenset[str], craft: Craft) -> list[str]:
    from rondel.drawing.page_words import passage_told

    return [passage_told(p, routine, craft) for p in routine.passages if p.id in ids]


def version(ask: Ask) -> Response:
    """Tell which version stands, for windows that wonder whether they are behind."""
    return data({"version": ask.desk.open(ask.path("slug")).version})


ROUTES = (
    Route("/r/{slug}/", answering(page)),
    Route("/r/{slug}/change", answering(change), methods=["POST"]),
    Route("/r/{slug}/back", answering(back), methods=["POST"]),
    Route("/r/{slug}/on", answering(on), methods=["POST"]),
    Route("/r/{slug}/beside", answering(beside)),
    Route("/r/{slug}/again", answering(again), methods=["POST"]),
    Route("/r/{slug}/version", answering(version)),
)
