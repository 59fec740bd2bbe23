"""Names by audience: entering what was counted, and taking an entry back."""

from __future__ import annotations

import json
from collections.abc import Callable

from starlette.datastructures import URL
from starlette.responses import Response
from starlette.routing import Route

from rondel.adapters.name_trials_files import StaleNames, change_trials
from rondel.desk.asking import Ask, answering, to
from rondel.desk.leaves.hands import again, place_of, show_one
from rondel.model.codec.name_trials import count_from_dict, duel_from_dict
from rondel.model.errors import BadInput
from rondel.model.name_trials import Count, Duel, NameTrials

#: The fields of both forms; what is empty was not counted.
COUNT = {"audience": str, "name": str, "shown": int, "laughed": int, "remembered": int}
DUEL = {"audience": str, "one": str, "other": str, "preferred": int, "of": int}
NEEDED = ("shown", "preferred", "of")
#: Of an entry to take back.
MOST_LETTERS = 2000


def count(ask: Ask) -> Response:
    """Enter one showing of a name."""
    return _enter(ask, COUNT, lambda row: count_from_dict(row, at="count"))


def duel(ask: Ask) -> Response:
    """Enter one comparison of two names."""
    return _enter(ask, DUEL, lambda row: duel_from_dict(row, at="duel"))


def _enter(
    ask: Ask, fields: dict[str, type], make: Callable[[dict[str, object]], Count | Duel]
) -> Response:
    typed = {name: " ".join(ask.word(name)[:80].split()) for name in fields}
    row: dict[str, object] = {"technique": ask.path("id")}
    for name, kind in fields.items():
        word = typed[name]
        if word or kind is str:
            row[name] = int(word) if kind is int and word.isdecimal() else word
    if not all(typed[name] for name in fields if name in NEEDED):
        says = ask.say("Say of how many people you know it.")
        return show_one(ask, trial_trouble=says, typed=typed, status=422)
    try:
        entry = make(row)
    except BadInput as error:
        says = f"{error.at.split(': ')[-1]} {error.says}" if ": " in error.at else error.says
        return show_one(ask, trial_trouble=f"{says}.", typed=typed, is_english=True, status=422)
    return _change(ask, lambda trials: trials.then(entry), typed, str(entry.audience))


def forget(ask: Ask) -> Response:
    """Take an entry back."""
    try:
        data = json.loads(ask.word("row")[:MOST_LETTERS])
        is_duel = isinstance(data, dict) and "one" in data
        row = duel_from_dict(data, at="row") if is_duel else count_from_dict(data, at="row")
    except (ValueError, RecursionError) as error:
        raise BadInput("what came with the form cannot be understood", at="row") from error

    def without(trials: NameTrials) -> NameTrials:
        try:
            return trials.without(row)
        except ValueError as error:
            raise BadInput(str(error), at="row") from error

    return _change(ask, without, {}, row.audience)


def _change(
    ask: Ask, change: Callable[[NameTrials], NameTrials], typed: dict[str, str], audience: str
) -> Response:
    try:
        change_trials(ask.desk.studio, ask.word("names"), change)
    except StaleNames:
        says = ask.say(
            "Something was entered in another window since you looked, so yours was not. Look at "
            "what is counted now; what you typed still stands here."
        )
        return show_one(ask, trial_trouble=says, typed=typed, status=409)
    base, id = place_of(ask).base, ask.path("id")
    address = URL(f"{base}/t/{id}").include_query_params(audience=audience)
    return to(f"{address}#names")


ROUTES = tuple(
    Route(f"{base}/t/{{id}}/{what}", answering(handler), methods=[method])
    for base in ("/hands", "/r/{slug}/hands")
    for what, posted in (("count", count), ("duel", duel), ("forget", forget))
    for method, handler in (("POST", posted), ("GET", again))
)
