"""What a frame says, in the few words that are read at a glance."""

from __future__ import annotations

from rondel.drawing.page_words import halves_in
from rondel.model.names import (
    OPEN_NAME,
    POSITION_SAYS,
    SIDE_SAYS,
    names_shown,
    technique_names,
)
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.safety import CONSENT, DISCLAIMER, NOT_NOW, NOT_THERE, brief_cautions
from rondel.model.words import Contact, Intention, Role

CONTACT_SAYS = {
    Contact.PALM: "with open palms",
    Contact.FLAT_FINGERS: "with flat fingers",
    Contact.FINGERTIPS: "with the fingertips",
    Contact.HEEL: "with the heel of the hand",
    Contact.KNUCKLES: "with soft knuckles",
    Contact.FIST: "with a loose fist",
    Contact.FOREARM: "with the forearm",
    Contact.THUMB: "with the thumb",
}

ROLE_SAYS = {
    Role.ARRIVE: "arriving",
    Role.REFRAIN: "the refrain, home again",
    Role.WORK: "",
    Role.PEAK: "the peak",
    Role.REST: "let it sink in",
    Role.OPEN: "free for the two of you",
    Role.CLOSE: "closing",
}

INTENTION_SAYS = {
    Intention.SETTLE: "to settle",
    Intention.WAKE: "to wake up",
    Intention.SLEEP: "to fall asleep",
    Intention.CLOSENESS: "to be close",
}

OPEN_SAYS = (
    "Nobody leads now.",
    "Do what the two of you like best, or rest your hands and breathe.",
)
STRETCH_SAYS = "a stretch: skip it if you like"
#: The last words, and how long before the end they come.
CLOSING_SAYS = ("Stay a moment.", "Let your hands be the last to leave.")
CLOSING_SECONDS = 8.0

END_SAYS = "then stay, and rest"

#: Adults read calmly at about this many words in a minute (BBC subtitle guidelines, 160 to 180).
WORDS_A_MINUTE = 180


def passage_names(routine: Routine, passage: Passage, craft: Craft) -> tuple[str, str]:
    """Return the two names of a passage; an open one is the couple's own."""
    if passage.technique is None:
        return OPEN_NAME, ""
    return technique_names(craft.technique(passage.technique), names_shown(routine))


def next_says(routine: Routine, index: int, craft: Craft) -> str:
    """Return what follows the passage of the line at `index`."""
    line = routine.line
    if index + 1 >= len(line):
        return END_SAYS
    now, then = line[index], line[index + 1]
    turn = f", {POSITION_SAYS[then.position]}" if then.position is not now.position else ""
    if then.technique == now.technique and then.side is not now.side:
        return f"next: the same, {SIDE_SAYS[then.side]}{turn}"
    return f"next: {passage_names(routine, then, craft)[0]}{turn}"


def role_says(passage: Passage, on_top: str = "") -> str:
    """Return the small line above the name; empty for ordinary work.

    `on_top` names the quick strokes that share the bars of a peak.
    """
    if on_top:
        return f"{ROLE_SAYS[passage.role]}: {on_top} on top"
    return STRETCH_SAYS if passage.stretch else ROLE_SAYS[passage.role]


def countdown_says(seconds_left: float) -> str:
    """Return "in 0:12", in whole seconds begun: it says 0:01 until the change itself."""
    whole = max(int(-(-(seconds_left - 1e-6) // 1)), 0)
    return f"in {whole // 60}:{whole % 60:02d}"


def opening_cards(routine: Routine, craft: Craft) -> tuple[tuple[str, ...], ...]:
    """Return the sentences shown at the start, in cards: consent, when not, where not."""
    own = brief_cautions(routine.brief, craft)
    return ((CONSENT[0],), NOT_NOW, *((s,) for s in own), (NOT_THERE[0], DISCLAIMER))


def card_heads(routine: Routine, card: int) -> tuple[str, str]:
    """Return the title of a card of the opening, and the small line above it."""
    if card:
        return "Before you begin", "please read"
    minutes = routine.clock.total_seconds / 60
    return routine.title, f"{_length_says(minutes)} {INTENTION_SAYS[routine.intention]}"


def _length_says(minutes: float) -> str:
    """Return a length as the page says it, in figures: in halves, or about so many minutes."""
    halves = halves_in(minutes)
    if halves is None:
        return f"about {round(minutes)} minute{'' if round(minutes) == 1 else 's'}"
    return f"{halves / 2:g} minute{'' if halves == 2 else 's'}"


def reading_seconds(sentences: tuple[str, ...]) -> float:
    """Return how long a card must stand to be read calmly, at least five seconds."""
    words = sum(len(s.split()) for s in sentences)
    return max(5.0, words * 60 / WORDS_A_MINUTE)
