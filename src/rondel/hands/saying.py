"""The load of the hands in sentences: shares and comparisons only, never a verdict."""

from __future__ import annotations

from collections.abc import Iterator

from rondel.hands.load import HandLoad
from rondel.hands.work import Hand
from rondel.model.words import Contact

#: What these numbers are, and are not; printed with every one of them.
ABOUT = (
    "These shares are reckoned from the plan, and nobody has measured your hands: use them to "
    "compare one routine with another. They do not say what is good or bad for you.",
    "When your hands, wrists or arms hurt, tingle or go numb, stop, and ask a clinician.",
)

_NAMES = {
    Contact.PALM: "Palms",
    Contact.FLAT_FINGERS: "Flat fingers",
    Contact.FINGERTIPS: "Fingertips",
    Contact.HEEL: "Heels of the hands",
    Contact.KNUCKLES: "Knuckles",
    Contact.FIST: "Fists",
    Contact.FOREARM: "Forearms",
    Contact.THUMB: "Thumbs",
}
#: Differences in shares below this are not worth a sentence (our choice).
_WORTH_TELLING = 0.05
#: Totals nearer to each other than this are told as about the same (our choice).
_ABOUT_THE_SAME = 0.1


def name_of(contact: Contact) -> str:
    """Return the contact of both hands, as in "Thumbs"."""
    return _NAMES[contact]


def in_words(load: HandLoad) -> tuple[str, ...]:
    """Return sentences on one routine: what carries most, how even the hands are, what is open."""
    if not load.parts:
        return ("No hands are at work here: everything is left open.",)
    contact, share = load.shares()[0]
    told = [f"{name_of(contact)} carry {_percent(share)} of what your hands do here, the most."]
    left, right = load.share(hand=Hand.LEFT), load.share(hand=Hand.RIGHT)
    if abs(left - right) < _WORTH_TELLING:
        told.append("Your two hands carry about the same.")
    else:
        word = "left" if left > right else "right"
        told.append(f"Your {word} hand carries {_percent(max(left, right))} of it.")
    return (*told, *_unknown(load))


def beside(load: HandLoad, other: HandLoad) -> tuple[str, ...]:
    """Return sentences on how `load` compares with `other`."""
    contacts = dict.fromkeys(c for c, _ in (*load.shares(), *other.shares()))
    changes = [
        (other.share(contact=c) - load.share(contact=c), c)
        for c in contacts
        if abs(other.share(contact=c) - load.share(contact=c)) >= _WORTH_TELLING
    ]
    told = [
        f"{name_of(c)} carry {_percent(load.share(contact=c))} of what your hands do here; with "
        f"the other routine {_percent(other.share(contact=c))}."
        for _, c in sorted(changes, key=lambda change: (-abs(change[0]), change[1]))
    ]
    told = told or ["Both routines ask about the same of each part of your hands."]
    return (*told, *_totals(load, other), *_unknown(load))


def _totals(load: HandLoad, other: HandLoad) -> Iterator[str]:
    """Tell how all in all one compares with the other."""
    if not load.total or not other.total:
        return
    ratio = other.total / load.total
    if abs(ratio - 1) < _ABOUT_THE_SAME:
        yield "All in all, the other routine asks about as much of your hands."
    else:
        word = "more" if ratio > 1 else "less"
        yield f"All in all, the other routine asks {_percent(abs(ratio - 1))} {word} of your hands."


def _unknown(load: HandLoad) -> Iterator[str]:
    seconds = round(load.unknown_minutes * 60)
    if seconds:
        yield f"Not counted: {seconds} seconds for which nobody knows what your hands will do."


def _percent(share: float) -> str:
    return f"{round(100 * share)} percent"
