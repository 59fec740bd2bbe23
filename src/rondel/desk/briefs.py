"""A brief as a sentence with fields in it: from the form to the brief, and back."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping
from contextlib import nullcontext, suppress
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from rondel.desk.asking import Ask
from rondel.drawing.page_words import INTENTION_SAYS, LEVEL_SAYS
from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_from_dict, brief_to_dict
from rondel.model.errors import BadInput
from rondel.model.names import POSITION_SAYS
from rondel.model.repertoire import Craft
from rondel.model.words import CONTACT_NAME, Intention

#: What a new sentence says before anybody has changed it.
USUAL: Mapping[str, object] = {"title": "", "minutes": 15, "intention": "settle", "level": 2}
TEXTS = ("title",)
NUMBERS = ("minutes", "open_minutes", "bpm")
WHOLES = ("level", "refrains", "seed")
LISTS = ("main_regions", "avoid_regions", "spare", "positions", "cautions")
WORDS = ("intention", "names", "language", "track")
FLAGS = ("stretch", "trained")
#: Of a brief that is written in a form, so many words are enough.
MOST_LETTERS = 20_000
_UNSEEN, _JOINERS = ("Cc", "Cf", "Cs"), "\u200c\u200d"
_PLAIN_NUMBER = re.compile(r"-?[0-9]{1,9}(\.[0-9]{1,9})?([eE][+-]?[0-9])?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One thing that can be picked."""

    value: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """All that the fields of the sentence offer."""

    intentions: tuple[Choice, ...]
    levels: tuple[Choice, ...]
    regions: tuple[Choice, ...]
    contacts: tuple[Choice, ...]
    positions: tuple[Choice, ...]
    cautions: tuple[Choice, ...]


def choices(ask: Ask, craft: Craft) -> Choices:
    """Return what can be picked, in the reader's language where the desk has the words."""
    say = ask.say

    def rows(found: Mapping[Any, str]) -> tuple[Choice, ...]:
        return tuple(Choice(value=str(k), says=say(v)) for k, v in found.items())

    return Choices(
        intentions=rows({i: INTENTION_SAYS[i] for i in Intention}),
        levels=rows({level: LEVEL_SAYS[level] for level in LEVEL_SAYS}),
        regions=rows({r.id: r.name for r in craft.regions}),
        contacts=rows(CONTACT_NAME),
        positions=rows(POSITION_SAYS),
        cautions=rows({c.id: c.name for c in craft.cautions}),
    )


def fields_of(brief: Brief | None) -> dict[str, object]:
    """Return the fields of the sentence for `brief`, or for a new one."""
    return dict(USUAL) if brief is None else brief_to_dict(brief)


def asked_for(ask: Ask, *, skips: bool = False) -> dict[str, object]:
    """Return what the form says, as brief.toml would hold it; what is left empty is left out, and
    with `skips` what cannot be understood.

    Wishes that have no field travel along in `more`, as JSON. BadInput for a word that is none.
    """
    fields: dict[str, object] = {}
    with suppress(BadInput) if skips else nullcontext():
        fields.update(_more(ask.word("more")))
    for name in (*TEXTS, *WORDS):
        word = _plain(ask.word(name))
        if word:
            fields[name] = word
    for name in (*NUMBERS, *WHOLES):
        word = ask.word(name).strip().replace(",", ".")
        if word and not (skips and not _PLAIN_NUMBER.fullmatch(word)):
            fields[name] = _number(word, name, is_whole=name in WHOLES and not skips)
    for name in LISTS:
        if ask.words(name):
            fields[name] = [w for w in ask.words(name) if w]
    for name in FLAGS:
        if ask.word(name):
            fields[name] = ask.word(name) == "yes"
    return fields


def title_of(word: str) -> str:
    """Return the title that `word` gives, by the rules of a new routine's; "" where it gives none.

    BadInput where it will not do.
    """
    title = _plain(word)
    return brief_of({**USUAL, "title": title}).title if title else ""


def _plain(word: str) -> str:
    """Return `word` without signs that cannot be seen and may turn what stands after them round.

    The two that join letters or keep them apart stay: Persian and others are written with them.
    """
    unseen = (c for c in word if c in _JOINERS or unicodedata.category(c) not in _UNSEEN)
    return "".join(unseen).strip()


def loosened(fields: Mapping[str, object], word: str) -> dict[str, object]:
    """Return the fields with the changes in `word`, JSON of {wish: value or null}."""
    found = dict(fields)
    for wish, value in _more(word).items():
        if value is None:
            found.pop(wish, None)
        else:
            found[wish] = value
    return found


def brief_of(fields: Mapping[str, object]) -> Brief:
    """Return the brief; BadInput in a sentence where the fields will not do."""
    return brief_from_dict(dict(fields), at="your sentence")


def unsaid(fields: Mapping[str, object]) -> str:
    """Return, as JSON, the wishes that have no field in the sentence."""
    known = {*TEXTS, *NUMBERS, *WHOLES, *LISTS, *WORDS, *FLAGS}
    return json.dumps({k: v for k, v in fields.items() if k not in known}, ensure_ascii=False)


def _more(word: str) -> dict[str, object]:
    if not word:
        return {}
    try:
        found = json.loads(word) if len(word) <= MOST_LETTERS else None
        json.dumps(found, ensure_ascii=False).encode("utf-8")  # half a letter cannot be kept
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise BadInput("what came with the form cannot be understood", at="more")
    return found


def plain_number(word: str) -> Fraction | None:
    """Return the number that `word` says, with a point or a comma; None where it says none."""
    word = word.replace(",", ".")
    # Powers of ten of one digit: a number of millions of digits would never be worked out.
    return Fraction(word) if _PLAIN_NUMBER.fullmatch(word) else None


def _number(word: str, name: str, *, is_whole: bool) -> int | float:
    number = plain_number(word)
    if number is None:
        raise BadInput("a number is expected", at=name.replace("_", " "))
    if number.denominator == 1:
        return int(number)
    if is_whole:
        raise BadInput("a whole number is expected", at=name.replace("_", " "))
    return float(number)
