"""The rule book: every rule in words with its source, and what this studio minds more or less."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace

from starlette.datastructures import URL
from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.studio_files import settings_of
from rondel.adapters.studio_rules import StaleRule, change_rule
from rondel.desk import rules_view as view
from rondel.desk.asking import Ask, answering, to
from rondel.model.errors import BadInput, RondelError
from rondel.model.finding import Severity
from rondel.model.settings import Settings
from rondel.rules.book import BY_ID
from rondel.rules.rule import Rule

#: What was done, said once beside its rule.
SAID = {
    "kept": "Kept. Plans and findings go by it from now on.",
    "own": "It is as the book has it again.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Back:
    """The routine that she came from, and the passage there; `words` go along on this leaf."""

    title: str
    address: str
    words: str


def _back(ask: Ask) -> Back | None:
    """Return the way back to where she came from; None where there is no such routine here."""
    slug, passage = ask.word("from"), ask.word("p")
    with suppress(RondelError):
        if slug in ask.desk.shelf.slugs():
            routine = ask.desk.open(slug).routine
            at = {"p": passage} if any(p.id == passage for p in routine.line) else {}
            words = URL("/rules").include_query_params(**{"from": slug, **at}).query
            address = str(URL(f"/r/{slug}/").include_query_params(**at)) if at else f"/r/{slug}/"
            return Back(title=routine.title, address=address, words=words)
    return None


def _book(back: Back | None, **more: str) -> str:
    """Return the address of this leaf, from which there is the same way back."""
    book = URL(f"/rules?{back.words}" if back else "/rules")
    return str(book.include_query_params(**more)) if more else str(book)


def rules(ask: Ask) -> Response:
    return _show(ask)


def _show(
    ask: Ask, *, typed: view.Typed | None = None, trouble: str = "", status: int = 200
) -> Response:
    settings, broken = _settings(ask)
    shown = view.rules_shown(ask, settings, typed)
    minded = [rule for rule in shown if rule.fields]
    fixed = [rule for rule in shown if not rule.fields]
    word, back = ask.word("said"), _back(ask)
    return ask.page(
        "rules.html",
        status,
        minded=minded,
        harm=[rule for rule in fixed if rule.keeps_from_harm],
        others=[rule for rule in fixed if not rule.keeps_from_harm],
        changed=view.changed_names(settings),
        typed=typed,
        trouble=trouble or broken,
        said=ask.say(SAID[word]) if word in SAID else "",
        said_of=ask.word("rule"),
        back=back,
        here=_book(back),
    )


def _settings(ask: Ask) -> tuple[Settings, str]:
    """Return what the studio changes; where its file will not do, as it last did, and why."""
    try:
        return settings_of(ask.desk.studio), ""
    except RondelError as error:
        return ask.desk.craft().settings, str(error)


def _rule(ask: Ask) -> Rule:
    rule = BY_ID.get(ask.path("id"))
    if rule is None:
        raise BadInput("there is no such rule in the book", at=ask.path("id")[:40])
    if rule.severity is Severity.MUST:
        raise BadInput("this rule is the same in every studio and cannot be changed", at=rule.name)
    return rule


def change(ask: Ask) -> Response:
    """Keep what the form says of one rule, or say beside the fields why it cannot be kept."""
    rule, is_back = _rule(ask), bool(ask.word("own"))
    typed, numbers = view.typed_in(ask, rule, _settings(ask)[0])
    if is_back:
        typed, numbers = replace(typed, words={}, troubles={}), {}
    if typed.troubles:
        return _show(ask, typed=typed, status=422)
    try:
        change_rule(ask.desk.studio, rule.id, numbers, seen=ask.word("seen"))
    except StaleRule:
        return _show(ask, typed=replace(typed, is_stale=True), status=409)
    except BadInput as error:
        return _show(ask, typed=typed, trouble=str(error), status=422)
    said = "own" if is_back else "kept"
    return to(f"{_book(_back(ask), said=said, rule=rule.id)}#rule-{rule.id}")


def again(ask: Ask) -> Response:
    """Show the leaf to who comes back by the address of something that was refused."""
    return to(_book(_back(ask)))


ROUTES = (
    Route("/rules", answering(rules)),
    Route("/rules/{id}", answering(change), methods=["POST"]),
    Route("/rules/{id}", answering(again)),
)
