"""The sentence of a brief as it is shown: its numbers, what is wrong with one, and its fold."""

from __future__ import annotations

from collections.abc import Mapping

from rondel.desk.asking import Ask
from rondel.desk.briefs import choices, plain_number, unsaid
from rondel.model.repertoire import Craft

#: The numbers of the sentence, from what to what (the last one as long as it may be written): what
#: is said where something else stands there. The brief is read with the same bounds.
BOUNDS: Mapping[str, tuple[int, int]] = {
    "minutes": (3, 120),
    "refrains": (1, 60),
    "open_minutes": (0, 119),
    "bpm": (30, 200),
    "seed": (0, 999_999_999),
}
WHOLES = ("refrains", "seed")
SAYS: Mapping[str, str] = {
    "minutes": (
        "A routine lasts from {low} to {high} minutes: write a number like that in place of "
        "“{word}”."
    ),
    "refrains": (
        "The refrain can return from {low} to {high} times: write a whole number like that in "
        "place of “{word}”, or nothing."
    ),
    "open_minutes": (
        "From {low} to {high} minutes can be left free for you: write a number like that in place "
        "of “{word}”, or nothing."
    ),
    "bpm": (
        "Music has from {low} to {high} beats a minute here: write a number like that in place of "
        "“{word}”, or nothing."
    ),
    "seed": (
        "The variation number is a whole number, 0 or more, of nine digits at most: write one in "
        "place of “{word}”, or nothing."
    ),
}
NO_MINUTES = "Write how many minutes the routine is to last: a number from {low} to {high}."
ALL_FREE = (
    "Of {minutes} minutes, “{word}” cannot be left free: write a smaller number there, or nothing."
)
#: What the wishes under the fold say where nobody has wished anything.
USUAL: Mapping[str, object] = {
    "cautions": [],
    "refrains": None,
    "positions": [],
    "open_minutes": 0,
    "bpm": None,
    "stretch": True,
    "trained": False,
    "names": "plain",
    "language": None,
    "seed": 1,
}
_LONGEST = 24  # letters of a number that is none, told again


def wrong_numbers(ask: Ask) -> dict[str, str]:
    """Return why numbers in the form will not do, a sentence for each field."""
    words = {name: _typed(ask, name) for name in BOUNDS}
    read = {name: plain_number(word) for name, word in words.items()}
    found = {}
    for name, (low, high) in BOUNDS.items():
        one, word = read[name], words[name]
        if not word and name != "minutes":
            continue
        if one is None or not low <= one <= high or (name in WHOLES and one.denominator > 1):
            says = SAYS[name] if word else NO_MINUTES
            found[name] = ask.say(says, low=low, high=high, word=_shown(word))
    free, minutes = read["open_minutes"], read["minutes"]
    if not found and free is not None and minutes is not None and free >= minutes:
        all_of, word = words["minutes"], words["open_minutes"]
        found["open_minutes"] = ask.say(ALL_FREE, minutes=all_of, word=_shown(word))
    return found


def sentence_values(
    ask: Ask, craft: Craft, fields: Mapping[str, object], wrong: Mapping[str, str]
) -> dict[str, object]:
    """Return all that the template of the sentence is given."""
    return {
        "fields": fields,
        "numbers": _number_words(ask, fields, wrong),
        "wrong": wrong,
        "opens_more": wishes_more(fields) or any(name != "minutes" for name in wrong),
        "choices": choices(ask, craft),
        "more": unsaid(fields),
    }


def _number_words(
    ask: Ask, fields: Mapping[str, object], wrong: Mapping[str, str]
) -> dict[str, str]:
    """Return what stands in the fields for numbers: where one will not do, what she typed."""
    found = {}
    for name in BOUNDS:
        value = fields.get(name)
        word = _exactly(value) if isinstance(value, int | float) else ""
        word = word.replace(".", ",") if ask.language == "de" else word
        found[name] = _shown(_typed(ask, name)) if name in wrong else word
    return found


def _exactly(value: float) -> str:
    """Return a number as the form reads it again, to the last digit."""
    return str(value) if isinstance(value, int) else f"{value:.9f}".rstrip("0").rstrip(".")


def wishes_more(fields: Mapping[str, object]) -> bool:
    """True where something under the fold is not as it usually is."""
    return any(
        (fields.get(name, usual) or None) != (usual or None) for name, usual in USUAL.items()
    )


def _typed(ask: Ask, name: str) -> str:
    return ask.word(name).strip()


def _shown(word: str) -> str:
    """Return what was typed, as it is told again: not at length, and without what is not seen."""
    seen = "".join(c for c in word if c.isprintable())
    return seen if len(seen) <= _LONGEST else f"{seen[:_LONGEST]}…"
