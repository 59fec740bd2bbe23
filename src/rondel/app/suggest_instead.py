"""What could stand in the place of one passage: techniques lawful there, the best first."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.app.lawful import lawful_in, minded_in
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import CONTACT_NAME
from rondel.planner.alternatives import Alternatives


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """A technique for the place of a passage, and in what it differs, in a few words."""

    technique: str
    name: str
    says: str


def suggest_instead(
    routine: Routine, passage: Passage, craft: Craft, *, most: int = 4
) -> tuple[Suggestion, ...]:
    """Return up to `most` techniques that could stand where `passage` stands, the best first.

    Each was put there, with its other side and its rest, and breaks no rule that must be kept. A
    routine without a brief, open bars and what is insisted on have none.
    """
    if routine.brief is None or passage.technique is None:
        return ()
    now = craft.technique(passage.technique)
    alternatives = Alternatives(routine, craft, lawful_in(craft), minded_in(craft))
    found = alternatives.instead_of(passage.id, most=most)
    suggestions = []
    for instead in found:
        other = next(p for p in instead.other if p.technique is not None)
        assert other.technique is not None
        technique = craft.technique(other.technique)
        suggestions.append(
            Suggestion(
                technique=technique.id,
                name=technique.plain,
                says=_differs(now, technique, other.pressure - passage.pressure, craft),
            )
        )
    return tuple(suggestions)


def _differs(now: Technique, other: Technique, deeper: int, craft: Craft) -> str:
    """Return how `other` differs from `now`: depth, ease, place and hands."""
    depth = "as deep" if not deeper else "deeper" if deeper > 0 else "lighter"
    parts = [depth]
    if other.level != now.level:
        parts.append("easier to learn" if other.level < now.level else "harder to learn")
    if other.region != now.region:
        parts.append(craft.region(other.region).name)
    if other.contact is not now.contact:
        parts.append(f"with the {CONTACT_NAME[other.contact]}")
    return ", ".join(parts)
