"""Names of places, lists of words and numbers, as they stand inside a sentence."""

from __future__ import annotations

from collections.abc import Iterable

from rondel.model.repertoire import Region

_NO_ARTICLE = ("the ", "beside ", "between ", "behind ", "under ")
_PREPOSITIONS = ("above", "below", "beside", "between", "behind", "under")
_NUMBERS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)


def place(region: Region) -> str:
    """Return the region's name with its article: "the calves", but "beside the spine"."""
    name = region.name[:1].lower() + region.name[1:]
    return name if name.startswith(_NO_ARTICLE) else f"the {name}"


def thing(region: Region) -> str:
    """Return the region as a thing: "the calves", but "the place beside the spine"."""
    words = place(region)
    whole, comma, rest = words.partition(", ")
    if comma and rest.split()[0] in _PREPOSITIONS:
        words = whole
    return words if words.startswith("the ") else f"the place {words}"


def on(region: Region) -> str:
    """Return where work is done: "on the calves", but "beside the spine"."""
    words = place(region)
    return f"on {words}" if words.startswith("the ") else words


def listed(words: Iterable[str], last: str = "and") -> str:
    """Return "a, b and c"; `last` stands before the last word."""
    found = list(words)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} {last} {found[-1]}"


def counted(number: int) -> str:
    """Return a number as it begins a sentence: "Four", or "26" from thirteen on."""
    return (_NUMBERS[number] if number < len(_NUMBERS) else str(number)).capitalize()


def times(number: int) -> str:
    """Return how often in words: "once", "twice", "3 times"."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")
