"""A technique as sentences with fields in them: from the form to the technique, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from rondel.desk.asking import Ask, number
from rondel.desk.briefs import Choice
from rondel.drawing.page_cards import LEVEL_SAYS
from rondel.model.codec.craft import technique_to_dict, techniques_from_dict
from rondel.model.errors import BadInput
from rondel.model.names import POSITION_SAYS
from rondel.model.repertoire import Craft, Technique
from rondel.model.words import (
    CONTACT_NAME,
    PRESSURE_SAYS,
    TRADE_NAME,
    Family,
    Landing,
    Trace,
)
from rondel.rules.teachable import Refusal

#: The keys of a repertoire file that the form has fields for, by kind of field.
TEXTS = ("plain", "anatomical", "how", "say")
WORDS = ("region", "family", "contact", "landing", "trace")
NUMBERS = ("path_cm", "energy", "closeness")
PAIRS = {"pressure": ("pressure_low", "pressure_high"), "cycle_seconds": ("quick", "slow")}
FLAGS = ("lateral", "refrain", "from_far_end")
GERMAN = ("de_plain", "de_say")
#: Of a text in the form.
MOST_LETTERS = 600
_NUMBER = re.compile(r"[-−]?\d{1,6}(?:[.,]\d{1,4})?")

TRACE_SAYS = {
    Trace.ALONG: "along it and home again",
    Trace.ACROSS: "from the middle outwards and back",
    Trace.OUTWARD: "up the middle, out, and home round the edges",
    Trace.CIRCLE: "in rounds",
    Trace.ALTERNATE: "hand after hand",
    Trace.SPOT: "in place",
    Trace.WRAP: "wrapped round the body",
}
LANDING_SAYS = {
    Landing.TURN: "where the hands turn",
    Landing.CONTACT: "where the hands touch",
    Landing.DEEPEST: "where it is deepest",
}
FAMILY_SAYS = {
    Family.GLIDING: "glide",
    Family.KNEADING: "knead",
    Family.FRICTION: "rub",
    Family.PERCUSSION: "drum",
    Family.VIBRATION: "tremble",
    Family.PRESSING: "press",
    Family.HOLDING: "hold still",
    Family.EMBRACE: "embrace",
}
#: What the fields are called where two versions stand beside each other, or a number is none.
FIELD_SAYS = {
    "plain": "plain name",
    "anatomical": "anatomical name",
    "region": "place",
    "family": "kind of stroke",
    "contact": "part of the hand",
    "lateral": "one side at a time",
    "pressure": "pressure",
    "cycle_seconds": "seconds of a stroke",
    "landing": "what meets the beat",
    "path_cm": "way of a stroke, in cm",
    "level": "level",
    "energy": "waking",
    "closeness": "closeness",
    "position": "how they lie",
    "refrain": "may be a refrain",
    "how": "how it is done",
    "say": "what is said",
    "trace": "shape of the stroke",
    "from_far_end": "goes out where others come home",
    "de": "in German",
}
#: What a new form says before anybody has changed it: the gentlest stroke there is.
NEW: Mapping[str, object] = {
    "plain": "", "anatomical": "", "how": "", "say": "", "region": "back", "family": "gliding",
    "contact": "palm", "landing": "turn", "trace": "along", "path_cm": "60", "energy": "-0.4",
    "closeness": "0.4", "pressure_low": "1", "pressure_high": "2", "quick": "8", "slow": "16",
    "level": "1", "position": ("prone",), "lateral": "no", "refrain": "", "from_far_end": "",
    "de_plain": "", "de_say": "",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """All that the fields of the form offer."""

    regions: tuple[Choice, ...]
    families: tuple[Choice, ...]
    contacts: tuple[Choice, ...]
    traces: tuple[Choice, ...]
    landings: tuple[Choice, ...]
    pressures: tuple[Choice, ...]
    levels: tuple[Choice, ...]
    positions: tuple[Choice, ...]


def offered(ask: Ask, craft: Craft) -> Offered:
    """Return what can be picked, in the reader's language where the desk has the words."""

    def rows(found: Mapping[str, str]) -> tuple[Choice, ...]:
        return tuple(Choice(value=k, says=ask.say(v)) for k, v in found.items())

    return Offered(
        regions=rows({r.id: r.name for r in craft.regions}),
        families=tuple(Choice(value=f, says=family_says(ask, f)) for f in Family),
        contacts=rows({str(k): v for k, v in CONTACT_NAME.items()}),
        traces=rows({str(k): v for k, v in TRACE_SAYS.items()}),
        landings=rows({str(k): v for k, v in LANDING_SAYS.items()}),
        pressures=tuple(
            Choice(value=str(n), says=ask.say("{n}: {words}", n=n, words=ask.say(words)))
            for n, words in PRESSURE_SAYS.items()
        ),
        levels=tuple(
            Choice(value=str(n), says=ask.say("{n}: {words}", n=n, words=ask.say(words)))
            for n, words in LEVEL_SAYS.items()
        ),
        positions=rows({str(k): v for k, v in POSITION_SAYS.items()}),
    )


def family_says(ask: Ask, family: Family) -> str:
    """Return a stroke family in plain words, with the trade's word."""
    plain = ask.say(FAMILY_SAYS[family])
    return ask.say("{plain} ({trade})", plain=plain, trade=ask.say(TRADE_NAME[family]))


def fields_of(technique: Technique) -> dict[str, object]:
    """Return the form's fields for `technique`."""
    row = technique_to_dict(technique)
    fields: dict[str, object] = {key: str(row[key]) for key in (*TEXTS, *WORDS)}
    fields |= {key: number(row[key]) for key in (*NUMBERS, "level")}
    for key, (low, high) in PAIRS.items():
        two = row[key]
        assert isinstance(two, list)
        fields |= {low: number(two[0]), high: number(two[1])}
    fields |= {key: "yes" if row[key] else "" for key in FLAGS}
    fields["lateral"] = "yes" if technique.lateral else "no"
    fields["position"] = tuple(map(str, technique.position))
    german = row.get("de", {})
    assert isinstance(german, dict)
    return fields | {"de_plain": german.get("plain", ""), "de_say": german.get("say", "")}


def asked_for(ask: Ask) -> dict[str, object]:
    """Return the form's fields as they came, words without spaces at their ends."""
    names = (*TEXTS, *WORDS, *NUMBERS, "level", *(n for two in PAIRS.values() for n in two))
    fields: dict[str, object] = {n: _tidy(ask.word(n)) for n in (*names, *FLAGS, *GERMAN)}
    return fields | {"position": ask.words("position")}


def _tidy(word: str) -> str:
    return " ".join(word[:MOST_LETTERS].split())


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What the form says: a technique, or the fields that will not do."""

    technique: Technique | None
    troubles: tuple[Refusal, ...] = ()


def read(fields: Mapping[str, object], id: str, old: Technique | None = None) -> Read:
    """Return the technique that the fields say, under `id`.

    What the form has no field for is taken from `old`.
    """
    row: dict[str, object] = {"id": id, **{key: fields[key] for key in (*TEXTS, *WORDS)}}
    for key in TEXTS if old is not None else ():
        if _tidy(getattr(old, key)) == row[key]:
            row[key] = getattr(old, key)  # as it is broken into lines in the file
    troubles = []
    for key in (*NUMBERS, "level"):
        row[key] = _number(fields[key])
        if row[key] is None:
            troubles.append(Refusal(field=key, says=NO_NUMBER))
    for key, two in PAIRS.items():
        numbers = [_number(fields[name]) for name in two]
        row[key] = numbers
        if None in numbers:
            troubles.append(Refusal(field=key, says=NO_NUMBER))
    row |= {key: fields[key] == "yes" for key in FLAGS}
    row["position"] = list(fields["position"])  # type: ignore[call-overload]
    row["helps_turn"] = old is not None and old.helps_turn
    german = {k: fields[f"de_{k}"] for k in ("plain", "say") if fields[f"de_{k}"]}
    if german:
        row["de"] = german
    if troubles:
        return Read(technique=None, troubles=tuple(troubles))
    try:
        (technique,) = techniques_from_dict({"technique": [row]}, at="form")
    except BadInput as error:
        return Read(technique=None, troubles=(_placed(error),))
    return Read(technique=technique)


NO_NUMBER = "Here a number is expected."


def _number(word: object) -> int | float | None:
    """Return the number that a field says; None where it says none. A comma is a point."""
    text = str(word).strip()
    if not _NUMBER.fullmatch(text):
        return None
    value = float(text.replace(",", ".").replace("−", "-"))
    return int(value) if value.is_integer() else value


def _placed(error: BadInput) -> Refusal:
    """Return the codec's complaint, beside the field that it is about."""
    key = error.at.split(": ")
    field = next((part for part in reversed(key) if part in FIELD_SAYS), "")
    says = error.says
    if not field:  # the complaint of a whole technique begins with the field
        field = next((k for k in FIELD_SAYS if says.startswith(f"{k} ")), "plain")
        says = says.removeprefix(f"{field} ")
    says = f"it {says}" if says.startswith(("is ", "must ")) else says
    return Refusal(field=field, says=f"{says[:1].upper()}{says[1:]}.")


def differing(ask: Ask, one: Technique, other: Technique) -> list[tuple[str, str, str]]:
    """Return what differs, as (what, how it is in one, how it is in the other)."""
    a, b = technique_to_dict(one), technique_to_dict(other)
    return [
        (ask.say(says), _told(ask, a.get(key)), _told(ask, b.get(key)))
        for key, says in FIELD_SAYS.items()
        if a.get(key) != b.get(key)
    ]


def _told(ask: Ask, value: object) -> str:
    if value is None or value == "" or value == []:
        return ask.say("nothing")
    if isinstance(value, bool):
        return ask.say("yes") if value else ask.say("no")
    if isinstance(value, Mapping):
        return " · ".join(map(str, value.values()))
    if isinstance(value, list):
        return ", ".join(_told(ask, v) for v in value)
    return str(value).replace("_", " ")
