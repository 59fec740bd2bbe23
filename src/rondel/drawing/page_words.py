"""The words of a page: its sentence under the title, names of passages, cautions, the whole told.

All in the teacher's plain words; nothing here knows where the words will stand.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from rondel.model.brief import Brief
from rondel.model.names import SIDE_SAYS, lying_says, names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.safety import (
    CONSENT,
    DISCLAIMER,
    NOT_NOW,
    NOT_THERE,
    WHILE,
    brief_cautions,
)
from rondel.model.slip import slip_plan
from rondel.model.time import as_minutes
from rondel.model.words import (
    CONTACT_NAME,
    PRESSURE_SAYS,
    Intention,
    Layer,
    NamesShown,
    Role,
)

_UNITS = (
    *("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    *("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen"),
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")

INTENTION_SAYS = {
    Intention.SETTLE: "to settle",
    Intention.WAKE: "to wake the body",
    Intention.SLEEP: "towards sleep",
    Intention.CLOSENESS: "to be close",
}
LEVEL_SAYS = {
    1: "for two who are new to this",
    2: "for two who have practised a month",
    3: "for two who have practised a season",
    4: "for two who have practised a year",
    5: "for two who have practised for years",
}


def number_in_words(count: int) -> str:
    """Return `count` from 0 to 199 in words.

    >>> number_in_words(15), number_in_words(42), number_in_words(120)
    ('fifteen', 'forty-two', 'a hundred and twenty')
    """
    if count >= 100:
        rest = count - 100
        return "a hundred" + (f" and {number_in_words(rest)}" if rest else "")
    if count < 20:
        return _UNITS[count]
    tens, units = divmod(count, 10)
    return _TENS[tens] + (f"-{_UNITS[units]}" if units else "")


def halves_in(minutes: float) -> int | None:
    """Return how many half minutes a length is, as nearly as one says it; None between two."""
    halves = round(minutes * 2)
    return halves if abs(minutes * 2 - halves) <= 0.1 else None


def length_in_words(minutes: float) -> str:
    """Return a length as one says it: "fifteen minutes", "an hour", "seven and a half minutes"."""
    halves = halves_in(minutes)
    if halves is None:
        return f"about {number_in_words(round(minutes))} minutes"
    whole, half = divmod(halves, 2)
    if (whole, half) == (60, 0):
        return "an hour"
    if (whole, half) == (120, 0):
        return "two hours"
    return f"{number_in_words(whole)}{' and a half' if half else ''} minutes"


def told(parts: list[str]) -> str:
    """Return parts as a spoken list: "a", "a or b", "a, b or c"."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} or {parts[-1]}"


def sentence_under_title(routine: Routine, craft: Craft) -> str:
    """Return the sentence under the title: how long, what for, for whom, what is spared."""
    brief = routine.brief
    first = length_in_words(routine.clock.total_seconds / 60)
    if brief is None:
        return first
    parts = [f"{first} {INTENTION_SAYS[brief.intention]}"]
    parts.append("for trained hands" if brief.trained else LEVEL_SAYS[brief.level])
    if brief.spare:
        parts.append(f"no {told([_plural(CONTACT_NAME[c]) for c in brief.spare])}")
    if brief.avoid_regions:
        names = [craft.region(r).name for r in brief.avoid_regions if craft.has_region(r)]
        if names:
            parts.append(f"leaving out {told(names)}")
    return " · ".join(parts)


def _plural(contact: str) -> str:
    irregular = {"heel of the hand": "heels of the hand"}
    return irregular.get(contact, contact if contact.endswith("s") else f"{contact}s")


def foot_sentences(brief: Brief | None, craft: Craft) -> tuple[str, ...]:
    """Return the paragraphs at the foot: consent, when and where not, the brief's own cautions."""
    everyone = (
        " ".join((CONSENT[0], WHILE[0])),
        " ".join((*NOT_NOW, *NOT_THERE, DISCLAIMER)),
    )
    return (*everyone, *brief_cautions(brief, craft))


@dataclass(frozen=True, slots=True, kw_only=True)
class Name:
    """The words that stand where a passage starts: its name, and a quieter remark after it."""

    passage: Passage
    name: str
    remark: str = ""


def name_of(passage: Passage, craft: Craft, shown: NamesShown) -> str:
    """Return the name that stands at `passage`; of both names, the plain one."""
    return passage_name(passage, craft, NamesShown.PLAIN if shown is NamesShown.BOTH else shown)


def names_on_page(routine: Routine, craft: Craft) -> tuple[Name, ...]:
    """Return a name for every passage that does not simply go on with the one before.

    The second side of a pair needs none: its height on the line says it. Two layers of a peak
    share one name. The position is told at the start and wherever it changes.
    """
    shown = names_shown(routine)
    over = {p.start_bar: p for p in routine.passages if p.layer is Layer.OVER}
    found = []
    for before, passage in pairwise((None, *routine.line)):
        assert passage is not None
        goes_on = (
            before is not None
            and before.technique == passage.technique
            and (before.role is Role.REFRAIN) == (passage.role is Role.REFRAIN)
            and (before.role is Role.PEAK or passage.role is not Role.PEAK)
            and before.layer is passage.layer
            and before.position is passage.position
        )
        if goes_on:
            continue
        above = over.get(passage.start_bar)
        found.append(
            Name(
                passage=passage,
                name=name_of(passage, craft, shown)
                + (f" · over it {name_of(above, craft, shown)}" if above else ""),
                remark=_remark(passage, before, craft, shown),
            )
        )
    return tuple(found)


def _remark(passage: Passage, before: Passage | None, craft: Craft, shown: NamesShown) -> str:
    parts = []
    if shown is NamesShown.BOTH and passage.technique and craft.has_technique(passage.technique):
        parts.append(craft.technique(passage.technique).anatomical)
    if before is None or before.position is not passage.position:
        parts.append(lying_says(passage.position))
    if passage.stretch:
        parts.append("may be skipped")
    if passage.kept:
        parts.append("◊")
    return " · ".join(parts)


def passage_told(passage: Passage, routine: Routine, craft: Craft) -> str:
    """Return one sentence on a passage, for who hears the page instead of seeing it."""
    name = name_of(passage, craft, NamesShown.PLAIN)
    parts = [f"{as_minutes(routine.start_seconds(passage))} {name}"]
    if passage.technique is None:
        parts.append("free for a technique of your own")
    else:
        parts.append(SIDE_SAYS[passage.side])
        says = PRESSURE_SAYS[passage.pressure]
        parts.append(f"pressure {passage.pressure} of 5, {says}" if passage.pressure else says)
    role = {Role.REFRAIN: "the refrain", Role.PEAK: "the peak", Role.REST: "a rest"}
    if passage.role in role:
        parts.append(role[passage.role])
    if passage.layer is Layer.OVER:
        parts.append("over the slow strokes")
    if passage.stretch:
        parts.append("may be skipped")
    if passage.kept:
        parts.append("kept as asked for")
    return ", ".join(parts)


def page_told(routine: Routine, craft: Craft) -> str:
    """Return the whole page in words."""
    rows = [passage_told(p, routine, craft) for p in routine.passages]
    end = as_minutes(routine.clock.total_seconds)
    slip = slip_plan(routine, craft)
    whole = f"{sentence_under_title(routine, craft)}. {'. '.join(rows)}. Ends at {end}."
    return f"{whole} {slip}".rstrip()
