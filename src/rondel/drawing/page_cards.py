"""The words of the cards: one for consent and cautions, then one for each technique used."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.slip import refrain_name, return_times
from rondel.model.time import as_minutes
from rondel.model.words import (
    CONTACT_NAME,
    PRESSURE_SAYS,
    TRADE_NAME,
    Position,
    Role,
    Side,
)

#: Draws a technique: (technique, side, position) → a square drawing.
Still = Callable[[Technique, Side, Position], str]

#: The first card (sites and conditions of care: see docs/sources.md).
BEFORE_YOU_BEGIN = (
    (
        "Ask.",
        "What is welcome today, and where not? Agree on one word that stops everything, and stop "
        "at once when it is said. Nobody owes a reason. Ask again now and then.",
    ),
    (
        "Make it warm.",
        "A warm room, warm hands, a cover over whatever is not being worked on.",
    ),
    (
        "Oil.",
        "Ask about allergies, above all to nuts and to latex, and try a drop on the inside of the "
        "forearm a day before. Oil destroys latex within a minute.",
    ),
    (
        "Never.",
        "No weight on the spine, the front or side of the neck, the eyes, the tip of the "
        "breastbone, the last ribs or the hollow of the knee; nothing firm over the kidneys or on "
        "the belly; nothing held where you feel a pulse. No twisting or jerking of neck or back.",
    ),
    (
        "Not today.",
        "No massage with fever, a known or suspected blood clot, an illness others can catch, a "
        "bleeding disorder or blood thinners, brittle or broken bones, or soon after a heart "
        "attack, a stroke or an operation. Leave varicose veins, wounds, burns, bruises, infected "
        "skin and unexplained lumps alone.",
    ),
    (
        "Ask a clinician first",
        "when pregnant, with cancer, heart trouble, fragile skin, or pain nobody has explained.",
    ),
    (
        "",
        "It should never hurt. These cards are not medical advice and replace no clinician and no "
        "licensed practitioner; local rules come before them.",
    ),
)

LEVEL_SAYS = {
    1: "easy from the first day",
    2: "after a month of practice",
    3: "after a season of practice",
    4: "after a year of practice",
    5: "for well-practised hands",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsCard:
    """A card of words alone: parts with a short head, which may be empty."""

    name: str
    parts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TechniqueCard:
    """A technique as it is used in the routine. `beside` and `facts` are (word, what it is)."""

    technique: Technique
    picture: str
    beside: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]
    care: tuple[str, ...]


def caution_cards(routine: Routine, craft: Craft) -> tuple[WordsCard, ...]:
    """Return the first card, one more where the brief names cautions of its own, and the way back.

    The last is for who loses the thread (common practice, no source).
    """
    cards = [WordsCard(name="Before you begin", parts=BEFORE_YOU_BEGIN)]
    named = routine.brief.cautions if routine.brief else ()
    says = tuple(("", craft.caution(c).says) for c in named if craft.has_caution(c))
    if says:
        last = ("", "Where a clinician or local rules say otherwise, they come first.")
        cards.append(WordsCard(name="For this session", parts=(*says, last)))
    if routine.refrains:
        cards.append(WordsCard(name="If you lose the thread", parts=_way_back(routine, craft)))
    return tuple(cards)


def _way_back(routine: Routine, craft: Craft) -> tuple[tuple[str, str], ...]:
    name, times = refrain_name(routine, craft), return_times(routine)
    return (
        ("Once.", "Carry on without a word, from wherever your hands are."),
        ("Again.", f"Go to the refrain: begin {name}, and stay with it until it comes."),
        ("It comes", f"at {times}. From there you are home again, and go on together."),
    )


def technique_cards(routine: Routine, craft: Craft, still: Still) -> tuple[TechniqueCard, ...]:
    """Return a card for each technique of `routine` that `craft` knows, in order of use."""
    used: dict[str, list[Passage]] = {}
    for passage in routine.passages:
        if passage.technique is not None and craft.has_technique(passage.technique):
            used.setdefault(passage.technique, []).append(passage)
    return tuple(
        _technique_card(craft.technique(id), tuple(passages), routine, craft, still)
        for id, passages in used.items()
    )


def _technique_card(
    technique: Technique,
    passages: tuple[Passage, ...],
    routine: Routine,
    craft: Craft,
    still: Still,
) -> TechniqueCard:
    first = passages[0]
    region = craft.region(technique.region) if craft.has_region(technique.region) else None
    beside = (
        ("where", region.name if region else technique.region.replace("_", " ")),
        ("with", CONTACT_NAME[technique.contact]),
        ("stroke", _stroke_in_words(technique)),
        ("lying" if first.position is not Position.SEATED else "sitting", _lying(passages)),
        ("side", _sides(passages)),
    )
    facts = [
        ("pressure", _pressures(passages)),
        ("level", f"{technique.level} of 5, {LEVEL_SAYS[technique.level]}"),
        ("when", _times(passages, routine)),
    ]
    if any(p.stretch for p in passages):
        facts.append(("stretch", "a little above your level; may be skipped without regret"))
    return TechniqueCard(
        technique=technique,
        picture=still(technique, first.side, first.position),
        beside=beside,
        facts=tuple(facts),
        care=region.care if region else (),
    )


def _stroke_in_words(technique: Technique) -> str:
    trade = TRADE_NAME[technique.family]
    return str(technique.family) + (f" ({trade})" if trade != technique.family else "")


def _lying(passages: tuple[Passage, ...]) -> str:
    says = {
        Position.PRONE: "face down",
        Position.SUPINE: "face up",
        Position.SEATED: "upright, leaning on something soft",
        Position.SIDE: "on one side",
    }
    found = dict.fromkeys(says[p.position] for p in passages)
    return ", later ".join(found)


def _sides(passages: tuple[Passage, ...]) -> str:
    sides = tuple(dict.fromkeys(p.side for p in passages))
    one_sided = [s for s in sides if s.is_one_sided]
    if len(one_sided) == 2:
        return f"their {one_sided[0]}, then the same on their {one_sided[1]}"
    if one_sided:
        return f"their {one_sided[0]}"
    return "along the middle" if sides == (Side.CENTRE,) else "both sides together"


def _pressures(passages: tuple[Passage, ...]) -> str:
    levels = sorted({p.pressure for p in passages})
    says = [f"{n} of 5, {PRESSURE_SAYS[n]}" if n else PRESSURE_SAYS[n] for n in levels]
    return "; later ".join(says)


def _times(passages: tuple[Passage, ...], routine: Routine) -> str:
    """Return when a technique comes: at home in the refrain, and elsewhere."""
    groups = (
        ("", [p for p in passages if p.role is not Role.REFRAIN]),
        ("in the refrain, ", [p for p in passages if p.role is Role.REFRAIN]),
    )
    return "; ".join(f"{where}at {_starts(row, routine)}" for where, row in groups if row)


def _starts(passages: list[Passage], routine: Routine) -> str:
    starts = [as_minutes(routine.start_seconds(p)) for p in passages]
    most = 6
    more = len(starts) - most
    again = "once more" if more == 1 else f"{more} times more"
    return ", ".join(starts[:most]) + (f" and {again}" if more > 0 else "")


def card_told(card: TechniqueCard) -> str:
    """Return the drawing of `card` in words, for who hears it."""
    t = card.technique
    where = dict(card.beside)["where"]
    return f"{t.plain}: {CONTACT_NAME[t.contact]} on {where}, {t.family}"
